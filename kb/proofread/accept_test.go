package proofread

import (
	"os"
	"slices"
	"testing"
	"testing/fstest"

	"whystone/kb/diag"
	"whystone/kb/load"
)

// TestIdleBelow: an acceptance that accepts nothing is told of the topmost layer alone. What lies above may do away with
// the finding, and nobody is told to edit a file that is not theirs.
func TestIdleBelow(t *testing.T) {
	idle := fstest.MapFS{"idle.yaml": {Data: []byte("format: 1\nrules:\n  - {rule: dense, says: x, if: ri > 1.7, " +
		"cautions: x, source: x, accepts: [{finding: never-holds, because: x, until: 2032-01-01}], " +
		"examples: [{readings: {ri: 1.75}, is: holds}, {readings: {ri: 1.6}, is: fails}]}\n")}}
	none := fstest.MapFS{"none.yaml": {Data: []byte("format: 1\n")}}
	base, house := load.Layer{Name: "base", FS: os.DirFS("testdata/base")}, load.Layer{Name: "house", FS: idle}
	for _, x := range []struct {
		layers []load.Layer
		told   bool
	}{{[]load.Layer{base, house}, true}, {[]load.Layer{base, house, {Name: "desk", FS: none}}, false}} {
		found := diagnostics(report(t, loaded(t, x.layers...)))
		told := slices.ContainsFunc(found, func(d diag.Diagnostic) bool { return d.Code == acceptanceIdle })
		if told != x.told {
			t.Errorf("%d layers: told %v: %s", len(x.layers), told, written(t, found))
		}
	}
}
