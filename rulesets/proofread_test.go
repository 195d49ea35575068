package rulesets_test

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb"
	"whystone/kb/proofread"
)

// TestProofread: what is shipped, and the example of a house above it, has no finding but notes and those accepted on the
// sheets. The notes and what is accepted stand in a golden file, so that a new one is seen; WHYSTONE_UPDATE=1 writes it anew.
func TestProofread(t *testing.T) {
	lower := kb.Layer{Name: "diamond-desk", FS: os.DirFS("diamond-desk")}
	upper := kb.Layer{Name: "house-example", FS: os.DirFS("house-example")}
	for name, layers := range map[string][]kb.Layer{"diamond-desk": {lower}, "house-example": {lower, upper}} {
		t.Run(name, func(t *testing.T) {
			r := proofreading(t, layers)
			for _, f := range r.Open(false) {
				t.Error(f.Error())
			}
			checkGolden(t, "testdata/proofread-"+name+".golden", listed(r))
		})
	}
}

func proofreading(t *testing.T, layers []kb.Layer) *proofread.Report {
	t.Helper()
	rs, out := kb.Load(context.Background(), layers)
	if rs == nil {
		t.Fatal(out)
	}
	r, err := proofread.Run(context.Background(), rs, proofread.Options{On: judgedOn})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// listed is a line a finding, without line numbers: an edit elsewhere in a file is no new finding.
func listed(r *proofread.Report) string {
	var b strings.Builder
	for _, f := range r.Findings {
		if f.Accepted != nil {
			b.WriteString("accepted until " + f.Accepted.Until.Format("2006-01-02") + ", " + f.Accepted.Because + ": ")
		}
		b.WriteString(f.Severity.String() + " [" + f.Code + "] " + f.Summary + "\n")
	}
	return b.String()
}

func checkGolden(t *testing.T, name, got string) {
	t.Helper()
	if os.Getenv("WHYSTONE_UPDATE") == "1" {
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	golden, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err, "; write it with WHYSTONE_UPDATE=1")
	}
	if d := cmp.Diff(string(golden), got); d != "" {
		t.Error(d)
	}
}
