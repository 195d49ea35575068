package logic

import "testing"

var all = []Value{Fails, Undecided, Holds}

// rank orders the truths so that Kleene's "and" is the minimum and "or" the maximum.
func rank(v Value) int { return map[Value]int{Fails: 0, Undecided: 1, Holds: 2}[v] }

// TestTables checks the connectives against minimum, maximum and reflection, the usual reading of Kleene's tables.
func TestTables(t *testing.T) {
	for _, a := range all {
		if got, want := rank(Not(a)), 2-rank(a); got != want {
			t.Errorf("not %v: rank %d, want %d", a, got, want)
		}
		for _, b := range all {
			if got, want := rank(And(a, b)), min(rank(a), rank(b)); got != want {
				t.Errorf("%v and %v: rank %d, want %d", a, b, got, want)
			}
			if got, want := rank(Or(a, b)), max(rank(a), rank(b)); got != want {
				t.Errorf("%v or %v: rank %d, want %d", a, b, got, want)
			}
		}
	}
}

func TestWordsRoundTrip(t *testing.T) {
	for _, v := range all {
		if got, ok := Parse(v.String()); !ok || got != v {
			t.Errorf("Parse(%q) = %v, %v", v, got, ok)
		}
	}
	if _, ok := Parse("maybe"); ok {
		t.Error(`Parse("maybe") was accepted`)
	}
}

func TestMergeIsASortedSet(t *testing.T) {
	a := Cause{Name: "ri", Why: Absent}
	b := Cause{Name: "colour", Why: Inconclusive, Says: "lamp off"}
	got := Merge([]Cause{a, b}, []Cause{a})
	if len(got) != 2 || got[0] != b || got[1] != a {
		t.Errorf("Merge = %v", got)
	}
}

func TestCausesAreToldApart(t *testing.T) {
	seen := map[string]bool{}
	for w := Absent; w <= Faulty; w++ {
		s := Cause{Name: "ri", Why: w, Says: "x", Of: "f", By: 0.25}.String()
		if seen[s] {
			t.Errorf("two causes read alike: %q", s)
		}
		seen[s] = true
	}
}

// TestSeveralAreRead: what is named in the plural was not read in the plural.
func TestSeveralAreRead(t *testing.T) {
	for _, x := range []struct {
		c    Cause
		want string
	}{
		{Cause{Name: "inclusions", Why: Absent}, "inclusions were not read"},
		{Cause{Name: "facet edges", Why: SetAside}, "facet edges are set aside"},
		{Cause{Name: "inclusions", Why: Disagree}, "inclusions disagree with their repeat"},
		{Cause{Name: "scratches glass", Why: Absent}, "scratches glass was not read"},
		{Cause{Name: "ri", Why: Absent}, "ri was not read"},
	} {
		if got := x.c.String(); got != x.want {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
}
