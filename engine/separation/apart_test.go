package separation

import (
	"context"
	"errors"
	"math"
	"os"
	"reflect"
	"slices"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/load"
)

// folder prepares a ruleset that is kept in files.
func folder(tb testing.TB, dir string) *engine.Engine {
	tb.Helper()
	rs, found := load.Load(tb.Context(), []load.Layer{{Name: "files", FS: os.DirFS(dir)}})
	if rs == nil {
		tb.Fatal(found)
	}
	return engine.Prepare(rs)
}

const (
	small   = "../../kb/load/testdata/small"
	shipped = "../../rulesets/diamond-desk"
)

func build(tb testing.TB, e *engine.Engine) *Table {
	tb.Helper()
	t, err := Build(context.Background(), e, noon)
	if err != nil {
		tb.Fatal(err)
	}
	return t
}

// againstNaive holds a table against every pair judged directly by every harmless test, and counts what it saw.
func againstNaive(tb testing.TB, e *engine.Engine) (told, near int) {
	tb.Helper()
	t, n := build(tb, e), newNaive(tb, e)
	rival := math.Log(t.rs.Policy.Rival)
	for i, test := range t.rs.Tests {
		mounted := slices.ContainsFunc(test.Needs, func(n kb.Need) bool { return n.Says == "A mounted stone." })
		if t.judged.Has(i) != (test.Harmless() && !mounted) || t.judged.Has(i) != (t.near[i] != nil) {
			tb.Errorf("%s, which does %s to the stone and needs %v: is judged %t", test.ID, test.Harm, test.Needs,
				t.judged.Has(i))
		}
		if !t.judged.Has(i) {
			continue
		}
		for a := range t.rs.Leaves {
			for b := a + 1; b < len(t.rs.Leaves); b++ {
				p := t.pair(a, b)
				want, got := n.ratio(t.rs.Leaves[a], t.rs.Leaves[b], test), math.Abs(float64(t.near[i][p]))
				if !(math.Abs(want-got) <= 1e-5*max(1, want)) && want != got {
					tb.Fatalf("%s, %s and %s: log ratio %g, judged directly %g", test.ID, t.rs.Leaves[a].ID,
						t.rs.Leaves[b].ID, got, want)
				}
				if math.Abs(want-rival) > 1e-5 && t.told[p].Has(i) != (want > rival) {
					tb.Fatalf("%s, %s and %s: told apart is %t with a log ratio of %g", test.ID, t.rs.Leaves[a].ID,
						t.rs.Leaves[b].ID, t.told[p].Has(i), want)
				}
				if want > rival {
					told++
				} else if want > telling {
					near++
				}
			}
		}
	}
	return told, near
}

func TestEveryPairJudgedDirectly(t *testing.T) {
	for _, dir := range []string{small, "../../cmd/whystone/testdata/desk"} {
		if told, _ := againstNaive(t, folder(t, dir)); told < 5 {
			t.Errorf("%s: only %d pairs and tests tell apart", dir, told)
		}
	}
	told, near := 0, 0
	seeds := uint64(12)
	if testing.Short() {
		seeds = 5
	}
	for seed := range seeds {
		x, y := againstNaive(t, drawn{seed: seed, materials: 5, tests: 8, rules: 3, without: -1}.engine(t))
		told, near = told+x, near+y
	}
	if told < 40 || near < 8 {
		t.Errorf("only %d pairs and tests tell apart, and %d come near", told, near)
	}
}

// The shipped ruleset has what no invented one has: rules on doubling, weight against size, instruments with limits.
func TestShippedPairsJudgedDirectly(t *testing.T) {
	e := folder(t, shipped)
	table, n := build(t, e), newNaive(t, e)
	rival := math.Log(table.rs.Policy.Rival)
	checked := 0
	for i, test := range table.rs.Tests {
		if !table.judged.Has(i) {
			continue
		}
		for a := range table.rs.Leaves { // a pair of each leaf for each test; other ones by test
			b := (a + 1 + 7*i) % len(table.rs.Leaves)
			if a == b || testing.Short() && a%4 != 0 {
				continue
			}
			checked++
			want := n.ratio(table.rs.Leaves[a], table.rs.Leaves[b], test)
			if got := table.told[table.pair(a, b)].Has(i); got != (want >= rival) {
				t.Errorf("%s, %s and %s: told apart is %t with a log ratio of %g", test.ID, table.rs.Leaves[a].ID,
					table.rs.Leaves[b].ID, got, want)
			}
		}
	}
	if checked < 300 {
		t.Errorf("only %d pairs and tests checked", checked)
	}
}

func TestTellingApartHasNoDirection(t *testing.T) {
	table := build(t, folder(t, shipped))
	for _, a := range table.rs.Leaves {
		for _, b := range table.rs.Leaves {
			if a == b {
				if table.By(a, b) != nil || table.Nearest(a, b, nil) != (Near{}) {
					t.Fatalf("a test tells %s from itself", a.ID)
				}
				continue
			}
			if !slices.Equal(table.By(a, b), table.By(b, a)) || table.Nearest(a, b, nil) != table.Nearest(b, a, nil) {
				t.Fatalf("%s and %s are told apart one way", a.ID, b.ID)
			}
			if n := table.Nearest(a, b, nil); n.Test != nil && !(n.Of == a && n.From == b || n.Of == b && n.From == a) {
				t.Fatalf("%s and %s: the nearest is between %s and %s", a.ID, b.ID, n.Of.ID, n.From.ID)
			}
		}
	}
}

func TestBuildIsDeterministic(t *testing.T) {
	e := drawn{seed: 3, materials: 20, tests: 12, rules: 3, without: -1}.engine(t)
	first := build(t, e)
	for range 3 {
		if again := build(t, e); !reflect.DeepEqual(first, again) {
			t.Fatal("two tables of one ruleset differ")
		}
	}
	if !reflect.DeepEqual(first.Report([]string{"test-01"}), build(t, e).Report([]string{"test-01"})) {
		t.Fatal("two reports of one ruleset differ")
	}
}

func TestBuildStopsWhenTheContextIsOver(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if table, err := Build(ctx, folder(t, small), noon); table != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("%v, %v", table, err)
	}
}

// alikePairs lists the pairs that no test of the house tells apart, as names.
func alikePairs(t *Table, lacks []string) map[[2]string]bool {
	out := map[[2]string]bool{}
	house := t.house(lacks)
	t.eachPair(func(a, b int, told tests) {
		if !told.Meets(house) {
			out[[2]string{t.rs.Leaves[a].ID, t.rs.Leaves[b].ID}] = true
		}
	})
	return out
}

func drawnModel(t *rapid.T) drawn {
	return drawn{seed: rapid.Uint64Range(0, 1<<20).Draw(t, "seed"), materials: rapid.IntRange(2, 9).Draw(t,
		"materials"),
		tests: rapid.IntRange(1, 9).Draw(t, "tests"), rules: rapid.IntRange(0, 3).Draw(t, "rules"), without: -1}
}

// TestOneTestLess: a house without a test has the pairs more that are alike which Buys says hang on it, whether the
// house lacks the instrument or the ruleset has no such test at all; and what it would buy back is the same.
func TestOneTestLess(t *testing.T) {
	bought, kept := 0, 0
	tb := t
	rapid.Check(t, func(t *rapid.T) {
		d := drawnModel(t)
		whole := build(tb, d.engine(tb))
		d.without = rapid.IntRange(0, d.tests-1).Draw(t, "without")
		x := whole.rs.Tests[d.without].ID
		var lacks []string
		for _, test := range whole.rs.Tests {
			if test.ID != x && rapid.IntRange(0, 3).Draw(t, test.ID) == 0 {
				lacks = append(lacks, test.ID)
			}
		}
		less := append(slices.Clone(lacks), x)
		before, after := alikePairs(whole, lacks), alikePairs(whole, less)
		for p := range before {
			if !after[p] {
				t.Fatalf("%v are alike with the test %s and not without it", p, x)
			}
			delete(after, p)
		}
		_, loses := whole.Hangs(lacks)
		buys, _ := whole.Hangs(less)
		for what, hangs := range map[string][]Bought{"loses": loses, "buys": buys} {
			i := slices.IndexFunc(hangs, func(b Bought) bool { return b.Test == x })
			if i < 0 {
				if len(after) > 0 {
					t.Fatalf("%s is not listed, and %v hang on it", x, after)
				}
				continue
			}
			if len(hangs[i].Pairs) != len(after) || hangs[i].Count != len(after) {
				t.Fatalf("%s %s %v, and %v hang on it", x, what, hangs[i].Pairs, after)
			}
			for _, p := range hangs[i].Pairs {
				if !after[p] {
					t.Fatalf("%s %s %s and %s, which do not hang on it", x, what, p[0], p[1])
				}
			}
			bought += len(after)
		}
		if d.without == turning && d.tests > prism {
			return // the prism reads what the refractometer's sheet declares
		}
		gone := build(tb, d.engine(tb))
		if want, got := alikePairs(whole, less), alikePairs(gone, lacks); !reflect.DeepEqual(want, got) {
			t.Fatalf("without %s: %v, and where the ruleset has no such test: %v", x, want, got)
		}
		kept++
	})
	if !testing.Short() && (bought < 20 || kept < 20) { // -short draws few
		t.Errorf("only %d pairs bought or lost, %d rulesets without a test", bought, kept)
	}
}

// TestGroups: every two leaves of a group are alike, none could be added, and every alike pair lies in a group.
func TestGroups(t *testing.T) {
	overlapping, large := 0, 0
	tb := t
	rapid.Check(t, func(t *rapid.T) {
		d := drawnModel(t)
		d.tests = min(d.tests, 4)
		table := build(tb, d.engine(tb))
		var lacks []string
		for _, x := range table.rs.Tests {
			if rapid.Bool().Draw(t, x.ID) {
				lacks = append(lacks, x.ID)
			}
		}
		alike := alikePairs(table, lacks)
		is := func(a, b *kb.Material) bool { return alike[[2]string{a.ID, b.ID}] || alike[[2]string{b.ID, a.ID}] }
		groups := table.Alike(lacks)
		covered := map[[2]string]int{}
		for n, g := range groups {
			if len(g) > 2 {
				large++
			}
			for k, a := range g {
				for _, b := range g[k+1:] {
					if covered[[2]string{a.ID, b.ID}]++; !is(a, b) || a.Index >= b.Index {
						t.Fatalf("%s and %s in one group", a.ID, b.ID)
					}
				}
			}
			for _, m := range table.rs.Leaves {
				if !slices.Contains(g, m) && !slices.ContainsFunc(g, func(o *kb.Material) bool { return !is(m, o) }) {
					t.Fatalf("%s is like all of a group and not in it", m.ID)
				}
			}
			for _, o := range groups[:n] {
				if slices.Equal(o, g) {
					t.Fatal("a group is listed twice")
				}
			}
		}
		for p := range alike {
			if covered[p] == 0 {
				t.Fatalf("%v are alike and in no group", p)
			}
			if covered[p] > 1 {
				overlapping++
			}
		}
	})
	if !testing.Short() && (overlapping < 5 || large < 20) { // -short draws few
		t.Errorf("only %d pairs in several groups and %d groups of more than two", overlapping, large)
	}
}

// TestFaultyRule: a reading by which a rule can't be evaluated leads to no verdict, and tells nothing apart.
func TestFaultyRule(t *testing.T) {
	const rule = `format: 1
rules:
  - rule: broken
    says: invented
    if: 1 / (specific_gravity - specific_gravity) > 1
    sends_on: invented
    source: invented
`
	rs, found := load.Load(t.Context(), []load.Layer{{Name: "small", FS: os.DirFS(small)},
		{Name: "house", FS: fstest.MapFS{"rules.yaml": {Data: []byte(rule)}}}})
	if rs == nil {
		t.Fatal(found)
	}
	sound, faulty := build(t, folder(t, small)), build(t, engine.Prepare(rs))
	tells := func(t *Table) int {
		n := 0
		t.eachPair(func(a, b int, _ tests) {
			if slices.Contains(t.By(t.rs.Leaves[a], t.rs.Leaves[b]), t.rs.Test("weighing")) {
				n++
			}
		})
		return n
	}
	if tells(sound) < 5 || tells(faulty) != 0 {
		t.Errorf("weighing tells %d pairs apart, and %d where a rule on it is broken", tells(sound), tells(faulty))
	}
}
