package catalog

import (
	"os"
	"slices"
	"testing"

	"whystone/kb/load"
)

// TestNames: what is listed is just what a condition's scope knows, each with the tests that give it, or the rules.
func TestNames(t *testing.T) {
	rs, found := load.Load(t.Context(), []load.Layer{{Name: "shipped", FS: os.DirFS("../../../rulesets/diamond-desk")}})
	if rs == nil {
		t.Fatal(found)
	}
	var names, kinds []string
	families := []string{}
	for _, n := range Names(rs) {
		names = append(names, n.Name)
		if !slices.Contains(kinds, n.Of) {
			kinds = append(kinds, n.Of)
		}
		if n.Of == Observable {
			if len(families) == 0 || families[len(families)-1] != n.Family {
				families = append(families, n.Family)
			}
			for _, x := range rs.Tests {
				gives := slices.ContainsFunc(OfTest(x).Yields, func(y Yield) bool { return y.Observable == n.Name })
				if gives != slices.Contains(n.Tests, x.ID) {
					t.Errorf("%s and %s: given is %t", x.ID, n.Name, gives)
				}
			}
		}
		for _, r := range rs.Rules {
			if does := slices.Contains(OfRule(rs, r).Establishes, n.Name); does != slices.Contains(n.Rules, r.ID) {
				t.Errorf("%s and %s: established is %t", r.ID, n.Name, does)
			}
		}
		if got := rs.Scope.Symbol(n.Name); got == nil || got.Kind.String() != n.Kind ||
			(len(n.Tests) > 0) != (n.Of == Observable) || (len(n.Rules) > 0) != (n.Of == Fact) {
			t.Errorf("%+v", n)
		}
	}
	if slices.Sort(names); !slices.Equal(names, rs.Scope.Names()) {
		t.Errorf("%v, and a condition may name %v", names, rs.Scope.Names())
	}
	if !slices.Equal(kinds, []string{Observable, Stone, Case, Fact}) || !slices.IsSorted(families) ||
		len(slices.Compact(families)) < 8 {
		t.Errorf("%v, %v", kinds, families)
	}
}
