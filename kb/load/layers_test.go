package load_test

import (
	"io/fs"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
)

// TestReplacesAndRetires: a house lays its own over the shipped, each time with the reason.
func TestReplacesAndRetires(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
rules:
  - {rule: over-the-limit, says: Ours., if: ri > 1.8, supports: {materials: [diamond], ratio: 2}, replaces: over-the-limit, because: Our scale ends there.}
  - {rule: fog-tells-little, says: Ours too., sets_aside: breath_fog, replaces: fog-is-folklore, because: Ours says it better.}
tests:
  - {test: thermal-pen, name: thermal pen, harm: none, source: x, replaces: probe, because: We have another.,
     yields: {thermal_probe: {kind: choice, family: thermal, blunder: 0.05, choices: [diamond range, below diamond range, unsteady]}}}
materials:
  - {material: rock-crystal, under: quartz, name: quartz crystal, origin: natural, replaces: rock-crystal, because: So we call it.}
retires:
  - {rule: wet-stone, because: We dry stones.}
  - {rule: dense-for-its-index, because: We have no such glass.}
  - {material: synthetic-quartz, because: We never see any.}
  - {test: goniometer, because: Sold.}
`})
	if d := cmp.Diff([]string{"doubled-edges", "fog-tells-little", "over-the-limit"}, rs.RuleIDs()); d != "" {
		t.Error(d)
	}
	rule := rs.Rule("fog-tells-little")
	if o := rule.Place; o.Layer != "house" || o.Replaces != "fog-is-folklore" || o.Because != "Ours says it better." ||
		o.Span.String() != "house/house.yaml:4:12" {
		t.Errorf("it comes from %+v", o)
	}
	if rs.Rule("over-the-limit").Says != "Ours." || rs.Rule("doubled-edges").Place.Layer != "small" {
		t.Error("a rule comes from the wrong layer")
	}
	if rs.Test("probe") != nil || rs.Test("goniometer") != nil ||
		rs.Vocabulary.Observable("thermal_probe").Test != "thermal-pen" {
		t.Error("a test that is gone is there")
	}
	if rs.Node("rock-crystal").Name != "quartz crystal" || rs.Node("synthetic-quartz") != nil {
		t.Error("a material that is gone is there")
	}
	var retired []string
	for _, r := range rs.Retired {
		retired = append(retired, string(r.Kind)+" "+r.ID+" by "+r.Layer+": "+r.Because)
	}
	want := []string{"material synthetic-quartz by house: We never see any.",
		"rule dense-for-its-index by house: We have no such glass.", "rule wet-stone by house: We dry stones.",
		"test goniometer by house: Sold."}
	if d := cmp.Diff(want, retired); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"small", "house"}, rs.Layers); d != "" {
		t.Error(d)
	}
}

// TestIDsAreNeverReused: what was replaced or retired keeps its id for ever, in all layers above.
func TestIDsAreNeverReused(t *testing.T) {
	house := fstest.MapFS{"house.yaml": {Data: []byte(`format: 1
rules:
  - {rule: dry-first, says: x, cautions: x, replaces: wet-stone, because: y}
retires: [{rule: fog-is-folklore, because: y}]
`)}}
	for _, id := range []string{"wet-stone", "fog-is-folklore"} {
		desk := fstest.MapFS{"desk.yaml": {Data: []byte("format: 1\nrules: [{rule: " + id +
			", says: x, cautions: x}]\n")}}
		rs, out := load.Load(t.Context(), []load.Layer{{"small", loadtest.Small(t, nil)}, {"house", house},
			{"desk", desk}})
		if rs != nil || len(out) != 1 || out[0].Code != "duplicate-id" ||
			!strings.Contains(out[0].Summary, "never given out again") {
			t.Errorf("%s is given out again: %v", id, out)
		}
	}
	same := fstest.MapFS{"house.yaml": {Data: []byte(`format: 1
rules:
  - {rule: aa-dry-first, says: x, cautions: x, replaces: wet-stone, because: y}
  - {rule: wet-stone, says: x, cautions: x}
`)}}
	if rs, out := load.Load(t.Context(), []load.Layer{{"small", loadtest.Small(t, nil)}, {"house", same}}); rs != nil ||
		len(out) != 1 || out[0].Code != "duplicate-id" {
		t.Errorf("in the layer that replaced it: %v", out)
	}
}

// TestPolicyLayers: the policy is merged key by key, lists are replaced whole, and what a layer leaves out stays.
func TestPolicyLayers(t *testing.T) {
	below := loadtest.Must(t, nil).Policy
	above := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
policy:
  currency: GBP
  strength: {weak: 5, very weak: 1.5}
  scale: [{from: 1, says: slight}]
  claims: {rhinestone: {origin: imitation}, strass: {node: lead-glass}}
  priors: {lead-glass: 7}
  instruments: [{instrument: balance-a, test: weighing, uncertainty: 0.008}]
`}).Policy
	if above.Currency != "GBP" || above.Zone.String() != "Europe/Dublin" || above.Misfit != below.Misfit ||
		len(above.Required) != 2 {
		t.Errorf("%+v", above)
	}
	if d := cmp.Diff(map[string]float64{"weak": 5, "very weak": 1.5, "moderate": 30, "strong": 3000,
		"very strong": 30000}, above.Strength); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]kb.Band{{From: 1, Says: "slight"}}, above.Scale); d != "" {
		t.Error(d)
	}
	var claims []string
	for _, c := range above.Claims {
		claims = append(claims, c.Word+": "+c.Node+" "+string(c.Origin))
	}
	if d := cmp.Diff([]string{"diamond: natural-diamond ", "rhinestone: glass imitation", "strass: lead-glass "},
		claims); d != "" {
		t.Error(d)
	}
	if above.Priors["lead-glass"] != 7 || len(below.Priors) != 0 || len(above.Instruments) != 1 {
		t.Error("priors or instruments")
	}
}

// TestPolicyInSeveralFiles: files of one layer may share out the policy, but not give one key twice: no file has
// precedence.
func TestPolicyInSeveralFiles(t *testing.T) {
	a, b := "format: 1\npolicy: {currency: GBP, priors: {lead-glass: 7}}\n",
		"format: 1\npolicy: {misfit: 5, priors: {ordinary-glass: 8}}\n"
	one, other := loadtest.Must(t, map[string]string{"a.yaml": a, "b.yaml": b}),
		loadtest.Must(t, map[string]string{"a.yaml": b, "b.yaml": a})
	if one.Digest != other.Digest || one.Policy.Misfit != 5 || one.Policy.Currency != "GBP" ||
		len(one.Policy.Priors) != 2 {
		t.Error("the policy depends on which file says what")
	}
	rs, out := loadtest.House(t, map[string]string{"a.yaml": a,
		"b.yaml": "format: 1\npolicy: {currency: EUR, priors: {lead-glass: 8}}\n"})
	if rs != nil || len(out) != 2 || out[0].Code != "duplicate-key" || out[1].Code != "duplicate-key" ||
		out[0].Related[0].Span.String() != "house/a.yaml:2:10" {
		t.Error(loadtest.Render(t, out))
	}
}

// TestWhatIsRead: YAML files in all folders, but neither hidden ones nor what editors leave behind.
func TestWhatIsRead(t *testing.T) {
	rule := func(id string) string { return "format: 1\nrules: [{rule: " + id + ", says: x, cautions: x}]\n" }
	broken := "rules: ["
	rs := loadtest.Must(t, map[string]string{"deep/er/a.yml": rule("a"), "b.yaml": rule("b") + "---\n" + rule("c"),
		".hidden.yaml": broken, ".git/d.yaml": broken, "deep/d.YAML": rule("d"), "#b.yaml#": broken, "#b.yaml": broken,
		"b.yaml~": broken, "b.yaml.bak": broken, "notes.txt": broken, "comment.yaml": "# nothing\n"})
	for _, id := range []string{"a", "b", "c", "d"} {
		if rs.Rule(id) == nil {
			t.Errorf("the rule %s was not read", id)
		}
	}
	for name, read := range map[string]bool{"a.yaml": true, "a/b.yml": true, "a/B.YAML": true, "a.json": false,
		".a.yaml": false, "a/#b.yaml": false, "yaml": false} {
		if load.IsRulesetFile(name) != read {
			t.Errorf("%s is read: %t", name, !read)
		}
	}
}

// unreadable is a layer in which one file can't be read.
type unreadable struct{ fstest.MapFS }

func (u unreadable) Open(name string) (fs.File, error) {
	if name == "rules.yaml" {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrPermission}
	}
	return u.MapFS.Open(name)
}

func TestUnreadableLayers(t *testing.T) {
	long := strings.Repeat("# a long comment\n", load.MaxFileBytes/17+1)
	tests := map[string]struct {
		layer fs.FS
		says  string
	}{
		"empty":        {fstest.MapFS{}, "holds no YAML file"},
		"other files":  {fstest.MapFS{"notes.txt": {}}, "holds no YAML file"},
		"no access":    {unreadable{loadtest.Small(t, nil)}, "rules.yaml"},
		"too long":     {fstest.MapFS{"a.yaml": {Data: []byte(long)}}, "longer than"},
		"no folder":    {missing{}, "can't be read"},
		"no policy":    {fstest.MapFS{"a.yaml": {Data: []byte("format: 1\nrules: []\n")}}, "no layer has a policy"},
		"no materials": {loadtest.Small(t, map[string]string{"materials.yaml": ""}), "no materials"},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			rs, out := load.Load(t.Context(), []load.Layer{{"layer", tt.layer}})
			if rs != nil || !slices.ContainsFunc(out, func(d diag.Diagnostic) bool {
				return strings.Contains(d.Summary,
					tt.says)
			}) {
				t.Errorf("%v", out)
			}
		})
	}
}

type missing struct{}

func (missing) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
}
