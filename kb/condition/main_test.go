package condition

import (
	"flag"
	"os"
	"testing"
)

// TestMain is the hostile corpus when the environment asks for it, see TestHostileCorpus; else the tests, with more
// draws a property than rapid takes by itself, as a draw costs little here.
func TestMain(m *testing.M) {
	if os.Getenv(hostileVariable) != "" {
		os.Exit(hostileChild(os.Stdout))
	}
	flag.Parse()
	asked := false
	flag.Visit(func(f *flag.Flag) { asked = asked || f.Name == "rapid.checks" })
	if !asked {
		if err := flag.Set("rapid.checks", "400"); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}
