package answers

import (
	"cmp"
	"fmt"
	"math/bits"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb/casefile"
)

// names are those of readings, as a case has them.
func names(list []Reading) []string {
	var out []string
	for _, r := range list {
		out = append(out, r.Name)
	}
	return out
}

// key tells verdicts apart by what the issue of a comparison is: class, what is named, whether the stone may be none of
// those listed, and whether its names are kept back.
func key(d *engine.Decision) string {
	words := []string{d.Class.String()}
	if d.NotListed != engine.Listed {
		words = append(words, "not listed")
	}
	if len(d.KeptBack) > 0 {
		words = append(words, "kept back")
	}
	if d.Named != nil {
		words = append(words, d.Named.ID)
	}
	var nodes []string
	for _, n := range d.Nodes {
		nodes = append(nodes, n.ID)
	}
	slices.Sort(nodes)
	return strings.Join(append(words, nodes...), " ")
}

// subsetsBySize lists the sets of n things as bit masks, smallest first.
func subsetsBySize(n int) []uint {
	out := make([]uint, 1<<n)
	for i := range out {
		out[i] = uint(i)
	}
	slices.SortStableFunc(out, func(x, y uint) int { return cmp.Compare(bits.OnesCount(x), bits.OnesCount(y)) })
	return out
}

func pickMask(all []*casefile.Reading, mask uint) []*casefile.Reading {
	var out []*casefile.Reading
	for i, r := range all {
		if mask>>i&1 == 1 {
			out = append(out, r)
		}
	}
	return out
}

// TestRestsBruteForce compares with every set of readings there is: the sets told give the verdict alone, and they are
// all of the smallest size that do.
func TestRestsBruteForce(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	sizes := map[int]int{}
	each(allCases(t, rs, rounds(150), 8), func(name string, c *casefile.Case) {
		if len(c.Readings) > 8 {
			return
		}
		got := a.Rests(c, noon)
		var d engine.Decision
		judge.Decide(c, noon.On, &d)
		whole := key(&d)
		want, least := []string{}, -1
		for _, mask := range subsetsBySize(len(c.Readings)) {
			n := bits.OnesCount(mask)
			if n > MaxRests || least >= 0 && n > least {
				break
			}
			judge.Decide(only(c, pickMask(c.Readings, mask)), noon.On, &d)
			if key(&d) == whole {
				want, least = append(want, strings.Join(names(toldAll(pickMask(c.Readings, mask))), ", ")), n
			}
		}
		sizes[least]++
		have := []string{}
		for _, s := range got.Sets {
			have = append(have, strings.Join(names(s.Readings), ", "))
		}
		slices.Sort(want)
		slices.Sort(have)
		if !slices.Equal(want, have) {
			t.Errorf("%s: it rests on %q, brute force says %q", name, have, want)
		}
		for _, r := range c.Readings {
			in := slices.ContainsFunc(got.Sets, func(s Resting) bool {
				return slices.Contains(names(s.Readings),
					r.Name())
			})
			if out := slices.Contains(names(got.NotNeeded), r.Name()); len(got.Sets) > 0 && in == out {
				t.Errorf("%s: %s is in a set: %v, not needed: %v", name, r.Name(), in, out)
			}
		}
	})
	t.Logf("sizes of the smallest sets (-1: more than %d): %v", MaxRests, sizes)
	if sizes[1] == 0 || sizes[2] == 0 {
		t.Error("the cases are too easy")
	}
}

// TestRestsBeyondFour is a verdict that five readings are needed for: said, not guessed.
func TestRestsBeyondFour(t *testing.T) {
	rs := five(t)
	a := New(engine.Prepare(rs))
	c := read(t, rs, "five", "case: five\nreadings: {look_a: clear, look_b: clear, look_c: clear, look_d: clear, "+
		"look_e: clear}\n")
	got := a.Rests(c, noon)
	if got.Verdict.Named != "stone-a" || len(got.Sets) != 0 || len(got.NotNeeded) != 0 || got.Searched != MaxRests ||
		!strings.Contains(got.Says, "needs more") {
		t.Errorf("%+v", got)
	}
}

// TestChangeBruteForce compares with every combination of alternatives up to two readings, and three where neither one
// nor two are enough: what is told flips the verdict, and no smaller change does.
func TestChangeBruteForce(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	sizes := map[int]int{}
	each(allCases(t, rs, rounds(80), 6), func(name string, c *casefile.Case) {
		got := a.Change(c, noon)
		var d engine.Decision
		judge.Decide(c, noon.On, &d)
		whole := key(&d)
		able := a.able(c, noon.On)
		want := map[string]int{}
		least := 0
		for _, mask := range subsetsBySize(len(c.Readings)) {
			n := bits.OnesCount(mask)
			if n == 0 {
				continue
			}
			if n > MaxChanges || least > 0 && n > least {
				break
			}
			if n > got.Searched { // it was too much to search, and the answer says so
				break
			}
			altered(c, mask, func(r *casefile.Reading) []*casefile.Reading { return a.alternatives(c, r, able) },
				func(x *casefile.Case) {
					judge.Decide(x, noon.On, &d)
					if k := key(&d); k != whole {
						least = n
						want[strings.Join(names(toldAll(pickMask(c.Readings, mask))), ", ")+" -> "+k]++
					}
				})
		}
		sizes[least]++
		have := map[string]int{}
		for _, x := range got.Changes {
			var of []string
			for _, r := range x.Readings {
				of = append(of, r.Name)
			}
			k := x.To.Verdict
			if x.To.NotListed != "" {
				k += " not listed"
			}
			if x.To.KeptBack {
				k += " kept back"
			}
			if x.To.Named != "" {
				k += " " + x.To.Named
			}
			nodes := slices.Sorted(slices.Values(x.To.Nodes))
			have[strings.Join(of, ", ")+" -> "+strings.Join(append([]string{k}, nodes...), " ")] += 1 + x.Others
		}
		if fmt.Sprint(want) != fmt.Sprint(have) {
			t.Errorf("%s: changes %v, brute force says %v", name, have, want)
		}
	})
	t.Logf("sizes of the smallest changes (0: none): %v", sizes)
	if !testing.Short() && (sizes[1] == 0 || sizes[2]+sizes[3] == 0) { // -short draws few
		t.Error("the cases are too easy")
	}
}

// altered calls f with every case in which the readings of a mask are others.
func altered(c *casefile.Case, mask uint, alts func(*casefile.Reading) []*casefile.Reading, f func(*casefile.Case)) {
	x := *c
	x.Readings = slices.Clone(c.Readings)
	var rec func(i int)
	rec = func(i int) {
		for i < len(c.Readings) && mask>>i&1 == 0 {
			i++
		}
		if i == len(c.Readings) {
			f(&x)
			return
		}
		for _, r := range alts(c.Readings[i]) {
			x.Readings[i] = r
			rec(i + 1)
		}
		x.Readings[i] = c.Readings[i]
	}
	rec(0)
}

// TestChangesArePossible holds that no change needs a test that harms, or one that can't be done on the stone.
func TestChangesArePossible(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	c := read(t, rs, "harm", "case: harm\nstone: {mounted: true, carat: 0.5}\nreadings: {scratches_glass: scratches, "+
		"specific_gravity: 3.5, hot_point: no reaction, thermal_probe: diamond range}\n")
	for _, x := range a.Change(c, noon).Changes {
		for _, r := range x.Readings {
			if r.Name != "thermal_probe" {
				t.Errorf("%s would have to be tested again: %s", r.Name, x.Says)
			}
		}
	}
	able := a.able(&casefile.Case{ID: "empty"}, noon.On)
	for _, x := range rs.Tests {
		if able[x.ID] && !x.Harmless() {
			t.Errorf("%s harms by %s, and would be done again", x.ID, x.Harm)
		}
	}
	if able = a.able(c, noon.On); able["hydrostatic-weighing"] || !able["thermal-probe"] {
		t.Error("a mounted stone can't be weighed in water, but it can be probed")
	}
}

func TestContradictionResolves(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	found := 0
	each(allCases(t, rs, rounds(200), 7), func(name string, c *casefile.Case) {
		got := a.Contradiction(c, noon)
		var d engine.Decision
		judge.Decide(c, noon.On, &d)
		if got.Contradictory != (d.Class == engine.Contradictory) {
			t.Fatalf("%s: contradictory %v, the verdict is %s", name, got.Contradictory, d.Class)
		}
		for i, s := range got.Sets {
			found++
			some := slices.DeleteFunc(slices.Clone(c.Readings),
				func(r *casefile.Reading) bool { return !slices.Contains(names(s.Readings), r.Name()) })
			judge.Decide(without(c, some), noon.On, &d)
			if d.Class == engine.Contradictory && got.NotListed != "likely" || d.NotListed != engine.Listed &&
				got.NotListed == "likely" || d.Class.String() != s.To.Verdict {
				t.Errorf("%s: without %v it is %s, told %s", name, names(s.Readings), d.Class, s.To.Verdict)
			}
			for k := range some {
				judge.Decide(without(c, slices.Delete(slices.Clone(some), k, k+1)), noon.On, &d)
				if got.NotListed != "likely" && d.Class != engine.Contradictory || got.NotListed == "likely" &&
					d.Unlisted <= 0.5 {
					t.Errorf("%s: %v is not minimal", name, names(s.Readings))
				}
			}
			if i > 0 && len(got.Sets[i-1].Readings) == len(s.Readings) && got.Sets[i-1].Doubt < s.Doubt-1e-12 {
				t.Errorf("%s: %v is more doubtful than the one before", name, names(s.Readings))
			}
		}
	})
	if !testing.Short() && found < 20 { // -short draws few
		t.Errorf("only %d resolutions", found)
	}
}
