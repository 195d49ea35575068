package engine_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb/load"
)

// Whatever a case holds, it is judged soon: the search for what to repeat is bounded.
func TestManyReadingsThatContradictEndSoon(t *testing.T) {
	rs, l := load.Load(t.Context(), []load.Layer{{Name: "small", FS: os.DirFS("../kb/load/testdata/small")}})
	if rs == nil {
		t.Fatal(l[0].Error())
	}
	var text strings.Builder
	text.WriteString("format: 1\ncase: A-1\ntaken: 2031-04-12\nreadings:\n")
	for _, o := range []struct {
		name     string
		from, by float64
	}{{"ri", 1.4, 0.004}, {"specific_gravity", 2, 0.05}, {"birefringence", 0, 0.003}} {
		text.WriteString("  " + o.name + ": [")
		for i := range 100 {
			fmt.Fprintf(&text, "{value: %.4f, where: p%d}, ", o.from+float64(i)*o.by, i)
		}
		text.WriteString("]\n")
	}
	c := readCase(rs, text.String())
	if c == nil {
		t.Fatal("the case can't be read")
	}
	begun := time.Now()
	out := engine.Prepare(rs).NewJudge().Explain(c, moment).Output
	if took := time.Since(begun); out.Verdict != "contradictory" || took > 10*time.Second {
		t.Errorf("%s after %s", out.Verdict, took)
	}
}
