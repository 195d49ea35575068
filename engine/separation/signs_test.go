package separation

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"whystone/kb"
)

// signsAgainstNaive holds what tells pairs apart sometimes against readings judged directly, and counts them.
func signsAgainstNaive(tb testing.TB, t *Table, n *naive, every int) (excludes, likelier, too int) {
	tb.Helper()
	rival := math.Log(t.rs.Policy.Rival)
	for _, i := range t.judged.Members() {
		for _, a := range t.rs.Leaves {
			for _, b := range t.rs.Leaves {
				if a == b || (a.Index+b.Index+i)%every != 0 {
					continue
				}
				told := map[string]bool{}
				for _, s := range t.signsOf([]*kb.Material{b, a}, []int{i}) {
					if s.Of == a.ID {
						told[s.Observable+" "+s.Outcome] = true
					}
					if s.Test != t.rs.Tests[i].ID || len(s.From) != 1 || s.From[0] == s.Of {
						tb.Fatalf("%+v", s)
					}
				}
				for what, ratio := range n.signs(a, b, t.rs.Tests[i]) {
					if math.Abs(ratio-rival) > 1e-5 && told[what] != (ratio > rival) {
						tb.Fatalf("%s, %s and %s: %s is told: %t, with a log ratio of %g", t.rs.Tests[i].ID, a.ID, b.ID,
							what, told[what], ratio)
					}
					switch {
					case math.IsInf(ratio, 1):
						excludes++
					case ratio > rival:
						likelier++
					default:
						too++
					}
					delete(told, what)
				}
				if len(told) > 0 {
					tb.Fatalf("%s, %s and %s: %v are no such outcomes", t.rs.Tests[i].ID, a.ID, b.ID, told)
				}
			}
		}
	}
	return excludes, likelier, too
}

func TestEverySignJudgedDirectly(t *testing.T) {
	var excludes, likelier, too int
	add := func(x, y, z int) { excludes, likelier, too = excludes+x, likelier+y, too+z }
	for seed := range uint64(8) {
		e := drawn{seed: seed, materials: 5, tests: 8, rules: 3, without: -1}.engine(t)
		add(signsAgainstNaive(t, build(t, e), newNaive(t, e), 1))
	}
	e := folder(t, shipped)
	add(signsAgainstNaive(t, build(t, e), newNaive(t, e), 5))
	t.Log(excludes, likelier, too)
	if excludes < 100 || likelier < 20 || too < 100 {
		t.Errorf("only %d that exclude, %d that are likelier and %d that tell too little", excludes, likelier, too)
	}
}

// What the loupe shows sometimes, of stones that no test parts reliably: common practice, all of it.
func TestWhatTheLoupeShowsSigns(t *testing.T) {
	table := build(t, folder(t, shipped))
	facts := []struct{ of, from, by, outcomes, not string }{
		// What grew in a flame shows its curved growth lines and unmelted powder, if anything; the natural stone healed
		// cracks. Silk may be in both.
		{of: "flame-fusion-corundum", from: "natural-corundum", by: "loupe", outcomes: "curved striae, unmelted powder",
			not: "fingerprint"},
		{of: "natural-corundum", from: "flame-fusion-corundum", by: "loupe", outcomes: "fingerprint",
			not: "curved striae, gas bubbles, straight growth lines"},
		// Hydrothermal quartz grew on a seed, which a cut stone may or may not hold.
		{of: "hydrothermal-quartz", from: "natural-quartz", by: "loupe", outcomes: "seed plate", not: "feather"},
		{of: "grown-scheelite", from: "natural-scheelite", by: "loupe", outcomes: "curved striae", not: "feather"},
	}
	for _, f := range facts {
		a, b := table.rs.Node(f.of), table.rs.Node(f.from)
		if by := table.By(a, b); len(by) > 0 {
			t.Errorf("%s and %s are told apart by %s", a.ID, b.ID, by[0].ID)
		}
		var seen []string
		for _, s := range table.Signs([]*kb.Material{a, b}, nil) {
			if strings.Contains(s.Test, f.by) && s.Of == a.ID {
				seen = append(seen, s.Outcome)
			}
		}
		for _, o := range strings.Split(f.outcomes, ", ") {
			if !slices.Contains(seen, o) {
				t.Errorf("%s of %s should part it from %s; only %v do", o, a.ID, b.ID, seen)
			}
		}
		for _, o := range strings.Split(f.not, ", ") {
			if slices.Contains(seen, o) {
				t.Errorf("%s of %s should not part it from %s", o, a.ID, b.ID)
			}
		}
	}
}

// A house without a loupe has nothing of what a loupe shows; the groups that are alike are the same with it or without.
func TestSignsAreOfTheHouse(t *testing.T) {
	table := build(t, folder(t, shipped))
	pair := []*kb.Material{table.rs.Node("hydrothermal-quartz"), table.rs.Node("natural-quartz")}
	signs := table.Signs(pair, nil)
	if len(signs) == 0 {
		t.Fatal("nothing parts grown quartz from rock crystal, even sometimes")
	}
	var lacks []string
	for _, s := range signs {
		lacks = append(lacks, s.Test)
	}
	if left := table.Signs(pair, lacks); len(left) > 0 {
		t.Errorf("without %v: %+v", lacks, left)
	}
	if none := table.Signs(pair[:1], nil); len(none) > 0 {
		t.Errorf("one material is parted from nothing, not by %+v", none)
	}
	report := table.Report(nil).Alike
	for i, g := range table.Findings(nil) {
		if !slices.EqualFunc(report[i].Signs, g.Signs, func(a, b Seen) bool { return reflect.DeepEqual(a, b) }) {
			t.Errorf("%+v is reported as %+v", g.Signs, report[i].Signs)
		}
		if len(g.Signs) > 0 != strings.Contains(g.Says(), " Sometimes a test tells ") {
			t.Errorf("%d signs, told as %q", len(g.Signs), g.Says())
		}
		for _, s := range g.Signs {
			if !strings.Contains(g.Says(), s.Outcome) || !strings.Contains(g.Says(), table.rs.Test(s.Test).Name) ||
				s.Seen == "usually" || s.Seen == "" {
				t.Errorf("%+v in %q", s, g.Says())
			}
		}
	}
}

// Phrases name a few outcomes of each material, by test, and count the rest.
func TestPhrases(t *testing.T) {
	rs := folder(t, shipped).Ruleset
	of := func(id, observable string, outcomes ...string) []Seen {
		var out []Seen
		for _, o := range outcomes {
			out = append(out, Seen{Test: rs.Vocabulary.Observable(observable).Test, Observable: observable, Outcome: o,
				Of: id})
		}
		return out
	}
	a, b := of("natural-quartz", "inclusions", "a", "b", "c", "d", "e", "f"), of("topaz", "inclusions", "g")
	signs := slices.Concat(a[:1], b, a[1:], of("topaz", "uv_long", "blue"), of("topaz", "facet_doubling", "slight"))
	got := Phrases(rs, signs)
	for i, want := range []string{"(natural quartz: a, b, c, d, 2 more; topaz: g)", "(topaz: UV long blue)",
		"(topaz: slight)"} {
		if len(got) != 3 || !strings.HasSuffix(got[i], want) {
			t.Errorf("%q, want %s", got, want)
		}
	}
	if five := Phrases(rs, a[:5]); !strings.HasSuffix(five[0], "a, b, c, d, e)") {
		t.Errorf("one more takes no more room than to say so: %q", five)
	}
}
