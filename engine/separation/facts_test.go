package separation

import (
	"encoding/json"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"whystone/engine/enginetest"
	"whystone/engine/phrase"
	"whystone/kb"
)

// Facts of the trade: common practice, all of them.
func TestWhatTheTradeTakesForGranted(t *testing.T) {
	table := build(t, folder(t, shipped))
	facts := []struct{ a, b, by, not string }{
		// Natural and laboratory-grown diamond are one material to the instruments of a desk.
		{a: "natural-diamond", b: "hpht-diamond",
			not: "refractometer hydrostatic-weighing thermal-probe loupe-doubling polariscope optic-figure " +
				"reflectivity-meter weight-against-size"},
		{a: "natural-diamond", b: "cvd-diamond",
			not: "refractometer hydrostatic-weighing thermal-probe loupe-doubling polariscope optic-figure " +
				"reflectivity-meter weight-against-size"},
		// Moissanite shows doubled edges, and conducts often (never to be relied on); a thermal probe takes it for
		// diamond, and a refractometer ends below both.
		{a: "natural-diamond", b: "synthetic-moissanite", by: "loupe-doubling hydrostatic-weighing",
			not: "thermal-probe refractometer sinking-in-water breath-fog"},
		// Zirconia is far heavier and a poor conductor of heat; both leave the refractometer's scale dark to its end.
		{a: "natural-diamond", b: "cubic-zirconia", by: "hydrostatic-weighing thermal-probe weight-against-size",
			not: "refractometer loupe-doubling conduction-probe"},
		// Topaz is as heavy as diamond. Its index is not.
		{a: "natural-diamond", b: "topaz", by: "refractometer thermal-probe",
			not: "hydrostatic-weighing weight-against-size"},
		// Strontium titanate is singly refractive, has an index like diamond's, and is much heavier.
		{a: "natural-diamond", b: "strontium-titanate", by: "hydrostatic-weighing thermal-probe",
			not: "refractometer loupe-doubling polariscope optic-figure"},
		// Quartz has two rays, glass has one, and either may have the other's index nearly.
		{a: "natural-quartz", b: "ordinary-glass", by: "polariscope optic-figure",
			not: "thermal-probe sinking-in-water"},
		// What grew in a flame and what grew in the earth differ inside only.
		{a: "natural-corundum", b: "flame-fusion-corundum",
			not: "refractometer hydrostatic-weighing thermal-probe polariscope optic-figure weight-against-size"},
		{a: "natural-quartz", b: "hydrothermal-quartz",
			not: "refractometer hydrostatic-weighing thermal-probe polariscope optic-figure weight-against-size"},
	}
	for _, f := range facts {
		a, b := table.rs.Node(f.a), table.rs.Node(f.b)
		var by []string
		for _, x := range table.By(a, b) {
			by = append(by, x.ID)
		}
		for _, id := range strings.Fields(f.by) {
			if !slices.Contains(by, id) {
				t.Errorf("%s should tell %s from %s; only %v do", id, f.a, f.b, by)
			}
		}
		for _, id := range strings.Fields(f.not) {
			if table.rs.Test(id) == nil || slices.Contains(by, id) {
				t.Errorf("%s should not tell %s from %s, or is no test", id, f.a, f.b)
			}
		}
	}
	for _, x := range []string{"sinking-in-water", "dye-swab"} {
		if i := slices.IndexFunc(table.rs.Tests, func(t *kb.Test) bool { return t.ID == x }); !table.judged.Has(i) ||
			slices.ContainsFunc(table.told, func(s tests) bool { return s.Has(i) }) {
			// common practice: everything on the list sinks, and dye is no matter of the material
			t.Errorf("%s tells something apart", x)
		}
	}
}

// A house with a thermal probe alone does not tell moissanite from diamond; with doubling or a balance it does (common
// practice). Without any test all materials are alike.
func TestFewInstruments(t *testing.T) {
	table := build(t, folder(t, shipped))
	but := func(has ...string) []string {
		var out []string
		for _, id := range table.rs.TestIDs() {
			if !slices.Contains(has, id) {
				out = append(out, id)
			}
		}
		return out
	}
	together := func(lacks []string, ids ...string) bool {
		return slices.ContainsFunc(table.Alike(lacks), func(g []*kb.Material) bool {
			return !slices.ContainsFunc(ids, func(id string) bool { return !slices.Contains(g, table.rs.Node(id)) })
		})
	}
	if !together(but("thermal-probe"), "natural-diamond", "synthetic-moissanite", "hpht-diamond", "cvd-diamond") {
		t.Error("a thermal probe alone tells moissanite from diamond")
	}
	if together(but("thermal-probe"), "natural-diamond", "cubic-zirconia") {
		t.Error("a thermal probe does not tell zirconia from diamond")
	}
	for _, id := range []string{"loupe-doubling", "hydrostatic-weighing"} {
		if together(but("thermal-probe", id), "natural-diamond", "synthetic-moissanite") {
			t.Errorf("with %s too moissanite and diamond are still alike", id)
		}
		buys, loses := table.Hangs(but("thermal-probe"))
		for _, b := range slices.Concat(buys, loses) {
			if b.Test == id && !slices.Contains(b.Pairs, [2]string{"natural-diamond", "synthetic-moissanite"}) {
				t.Errorf("%s does not buy moissanite from diamond", id)
			}
		}
	}
	a, b := table.rs.Node("synthetic-moissanite"), table.rs.Node("natural-diamond")
	if n := table.Nearest(a, b, but("loupe-doubling", "thermal-probe")); n.Test != table.rs.Test("loupe-doubling") ||
		n.Ratio < 10 || n.Of != a {
		t.Errorf("moissanite and diamond are told apart best by %+v", n)
	}
	if n := table.Nearest(a, b, but("sinking-in-water")); n.Test != nil {
		t.Errorf("with water alone moissanite and diamond are told apart best by %+v", n)
	}
	groups := table.Alike(but())
	if len(groups) != 1 || len(groups[0]) != len(table.rs.Leaves) {
		t.Errorf("without any test there are %d groups", len(groups))
	}
	if g := table.Findings(but())[0]; g.Nearest.Test != nil || g.Expected() {
		t.Errorf("without any test: %+v", g)
	}
}

// Expected are pairs that lie under one nameable group, however deep, and only those.
func TestExpectedPairs(t *testing.T) {
	table := build(t, folder(t, shipped))
	group := func(a, b string) *kb.Material {
		return within([]*kb.Material{table.rs.Node(a), table.rs.Node(b)})
	}
	for _, c := range []struct{ a, b, want string }{
		{"hpht-diamond", "natural-diamond", "diamond"}, {"cvd-diamond", "hpht-diamond", "laboratory-grown-diamond"},
		{"natural-diamond", "synthetic-moissanite", ""}, {"hydrothermal-quartz", "natural-quartz", "quartz"},
	} {
		if g := group(c.a, c.b); g != table.rs.Node(c.want) {
			t.Errorf("%s and %s: %v, want %q", c.a, c.b, g, c.want)
		}
	}
	diamond := -1
	for i, g := range table.Findings(nil) {
		if g.Within == table.rs.Node("diamond") {
			diamond = i
			if len(g.Materials) != 3 || !g.Expected() || g.Nearest.Test.ID != "magnet" ||
				!strings.Contains(g.Says(), "consistent with diamond (natural or laboratory-grown not determined)") {
				t.Errorf("%+v", g)
			}
		}
	}
	if diamond < 0 {
		t.Error("the diamonds are in no group") // common practice: no desk test tells natural from grown by itself
	}
}

// Every sentence keeps to the words that verdicts may use, and says nothing that the table does not.
func TestSentences(t *testing.T) {
	table := build(t, folder(t, shipped))
	seen := 0
	for _, lacks := range [][]string{nil, {"refractometer", "hydrostatic-weighing", "prism-spectrometer",
		"optic-figure"}, table.rs.TestIDs()} {
		for _, g := range table.Findings(lacks) {
			seen++
			if bad := enginetest.Banned(g.Says()); bad != nil {
				t.Errorf("%v in %q", bad, g.Says())
			}
			for _, m := range g.Materials {
				if !strings.Contains(g.Says(), m.Name) {
					t.Errorf("%q does not name %s", g.Says(), m.ID)
				}
			}
			if g.Nearest.Test == nil {
				continue
			}
			if g.Nearest.Ratio >= table.rs.Policy.Rival || !strings.Contains(g.Says(),
				phrase.Capital(g.Nearest.Test.Name)) || slices.Contains(lacks, g.Nearest.Test.ID) {
				t.Errorf("%+v", g.Nearest)
			}
		}
	}
	if seen < 10 {
		t.Errorf("only %d sentences", seen)
	}
	almost := Near{Test: table.rs.Tests[0], Ratio: 9.9999, Of: table.rs.Leaves[0], From: table.rs.Leaves[1]}
	if says := almost.reason(10, 2).Says(); !strings.Contains(says, "is 9.99 times likelier") {
		t.Errorf("a ratio that is not enough is told as %q", says)
	}
}

// The report counts what the table holds.
func TestReportCounts(t *testing.T) {
	table := build(t, folder(t, shipped))
	lacks := []string{"hydrostatic-weighing", "weight-against-size", "no-such-test", "scratching-glass"}
	r := table.Report(lacks)
	n := len(table.rs.Leaves)
	if r.Format != 1 || r.Pairs != n*(n-1)/2 || r.Pairs-r.Apart != len(alikePairs(table, lacks)) ||
		!slices.Equal(r.Lacks, lacks[:2]) {
		t.Errorf("%+v", r)
	}
	if len(r.Buys) != 2 || r.Buys[0].Count < r.Buys[1].Count || r.Buys[0].Count != len(r.Buys[0].Pairs) {
		t.Errorf("%+v", r.Buys)
	}
	for i, b := range r.Loses {
		if b.Count == 0 || b.Count != len(b.Pairs) || slices.Contains(lacks, b.Test) || i > 0 &&
			r.Loses[i-1].Count < b.Count {
			t.Errorf("%+v", b)
		}
	}
	for _, g := range r.Alike {
		if g.Nearest != nil && g.Nearest.Ratio >= r.Required || (g.Within != nil) != g.Expected {
			t.Errorf("%+v", g)
		}
	}
}

// A test whose instrument the house has, but which a rule of it forbids, is no test of the house. The shipped rules
// forbid heavy liquids: a balance and water give the same figure (common practice).
func TestForbiddenTestsAreNotTheHouses(t *testing.T) {
	table := build(t, folder(t, shipped))
	liquids := table.rs.Test("heavy-liquids")
	zirconia, diamond := table.rs.Node("cubic-zirconia"), table.rs.Node("natural-diamond")
	if !slices.Contains(table.By(zirconia, diamond), liquids) || slices.Contains(table.Tests(), liquids) {
		t.Error("heavy liquids are not judged, or are taken for a test of the house")
	}
	if buys, _ := table.Hangs([]string{liquids.ID}); len(buys) > 0 {
		t.Error("heavy liquids are for sale")
	}
}

// The shape of the report as JSON, on the invented small ruleset; WHYSTONE_UPDATE=1 writes it anew.
func TestReportShape(t *testing.T) {
	text, err := json.MarshalIndent(build(t, folder(t, small)).Report([]string{"goniometer", "probe", "refractometer"}),
		"", "  ")
	if err != nil {
		t.Fatal(err)
	}
	const path = "testdata/report.json"
	if os.Getenv("WHYSTONE_UPDATE") == "1" {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, append(text, '\n'), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var a, b any // the digest is that of the files, which other tests may need changed
	for into, text := range map[*any][]byte{&a: text, &b: want} {
		if err := json.Unmarshal(text, into); err != nil {
			t.Fatal(err)
		}
		if m, ok := (*into).(map[string]any); ok {
			m["ruleset"] = ""
		}
	}
	if !reflect.DeepEqual(a, b) {
		t.Errorf("%s", text)
	}
}
