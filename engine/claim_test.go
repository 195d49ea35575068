package engine_test

import (
	"os"
	"testing"
	"testing/fstest"

	"whystone/engine"
	"whystone/kb/load"
)

// A colour other than the demanded one tells against a claim also where no sheet says anything of that colour.
func TestClaimOfAColourThatNoSheetSpeaksOf(t *testing.T) {
	house := fstest.MapFS{"policy.yaml": {Data: []byte("format: 1\npolicy:\n  claims:\n    red crystal: {node: grown-diamond, colour: [red]}\n")}}
	rs, l := load.Load(t.Context(), []load.Layer{{Name: "small", FS: os.DirFS("../kb/load/testdata/small")}, {Name: "house", FS: house}})
	if rs == nil {
		t.Fatal(l[0].Error())
	}
	for _, c := range []struct{ colour, want string }{{"blue", "falls"}, {"red", "open"}} {
		text := "format: 1\ncase: A-1\ntaken: 2031-04-12\nclaim: red crystal\nreadings: {specific_gravity: 3.52, thermal_probe: diamond range, colour: " + c.colour + "}\n"
		j := engine.Prepare(rs).NewJudge()
		for n := range 2 { // memory that is used again must not matter
			got := j.Explain(readCase(rs, text), moment).Output
			if got.Claim.Answer != c.want || *got.Claim.GroupAnswer != "open" {
				t.Errorf("%s, case %d: the claim is %q and its material %q; %q and \"open\" are wanted", c.colour, n, got.Claim.Answer, *got.Claim.GroupAnswer, c.want)
			}
		}
	}
}
