package logic

import (
	"encoding/json"
	"slices"
	"testing"
)

// TestLaws: Kleene's strong logic is a distributive lattice in which negation turns everything round (De Morgan).
// Neither the excluded middle nor the contradiction hold of what is undecided, and must not.
func TestLaws(t *testing.T) {
	equal := func(law string, a, b Value) {
		t.Helper()
		if a != b {
			t.Errorf("%s: %s and %s", law, a, b)
		}
	}
	for _, a := range all {
		equal("not not a", Not(Not(a)), a)
		equal("a and a", And(a, a), a)
		equal("a or a", Or(a, a), a)
		for _, b := range all {
			equal("a and b", And(a, b), And(b, a))
			equal("a or b", Or(a, b), Or(b, a))
			equal("not (a and b)", Not(And(a, b)), Or(Not(a), Not(b)))
			equal("not (a or b)", Not(Or(a, b)), And(Not(a), Not(b)))
			equal("a and (a or b)", And(a, Or(a, b)), a)
			for _, c := range all {
				equal("(a and b) and c", And(And(a, b), c), And(a, And(b, c)))
				equal("(a or b) or c", Or(Or(a, b), c), Or(a, Or(b, c)))
				equal("a and (b or c)", And(a, Or(b, c)), Or(And(a, b), And(a, c)))
			}
		}
	}
	equal("a or not a", Or(Undecided, Not(Undecided)), Undecided)
	equal("a and not a", And(Undecided, Not(Undecided)), Undecided)
}

// TestDeciding: settling what was undecided leaves every decided result as it was. This is the definition of Kleene's
// tables as the strongest with that property: what every settling agrees on is decided.
func TestDeciding(t *testing.T) {
	settle := func(a Value) []Value {
		if a == Undecided {
			return []Value{Holds, Fails}
		}
		return []Value{a}
	}
	for name, op := range map[string]func(a, b Value) Value{"and": And, "or": Or} {
		for _, a := range all {
			for _, b := range all {
				var outcomes []Value
				for _, x := range settle(a) {
					for _, y := range settle(b) {
						outcomes = append(outcomes, op(x, y))
					}
				}
				slices.Sort(outcomes)
				want := Undecided
				if outcomes = slices.Compact(outcomes); len(outcomes) == 1 {
					want = outcomes[0]
				}
				if got := op(a, b); got != want {
					t.Errorf("%s %s %s is %s; settled every way it is %v", a, name, b, got, outcomes)
				}
			}
		}
	}
}

func TestOf(t *testing.T) {
	if Of(true) != Holds || Of(false) != Fails {
		t.Error("what is known is not what it is")
	}
}

// TestMerge: joining causes is joining sets, in whatever order they come.
func TestMerge(t *testing.T) {
	causes := []Cause{{Name: "ri", Why: Straddles, Says: "1.77", By: 0.002},
		{Name: "ri", Why: Straddles, Says: "1.77", By: 0.001},
		{Name: "inclusions", Why: NotLookedFor, Of: "feather"}, {Name: "inclusions", Why: NotLookedFor, Of: "crystal"},
		{Name: "ri", Why: Absent}}
	want := Merge(causes)
	if len(want) != len(causes) || !slices.IsSortedFunc(want, compare) {
		t.Fatalf("%v", want)
	}
	reversed := slices.Clone(causes)
	slices.Reverse(reversed)
	for _, sets := range [][][]Cause{{reversed}, {causes, reversed}, {causes[3:], nil, causes[:4]}, {want, want}} {
		if got := Merge(sets...); !slices.Equal(got, want) {
			t.Errorf("%v: %v", sets, got)
		}
	}
	if got := Merge(); len(got) != 0 {
		t.Errorf("of nothing: %v", got)
	}
}

// TestJSON: the words of files and output.
func TestJSON(t *testing.T) {
	got, err := json.Marshal([]any{Holds, Fails, Undecided, Cause{Name: "ri", Why: Straddles, Says: "1.77", By: 0.5},
		Cause{Name: "x", Why: NotLookedFor, Of: "y"}})
	want := `["holds","fails","undecided",{"name":"ri","why":"straddles","says":"1.77","by":0.5},{"name":"x","why":"not looked for","detail":"y"}]`
	if err != nil || string(got) != want {
		t.Errorf("%s, %v", got, err)
	}
	if Why(99).String() != "unknown" {
		t.Errorf("a cause that there is not is called %q", Why(99))
	}
}
