package engine_test

import (
	"fmt"
	"slices"

	"whystone/engine"
)

// Which tests are called for, naively: those that a rule that fires calls for, less those of which all is read, those that
// a rule that fires forbids, and those that the stone does not suit.

// drawnNeeds is what drawn tests need, as their sheets write it, and whether a stone is known not to have it.
var drawnNeeds = map[string]struct {
	need  string
	lacks func(v *opinion) bool
}{
	"balance": {"not stone.mounted", func(v *opinion) bool { return v.c.Stone.Mounted != nil && *v.c.Stone.Mounted }},
	"probe":   {"not stone.wet", func(v *opinion) bool { return v.c.Stone.Wet != nil && *v.c.Stone.Wet }},
	"loupe":   {"stone.carat > 0.9", func(v *opinion) bool { return v.c.Stone.Carat != nil && *v.c.Stone.Carat <= 0.9 }},
}

// askingRules draws rules that call for tests or forbid them.
func (d *drawn) askingRules(facts map[string][]string) {
	tests := []string{"refractometer", "spectrometer", "balance", "calipers", "polariscope", "probe", "eye", "lamp", "loupe"}
	for i := range d.IntN(6) {
		t := pick(d, term{text: "stone.mounted"}, term{text: "not stone.wet"}, term{}, d.observation(facts, ""))
		effects := []string{pick(d, "calls_for: ", "calls_for: ", "forbids: ") + quoted(some(d, tests, 1+d.IntN(3)))}
		if d.chance(0.2) {
			effects = []string{"calls_for: " + quoted(some(d, tests, 3)), "forbids: " + quoted(some(d, tests, 2))}
		}
		d.rule(fmt.Sprintf("t%d", i), t, term{}, effects, pick(d, "", "", "", "status: draft", "since: 2031-06-01"))
	}
}

func (v *opinion) called() (called []string, hushed map[string]bool) {
	forbidden, hushed := map[string]bool{}, map[string]bool{}
	for _, r := range v.fires {
		for _, t := range r.Forbids {
			forbidden[t] = true
		}
	}
	for _, r := range v.fires {
		for _, t := range r.CallsFor {
			need, has := drawnNeeds[t]
			switch {
			case v.allRead(t):
				hushed["read"] = true
			case forbidden[t]:
				hushed["forbidden"] = true
			case has && need.lacks(v):
				hushed["unsuited"] = true
			default:
				called = append(called, r.ID+" "+t)
			}
		}
	}
	slices.Sort(called)
	return called, hushed
}

// allRead tells whether a reading of everything that a test gives is there, set aside or not.
func (v *opinion) allRead(test string) bool {
	for _, y := range v.rs.Test(test).Yields {
		read := false
		for _, r := range v.c.Readings {
			read = read || r.Observable == y.Observable && r.Usable()
		}
		if !read {
			return false
		}
	}
	return true
}

// asked lists notes as rule and test.
func asked(notes []engine.Note) (out []string) {
	for _, n := range notes {
		out = append(out, *n.Rule+" "+*n.Test)
	}
	slices.Sort(out)
	return out
}
