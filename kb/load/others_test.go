package load_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"whystone/kb"
	"whystone/kb/load/loadtest"

	"github.com/google/go-cmp/cmp"
)

const beryls = `format: 1
policy: {priors: {beryl: 500}, claims: {sea stone: {node: aquamarine, colour: [blue]}}}
tests:
  - test: eye-by-daylight
    name: looking at it by daylight
    harm: none
    source: invented
    replaces: eye
    because: It has more colours.
    yields:
      colour: {kind: choice, family: absorption, blunder: 0.02, choices: {colourless: , blue: , green: , red: , bluish: {covers: [blue, green]}}}
materials:
  - group: beryl
    under: stones
    name: beryl
    nameable: true
    seen_at_counter: common
    grown: not listed
    in_verdicts: [{colour: [bluish], says: aquamarine or emerald}, {colour: red, says: red beryl}, {says: some beryl}]
    properties:
      ri: {range: [1.56, 1.6], source: from memory}
      specific_gravity: {range: [2.66, 2.9], source: from memory}
    others: [{origin: laboratory-grown, seen_at_counter: rare}, {origin: natural}]
  - {material: aquamarine, under: beryl, name: aquamarine, origin: natural, in_verdicts: [{colour: blue, says: aquamarine}]}
`

// TestOthers: the members of a group that no sheet is of are leaves, one an origin, that have what the group says. They
// have no name of their own, and what the policy says of the group is not said of them.
func TestOthers(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": beryls})
	beryl := rs.Node("beryl")
	if d := cmp.Diff([]string{"aquamarine", "beryl:laboratory-grown", "beryl:natural"},
		loadtest.Names(rs, beryl.Leaves)); d != "" {
		t.Error(d)
	}
	if len(rs.Node("stones").Leaves) != len(rs.Leaves) || len(beryl.Kids) != 1 || len(beryl.Others) != 2 {
		t.Errorf("%+v", beryl)
	}
	for i, m := range rs.Leaves {
		if m.Index != i || i > 0 && rs.Leaves[i-1].ID >= m.ID {
			t.Errorf("%s is number %d", m.ID, m.Index)
		}
	}
	grown := beryl.Others[0]
	if grown != rs.Leaves[grown.Index] || !grown.Other || grown.Nameable || grown.Group || grown.Parent != beryl ||
		grown.Depth != beryl.Depth+1 ||
		grown.ID != "beryl:laboratory-grown" || grown.Name != "other laboratory-grown beryl" ||
		grown.Origin != "laboratory-grown" || grown.Counter != "rare" {
		t.Errorf("%+v", grown)
	}
	if d := cmp.Diff([]string{"beryl"}, grown.Path()); d != "" || grown.NameableAbove() != beryl {
		t.Error(d)
	}
	for name, r := range beryl.Ranges {
		if grown.Ranges[name] != r {
			t.Errorf("it has not the %s of its group", name)
		}
	}
	if rs.Node(grown.ID) != nil || rs.NodeOrWas(grown.ID) != nil || rs.Claim(grown.Name) != nil ||
		rs.Claim(grown.ID) != nil {
		t.Error("it can be named")
	}
	if got := grown.Place.Span.Text(); got != "{origin: laboratory-grown, seen_at_counter: rare}" ||
		grown.Place.Layer != "house" {
		t.Errorf("it stands at %s", got)
	}
	// Weights: 100 and 30 of the diamonds, 30 and 1 of the quartz, 30 of each glass; 500, 1 and 30 of beryl.
	priors, sum := rs.Priors(), 100.0+30+30+1+30+30+500+1+30
	for id, weight := range map[string]float64{"aquamarine": 500, "beryl:laboratory-grown": 1, "beryl:natural": 30} {
		if got := priors[leaf(rs, id).Index]; math.Abs(got-weight/sum*0.997) > 1e-12 {
			t.Errorf("%s has the prior %v", id, got)
		}
	}
}

func leaf(rs *kb.Ruleset, id string) *kb.Material {
	return rs.Leaves[slices.IndexFunc(rs.Leaves, func(m *kb.Material) bool { return m.ID == id })]
}

// TestOthersAreSelected: a rule about the group is about its others, and a condition over materials finds them by what
// they are.
func TestOthersAreSelected(t *testing.T) {
	for selection, want := range map[string]string{
		"[beryl]": "aquamarine beryl:laboratory-grown beryl:natural",
		"{where: material.origin == 'laboratory-grown' and material.ri.high < 1.7}":            "beryl:laboratory-grown synthetic-quartz",
		"{where: material.name contains 'beryl'}":                                              "beryl:laboratory-grown beryl:natural",
		"{where: material.specific_gravity.high == 2.9 and not (material.id == 'aquamarine')}": "beryl:laboratory-grown beryl:natural",
	} {
		rs := loadtest.Must(t, map[string]string{"house.yaml": beryls +
			"rules:\n  - rule: chosen\n    says: x\n    if: ri > 1.5\n    excludes: " + selection + "\n"})
		if got := strings.Join(loadtest.Names(rs, rs.Rule("chosen").Excludes.Leaves), " "); got != want {
			t.Errorf("%s: %s, want %s", selection, got, want)
		}
	}
}

// TestClaimsOfOthers: who claims a group's only listed leaf claims what is like it but for the sheet; who claims one of
// several claims that one.
func TestClaimsOfOthers(t *testing.T) {
	second := "  - {material: emerald, under: beryl, name: emerald, origin: natural}\n"
	deeper := "  - {group: blue-beryl, under: beryl, name: blue beryl}\n  - {material: maxixe, under: blue-beryl, " +
		"name: maxixe, origin: natural}\n"
	below := strings.Replace(beryls, "under: beryl, name: aquamarine", "under: clear, name: aquamarine", 1) +
		"  - {group: clear, under: beryl, name: clear beryl}\n"
	for _, tt := range []struct{ text, word, leaves, means, group string }{
		{beryls, "aquamarine", "aquamarine beryl:natural", "aquamarine", "beryl"},
		{beryls, "sea stone", "aquamarine beryl:natural", "aquamarine", "aquamarine"},
		{beryls, "beryl", "aquamarine beryl:natural", "beryl", "beryl"},
		{beryls, "diamond", "natural-diamond", "natural-diamond", "diamond"},
		{below, "aquamarine", "aquamarine beryl:natural", "aquamarine", "beryl"},
		{beryls + second, "aquamarine", "aquamarine", "aquamarine", "beryl"},
		{beryls + deeper, "aquamarine", "aquamarine", "aquamarine", "beryl"},
		{beryls + "  - {group: mere, under: beryl, name: mere beryl, nameable: true, properties: {ri: {range: [1.57, " +
			"1.58], source: x}, specific_gravity: {range: [2.7, 2.8], source: x}}, others: [{origin: natural}]}\n",
			"mere beryl", "mere:natural", "mere", "beryl"},
	} {
		rs := loadtest.Must(t, map[string]string{"house.yaml": tt.text})
		c := rs.Claim(tt.word)
		if got := strings.Join(loadtest.Names(rs, c.Leaves), " "); got != tt.leaves || c.Means(rs).ID != tt.means ||
			c.Group(rs) == nil || c.Group(rs).ID != tt.group {
			t.Errorf("%s: %s, means %s, of %v", tt.word, got, c.Means(rs).ID, c.Group(rs))
		}
	}
}

// TestNamesByColour: the first name that the colour read meets is used; one that demands a colour never for another,
// nor where no colour was read.
func TestNamesByColour(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": beryls})
	o := rs.Vocabulary.Observable("colour")
	beryl, aquamarine, diamond := rs.Node("beryl"), rs.Node("aquamarine"), rs.Node("diamond")
	for _, tt := range []struct {
		colour                     string
		beryl, aquamarine, diamond string
	}{
		{"", "some beryl", "aquamarine", "diamond"},
		{"blue", "aquamarine or emerald", "aquamarine", "diamond"},
		{"green", "aquamarine or emerald", "aquamarine", "diamond"},
		{"bluish", "aquamarine or emerald", "aquamarine", "diamond"},
		{"red", "red beryl", "aquamarine", "diamond"},
		{"colourless", "some beryl", "aquamarine", "diamond"},
	} {
		var colours uint64
		if tt.colour != "" {
			i, _ := o.Outcome(tt.colour)
			colours = o.Meaning(i)
		}
		for m, want := range map[*kb.Material]string{beryl: tt.beryl, aquamarine: tt.aquamarine, diamond: tt.diamond} {
			if got := m.SaysOf(colours); got != want {
				t.Errorf("%s read as %q is called %q", m.ID, tt.colour, got)
			}
		}
	}
	if beryl.InVerdicts != "" || beryl.Says() != "beryl" || diamond.ByColour != nil {
		t.Errorf("%+v", beryl)
	}
}

// TestSpecies: laboratory growth is a matter of the species. What its sheet says holds below it.
func TestSpecies(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": beryls + `
  - {group: clear, under: beryl, name: clear beryl, grown: none known}
  - {material: goshenite, under: clear, name: goshenite, origin: natural}
  - {group: shelf, under: stones, name: shelf, seen_at_counter: rare, origin: natural}
  - {material: zircon, under: shelf, name: zircon}
`})
	for id, want := range map[string][2]string{
		"stones": {"", ""}, "beryl": {"beryl", "not listed"}, "aquamarine": {"beryl", "not listed"},
		"beryl:natural": {"beryl", "not listed"}, "clear": {"clear", "none known"},
		"goshenite": {"clear", "none known"}, "diamond": {"diamond", ""}, "natural-diamond": {"diamond", ""},
		"lead-glass": {"glass", ""}, "shelf": {"", ""}, "zircon": {"zircon", ""},
	} {
		m := rs.Node(id)
		if m == nil {
			m = leaf(rs, id)
		}
		species := ""
		if m.Species != nil {
			species = m.Species.ID
		}
		if species != want[0] || string(m.Grown) != want[1] {
			t.Errorf("%s is of the species %q, of which growth is %q", id, species, m.Grown)
		}
	}
}
