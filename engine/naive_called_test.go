package engine_test

import (
	"fmt"
	"slices"
	"strings"

	"whystone/engine"
)

// What is told beside the verdict, naively: tests that are called for, what is set aside and flagged, exceptions that
// are waited for, drafts.

// askingRules draws rules that call for tests or forbid them.
func (d *drawn) askingRules(facts map[string][]string) {
	tests := []string{"refractometer", "spectrometer", "balance", "calipers", "polariscope", "probe", "eye", "lamp",
		"loupe"}
	for i := range d.IntN(6) {
		t := pick(d, term{text: "stone.mounted"}, term{text: "not stone.wet"}, term{}, d.observation(facts, ""))
		effects := []string{pick(d, "calls_for: ", "calls_for: ", "forbids: ") + quoted(some(d, tests, 1+d.IntN(3)))}
		if d.chance(0.2) {
			effects = []string{"calls_for: " + quoted(some(d, tests, 3)), "forbids: " + quoted(some(d, tests, 2))}
		}
		d.rule(fmt.Sprintf("t%d", i), t, term{}, effects, pick(d, "", "", "", "status: draft", "since: 2031-06-01"))
	}
}

// called lists the tests that a rule that fires calls for, less those of which all is read, those that a rule that
// fires forbids, and those that the stone does not suit; with the reasons that took any out.
func (v *opinion) called() (called []string, hushed map[string]bool) {
	forbidden, hushed := set{}, map[string]bool{}
	for _, r := range v.rules {
		for _, t := range r.forbids {
			forbidden[t] = forbidden[t] || v.fires(r)
		}
	}
	for _, r := range v.rules {
		for _, t := range r.callsFor {
			switch {
			case !v.fires(r):
			case v.allRead(t):
				hushed["read"] = true
			case forbidden[t]:
				hushed["forbidden"] = true
			case v.lacks(t) != "":
				hushed["unsuited"] = true
			default:
				called = append(called, r.id+" "+t)
			}
		}
	}
	slices.Sort(called)
	return called, hushed
}

// lacks is a need of a test that is known to fail.
func (v *opinion) lacks(test string) string {
	for _, need := range v.tests[test].needs {
		if v.ofStone(v.c).is(v.parse(need.at("if").text(""))) == isFailing {
			return need.at("says").text("")
		}
	}
	return ""
}

// allRead tells whether a reading of everything that a test gives is there, set aside by a rule or not.
func (v *opinion) allRead(test string) bool {
	for name := range v.tests[test].yields {
		if !slices.ContainsFunc(v.c.readings, func(r *naiveReading) bool { return r.o.name == name && r.usable() }) {
			return false
		}
	}
	return true
}

// setAside: "`set_aside` in the output lists only what the case has"; what a state of the stone spoils is told with
// the test whose need is the reason.
func (v *opinion) setAside() (out []string) {
	had := set{}
	for _, r := range v.c.readings {
		had[r.o.name] = true
		if r.spoilt != "" {
			out = append(out, r.o.name+" of "+sorted(r.tests)[0])
		}
	}
	if !had["birefringence"] && len(v.turned()) > 0 {
		had["birefringence"] = true
	}
	for name := range had {
		for _, r := range v.setters(name) {
			out = append(out, name+" by "+r.id)
		}
	}
	slices.Sort(out)
	return out
}

// waiting: "an undecided exception keeps the rule from firing and is listed as waiting".
func (v *opinion) waiting() (out []string) {
	for _, r := range v.rules {
		if only, whole := v.condition(r); r.status == "active" && v.inForce(r) && only == isHolding &&
			whole != isHolding && whole != isFailing {
			out = append(out, r.id)
		}
	}
	return out
}

// drafts: "A draft is evaluated and shown beside the verdict".
func (v *opinion) drafts() (out []string) {
	for _, r := range v.rules {
		if r.status == "draft" && v.truth(r) == isHolding {
			out = append(out, r.id)
		}
	}
	return out
}

// doing lists the rules that fire and ask for or forbid something, with what it is.
func (v *opinion) doing(key string) (out []string) {
	for _, r := range v.rules {
		for _, what := range r.sheet.at(key).texts() {
			if v.fires(r) && key == "forbids" {
				out = append(out, r.id+" "+what)
			} else if v.fires(r) {
				out = append(out, r.id)
			}
		}
	}
	slices.Sort(out)
	return out
}

// flagged: "For other needs that fail it counts and is flagged; needs that are undecided are not told." What stayed
// inconclusive is told, too.
func (v *opinion) flagged() (out []string) {
	for _, r := range v.c.readings {
		switch {
		case r.spoilt != "":
		case !r.usable():
			out = append(out, r.o.name)
		default:
			for t := range r.tests {
				if v.lacks(t) != "" {
					v.met["flagged"] = true
					out = append(out, r.o.name)
				}
			}
		}
	}
	slices.Sort(out)
	return out
}

// toldBack lists what is not told of rules that keep back all names: "the verdict ... tells the rule's words and what
// would lift it".
func (v *opinion) toldBack(got *engine.Explained) (out []string) {
	told := got.Says
	var lifted []string
	for _, n := range got.Missing {
		told += "\n" + n.Says
		lifted = append(lifted, n.Observables...)
	}
	for _, r := range v.keptBack {
		if says := strings.TrimSuffix(r.sheet.at("says").text(""), "."); !strings.Contains(told, says) {
			out = append(out, "the words of "+r.id+" are not told")
		}
		if r.withholds.until == "" {
			continue
		}
		named, _ := names(v.parse(r.withholds.until))
		for _, name := range named {
			if v.observables[name] != nil && !slices.Contains(lifted, name) {
				out = append(out, "that "+name+" may lift "+r.id+" is not told")
			}
		}
	}
	return out
}

// byRule lists notes as rule and, if they have one, test.
func byRule(notes []engine.Note) (out []string) {
	for _, n := range notes {
		if n.Rule == nil {
			continue
		}
		if out = append(out, *n.Rule); n.Test != nil {
			out[len(out)-1] += " " + *n.Test
		}
	}
	slices.Sort(out)
	return out
}
