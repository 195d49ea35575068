package rulesets_test

import (
	"context"
	"os"
	"strings"
	"testing"

	"whystone/kb/kbtest"
	"whystone/kb/load"
	"whystone/kb/proofread"
)

// TestProofread: what is shipped, and the example of a house above it, has no finding but notes and those accepted on
// the sheets. The notes and what is accepted stand in a golden file, so that a new one is seen; WHYSTONE_UPDATE=1
// writes it anew.
func TestProofread(t *testing.T) {
	lower := load.Layer{Name: "diamond-desk", FS: os.DirFS("diamond-desk")}
	upper := load.Layer{Name: "house-example", FS: os.DirFS("house-example")}
	for name, layers := range map[string][]load.Layer{"diamond-desk": {lower}, "house-example": {lower, upper},
		"gem-desk": gemLayers()} {
		t.Run(name, func(t *testing.T) {
			r := proofreading(t, layers)
			for _, f := range r.Open(false) {
				t.Error(f.Error())
			}
			kbtest.Golden(t, "testdata/proofread-"+name+".golden", listed(r))
		})
	}
}

func proofreading(t *testing.T, layers []load.Layer) *proofread.Report {
	t.Helper()
	rs, out := load.Load(context.Background(), layers)
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
		b.WriteString(f.Severity.String() + " [" + string(f.Code) + "] " + f.Summary + "\n")
	}
	return b.String()
}
