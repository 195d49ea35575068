package next

import (
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"
	"whystone/engine"
)

func TestX(t *testing.T) {
	rs := load(t)
	e := engine.Prepare(rs)
	a := New(e)
	cs := demoCases(t, rs)
	cs["x-thermal"] = read(t, rs, "x", "case: x\nstone: {mounted: false, warm: false, wet: false, coated: false, carat: 1.0, cut: round brilliant}\nreadings: {thermal_probe: diamond range}\n")
	cs["y-thermal"] = read(t, rs, "x", "case: x\nclaim: diamond\nstone: {mounted: false, warm: false, wet: false, coated: false, carat: 1.0, cut: round brilliant}\nreadings: {thermal_probe: below diamond range}\n")
	cs["z-none"] = read(t, rs, "x", "case: x\nreadings: {}\n")
	fmt.Println(len(rs.Leaves), len(rs.Tests), len(rs.Rules))
	for _, k := range slices.Sorted(maps.Keys(cs)) {
		t0 := time.Now()
		ad := a.Next(cs[k], noon, Options{})
		el := time.Since(t0)
		fmt.Printf("== %s %v now %s\n  %s %s %v H=%.3f L=%.1f\n", k, el, ad.Now.Says, ad.Action, ad.Says, ad.Because, ad.Entropy, ad.Loss)
		for i, s := range ad.Tests {
			if i > 6 {
				break
			}
			fmt.Printf("   %-22s drop %.4f red %.2f net %.2f further %.3f  %+v look %s/%s n=%d", s.Test, s.EntropyDrop, s.LossReduction, s.Net, s.Further, s.Verdicts, s.Looks[0].Observable, s.Looks[0].Feature, len(s.Outcomes))
			if s.Then != nil {
				fmt.Printf(" then %s %.3f %.2f %.3f", s.Then.Test, s.Then.EntropyDrop, s.Then.LossReduction, s.Then.Further)
			}
			fmt.Println("\n       ", s.Says)
		}
	}
}
