package answers

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb/casefile"
)

// leavesOf are the indexes of the leaves that a ledger may mean by an id: one, or those of a group without sheets.
func leavesOf(a *Asker, id string) []int {
	if id == "unlisted" {
		return []int{engine.Unlisted}
	}
	m := a.rs.Node(id)
	if !m.Group {
		return []int{m.Index}
	}
	var out []int
	for _, o := range m.Others {
		out = append(out, o.Index)
	}
	return out
}

func TestLedgerSumsToTheGap(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	ledgers := 0
	each(allCases(t, rs, rounds(200), 12), func(name string, c *casefile.Case) {
		var d engine.Decision
		judge.Decide(c, noon.On, &d)
		for i := 0; i < len(rs.Nodes); i += 5 {
			w, err := a.WhyNot(c, noon, rs.Nodes[i].ID)
			if err != nil {
				t.Fatal(err)
			}
			if w.Ledger == nil {
				continue
			}
			ledgers++
			sum := 0.0
			for _, l := range w.Ledger.Lines {
				sum += l.Difference
			}
			right := false
			for _, one := range leavesOf(a, w.Ledger.For) {
				for _, other := range leavesOf(a, w.Ledger.Against) {
					want := judge.LogWeight(one) - judge.LogWeight(other)
					right = right || math.Abs(sum-want) <= 1e-12*math.Max(1, math.Abs(want))
				}
			}
			if sum != w.Ledger.Gap || !right {
				t.Errorf("%s, %s: lines come to %.17g, gap %.17g, and the log-weights of %s and %s differ by "+
					"something else", name, w.Node, sum, w.Ledger.Gap, w.Ledger.For, w.Ledger.Against)
			}
			if w.Ledger.Lines[0].Kind != "prior" {
				t.Errorf("%s: the ledger begins with %s", name, w.Ledger.Lines[0].Kind)
			}
		}
	})
	if ledgers < 100 {
		t.Errorf("only %d ledgers", ledgers)
	}
}

// TestZeroHasNoLedger holds that a material of weight zero is told its exclusions and no sum, and that each
// exclusion listed excludes it by itself.
func TestZeroHasNoLedger(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	found, alone := 0, 0
	each(allCases(t, rs, rounds(60), 10), func(name string, c *casefile.Case) {
		var d engine.Decision
		for _, m := range rs.Leaves {
			if m.Other {
				continue // it is asked for by its group
			}
			w, err := a.WhyNot(c, noon, m.ID)
			if err != nil {
				t.Fatal(err)
			}
			judge.Decide(c, noon.On, &d)
			if judge.Zero(m.Index) != (w.Ledger == nil && w.Stands == Excluded) {
				t.Errorf("%s, %s: weight zero is %v, and it stands as %s", name, m.ID, judge.Zero(m.Index), w.Stands)
			}
			if w.Stands != Excluded {
				continue
			}
			found++
			if len(w.Exclusions) < 2 {
				t.Errorf("%s, %s: weight zero by %d exclusions", name, m.ID, len(w.Exclusions))
			}
			for _, x := range w.Exclusions {
				if x.Rule != "" {
					continue // a rule can rest on the stone, on facts and on other readings
				}
				alone++
				some := slices.DeleteFunc(slices.Clone(c.Readings),
					func(r *casefile.Reading) bool { return !slices.Contains(names(x.Readings), r.Name()) })
				judge.Decide(only(c, some), noon.On, &d)
				// which may come from rays that a rule sets aside
				if !judge.Excluded(m.Index) && x.Name != "birefringence" {
					t.Errorf("%s: %s alone does not exclude %s", name, x.Name, m.ID)
				}
			}
		}
	})
	if found == 0 || alone == 0 {
		t.Error("nothing of weight zero was met")
	}
}

// TestLedgerOfTwo: what is set against each other are two, none of them part of the other.
func TestLedgerOfTwo(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	within := 0
	each(allCases(t, rs, rounds(30), 8), func(name string, c *casefile.Case) {
		for _, m := range rs.Nodes {
			w, err := a.WhyNot(c, noon, m.ID)
			if err != nil {
				t.Fatal(err)
			}
			l := w.Ledger
			if l == nil || l.one == nil || l.other == nil || l.For == l.Against {
				continue
			}
			if l.one.Under(l.other) || l.other.Under(l.one) {
				t.Errorf("%s: %s is set against %s", name, l.one.ID, l.other.ID)
			}
			if n, o := phrase.NodeOf(rs, l.For), phrase.NodeOf(rs, l.Against); n != nil && o != nil && n.Parent == o.Parent {
				within++
			}
		}
	})
	if within == 0 {
		t.Error("no two of one group were met")
	}
}

func TestWhyNotStands(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	cases := demoCases(t, rs)
	for _, x := range []struct {
		name, node string
		stands     Stands
	}{
		{"01-probe-says-diamond", "synthetic-moissanite", Named},
		{"01-probe-says-diamond", "silicon-carbide", Named}, // the group that holds it
		{"01-probe-says-diamond", "natural-diamond", Excluded},
		{"01-probe-says-diamond", "cubic-zirconia", Excluded},
		{"03-growth-stays-open", "natural-diamond", Missing}, // under what is named
		{"03-growth-stays-open", "synthetic-moissanite", Behind},
		{"02-household-tests", "natural-diamond", Missing}, // foremost, not named
		{"08-rock-crystal-or-grown", "quartz", Missing},    // narrowed to
	} {
		w, err := a.WhyNot(cases[x.name], noon, x.node)
		if err != nil {
			t.Fatal(err)
		}
		if w.Stands != x.stands {
			t.Errorf("%s: %s stands as %s, want %s: %s", x.name, x.node, w.Stands, x.stands, w.Says)
		}
		if x.stands == Missing && len(w.Missing) == 0 {
			t.Errorf("%s: nothing is missing for %s", x.name, x.node)
		}
	}
}

func TestWhyNotUnknown(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	_, err := a.WhyNot(&casefile.Case{ID: "empty"}, noon, "natural-diamnod")
	var unknown *UnknownNode
	if !errors.As(err, &unknown) || unknown.Nearest != "natural-diamond" ||
		!strings.Contains(err.Error(), "natural-diamnod") {
		t.Errorf("got %v", err)
	}
}

// TestWhyNotOfNothing asks about every node of a case without readings.
func TestWhyNotOfNothing(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	for _, m := range rs.Nodes {
		w, err := a.WhyNot(&casefile.Case{ID: "empty"}, noon, m.ID)
		if err != nil || w.Says == "" || w.Ledger == nil || len(w.Ledger.Lines) != 1 {
			t.Errorf("%s: %+v %v", m.ID, w, err)
		}
	}
}
