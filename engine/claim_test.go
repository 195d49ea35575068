package engine_test

import (
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/phrase"
	"whystone/kb/load"
)

// A colour other than the demanded one tells against a claim also where no sheet says anything of that colour.
func TestClaimOfAColourThatNoSheetSpeaksOf(t *testing.T) {
	house := fstest.MapFS{"policy.yaml": {Data: []byte("format: 1\npolicy:\n  claims:\n    red crystal: {node: " +
		"grown-diamond, colour: [red]}\n")}}
	rs, l := load.Load(t.Context(), []load.Layer{{Name: "small", FS: os.DirFS("../kb/load/testdata/small")},
		{Name: "house", FS: house}})
	if rs == nil {
		t.Fatal(l[0].Error())
	}
	for _, c := range []struct{ colour, want string }{{"blue", "falls"}, {"red", "open"}} {
		text := "format: 1\ncase: A-1\ntaken: 2031-04-12\nclaim: red crystal\nreadings: {specific_gravity: 3.52, " +
			"thermal_probe: diamond range, colour: " + c.colour + "}\n"
		j := engine.Prepare(rs).NewJudge()
		for n := range 2 { // memory that is used again must not matter
			got := j.Explain(readCase(rs, text), moment).Output
			if got.Claim.Answer != c.want || *got.Claim.GroupAnswer != "open" {
				t.Errorf("%s, case %d: the claim is %q and its material %q; %q and \"open\" are wanted", c.colour, n,
					got.Claim.Answer, *got.Claim.GroupAnswer, c.want)
			}
		}
	}
}

// TestUnknownClaims: of a word that nobody knows a slip of the pen is asked after, and what stands beside a weight; not
// what is only like it, as one stone's name is like another's.
func TestUnknownClaims(t *testing.T) {
	rs := enginetest.Ruleset(t)
	j := engine.Prepare(rs).NewJudge()
	for claim, want := range map[string]string{"dimond": "diamond", "saphire": "sapphire", "1 ct diamond": "diamond",
		"0.5ct dimond": "diamond", "two carat topaz": "", "opal": "", "moonstone": "", "white gold": "", "crystal": "",
		"5": "", "ct": ""} {
		got := ""
		for _, n := range j.Explain(readCase(rs, "format: 1\ncase: A-1\ntaken: 2031-04-12\nclaim: "+
			strconv.Quote(claim)+"\nreadings: {specific_gravity: 3.52}\n"), moment).Cautions {
			if _, meant, ok := strings.Cut(n.Says, `Is "`); ok && n.Code == phrase.ClaimUnknown {
				got, _, _ = strings.Cut(meant, `"`)
			}
		}
		if got != want {
			t.Errorf("%q: %q is asked after, and %q is wanted", claim, got, want)
		}
	}
}

// TestOneReadingAgainst: a claim falls by weight on two readings that each speak against it. What nearly every stone
// shows alike, or what fits the claim, is no second one (common practice: one strange figure is taken again).
func TestOneReadingAgainst(t *testing.T) {
	gem := load.Layer{Name: "gem-desk", FS: os.DirFS("../rulesets/gem-desk")}
	house := load.Layer{Name: "house", FS: fstest.MapFS{"rules.yaml": {Data: []byte("format: 1\nrules:\n" +
		"  - rule: light\n    says: No diamond.\n    if: ri < 2.3 and electrical_conduction == \"does not conduct\"\n" +
		"    family: refraction\n    excludes: [diamond]\n    source: drawn\n")}}}
	for _, c := range []struct {
		above                 []load.Layer
		claim, readings, want string
	}{
		{nil, "diamond", "ri: 1.54", "open"},
		{[]load.Layer{house}, "diamond", "ri: 1.54, electrical_conduction: does not conduct", "open"},
		{nil, "diamond", "ri: 1.54, electrical_conduction: does not conduct", "open"},
		{nil, "diamond", "specific_gravity: 5.8, electrical_conduction: does not conduct", "open"},
		{nil, "diamond", "specific_gravity: 5.8, thermal_probe: below diamond range", "falls"},
		{[]load.Layer{gem}, "ruby", "ri: 1.718", "open"},
		{[]load.Layer{gem}, "ruby", "specific_gravity: {value: 3.60, uncertainty: 0.03}, " +
			"size_density: {value: 3.9, uncertainty: 0.5}", "open"},
		{[]load.Layer{gem}, "ruby", "ri: 1.718, colour: red", "open"},
		{[]load.Layer{gem}, "ruby", "ri: 1.718, magnetism: none", "open"},
		{[]load.Layer{gem}, "ruby", "ri: 1.718, colour: blue", "falls"},
	} {
		rs := enginetest.Ruleset(t, c.above...)
		got := engine.Prepare(rs).NewJudge().Judge(readCase(rs, "format: 1\ncase: A-1\ntaken: 2031-04-12\nclaim: "+c.claim+
			"\nreadings: {"+c.readings+"}\n"), moment)
		if got.Claim.Answer != c.want {
			t.Errorf("%s, %s: the claim is %q, want %q", c.claim, c.readings, got.Claim.Answer, c.want)
		}
	}
}
