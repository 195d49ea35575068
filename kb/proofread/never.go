package proofread

import (
	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/sat"
)

var (
	neverHolds = diag.New("never-holds", "A rule can never fire.",
		`No stone and no readings make the rule fire: not sharp ones, not uncertain ones, not missing ones. Taken into account
are the span of each observable and what its tests can read, what facts rest on, and what rules set aside. Where two parts contradict each
other, both are shown.`)
	alwaysHolds = diag.New("always-holds", "A condition can't fail, whatever is read.",
		`A condition that can't fail is no condition: whenever its readings are there it holds. A threshold outside the span of
its observable and a list of all choices are the usual reasons. If the reading's being there is what is meant, write seen(...).`)
	neverExcepted = diag.New("never-excepted", "The exception of a rule can't be made where its condition holds.",
		`Wherever the condition under "if" holds the one under "unless" fails, so the exception keeps the rule from nothing. (An
exception that is undecided does keep a rule from firing.)`)
	idlePart = diag.New("idle-part", "A part of a condition decides nothing.",
		`Without this part the condition holds and fails in exactly the same cases, or the part can never hold beside an "or", or
can't fail within an "and". Often a threshold was changed in one place and not in the other.`)
	withholdsNothing = diag.New("withholds-nothing",
		"A rule keeps back a name that no verdict would give where it fires.",
		`A rule's withholds: names a material or group that no verdict could give where the rule fires: a mere filing group,
below which nothing can be named, or one that the sheets exclude on the very readings that make the rule fire. Mostly the name, or a
threshold, is a slip.`)
)

func init() {
	Register(Check{Order: 10, Look: conditions, Finds: []diag.Code{neverHolds, alwaysHolds, neverExcepted,
		idlePart, withholdsNothing}})
}

// conditions finds rules that can never fire, conditions that can't fail, exceptions that are never made, and parts
// that decide nothing. Of one condition the first of these is told: the others often follow from it. A rule that reads
// a fact that nobody establishes is left alone, as that is told by itself.
func conditions(p *Pass) {
	for r := range p.rules {
		if p.looks.unmade(r.Slots()) || p.never(r) {
			continue
		}
		switch {
		case r.If == nil:
		case r.Table != nil:
			p.idleItems(r)
		case !p.idleParts(r, "if", r.If):
			p.always(r)
		}
		if r.Unless != nil && !p.neverExcepted(r) {
			p.idleParts(r, "unless", r.Unless)
		}
		if r.Withholds != nil {
			p.withholding(r)
		}
	}
}

func (p *Pass) never(r *kb.Rule) bool {
	if p.can(p.space.Fires(r)) {
		return false
	}
	key, says, detail, related := "if", "", "", []diag.Related(nil)
	switch {
	case r.If != nil && !p.can(p.space.Holds(r.If.Root)):
		says, related = "the condition of %q can never hold", p.clash(r)
		detail = "No reading, sharp or uncertain, and no stone makes it so. Look for bounds that are swapped, an " +
			"\"and\" for an \"or\", a threshold that no test reads, a reading that is always set aside."
	case r.Unless != nil && !p.can(p.space.FailsAt(r.Unless.Root)):
		key, says = "unless", "%q can never fire: its exception can never be ruled out"
		detail = "Whatever is read, the exception holds or stays undecided, and either keeps the rule from firing."
	case r.ReplacedBy != nil && !p.can(p.space.InForce(r)):
		says = "%q is never in force: rules that replace it are, on all of its days"
		detail = "Retire it, or mend the dates."
		related = []diag.Related{{Span: r.ReplacedBy.Place.Span, Says: "replaces it"}}
	case r.Unless == nil || p.can(sat.And(p.either(r.If), p.space.FailsAt(r.Unless.Root))):
		says = "%q can never fire: on no day on which it is in force can its condition hold"
		detail, related = "What it reads is established on other days only. Let the dates meet.", p.otherDays(r)
	default:
		key, says = "unless", "%q can never fire: its exception applies wherever its condition holds"
		detail = "Nothing is left to fire on. Narrow the exception, or take the rule out."
	}
	f := p.warn(r, key, neverHolds, says, r.ID)
	f.Detail, f.Related = detail, related
	return true
}

// otherDays are the dates of a rule, and of those that establish what it reads.
func (p *Pass) otherDays(r *kb.Rule) (out []diag.Related) {
	add := func(r *kb.Rule, says string) {
		for _, key := range []string{"since", "until"} {
			if at, has := r.Keys[key]; has {
				out = append(out, diag.Related{Span: at, Says: says + key})
			}
		}
	}
	add(r, "its ")
	for _, slot := range r.Slots() {
		if f := p.looks.fact(slot); f != nil {
			for _, by := range f.By[:min(len(f.By), 3)] {
				add(by, f.Name+" is established by "+by.ID+", whose ")
			}
		}
	}
	return out
}

// clash finds the part of a condition that can't hold, or two that can't hold together, and what other rules have to do
// with it.
func (p *Pass) clash(r *kb.Rule) []diag.Related {
	parts, says := []*condition.Node{r.If.Root}, []string{""}
	if r.If.Root.Op == condition.And {
		parts, says = p.clashing(r.If.Root.Kids)
	}
	var out []diag.Related
	for i, n := range parts {
		if says[i] != "" {
			out = append(out, diag.Related{Span: r.Part("if", n.Start, n.End), Says: says[i]})
		}
		out = append(out, p.behind(n)...)
	}
	return out
}

func (p *Pass) clashing(kids []*condition.Node) (parts []*condition.Node, says []string) {
	for _, k := range kids {
		if !p.can(p.space.Holds(k)) {
			return []*condition.Node{k}, []string{"this can never hold"}
		}
	}
	for i, a := range kids {
		for _, b := range kids[i+1:] {
			if !p.can(sat.And(p.space.Holds(a), p.space.Holds(b))) {
				return []*condition.Node{a, b}, []string{"this", "and this can't both hold"}
			}
		}
	}
	return nil, nil
}

// behind lists the rules that establish the facts of a part, and those that set its readings aside in every case.
func (p *Pass) behind(n *condition.Node) (out []diag.Related) {
	for _, leaf := range n.Leaves() {
		for _, slot := range leaf.Leaf.Slots() {
			if f := p.looks.fact(slot); f != nil {
				out = append(out, related(f.Name+" is established here", f.By[:min(len(f.By), 3)])...)
			}
			for _, r := range p.looks.setters[slot] {
				if !p.can(sat.Not(p.space.Fires(r))) {
					out = append(out, diag.Related{Span: r.Place.Span,
						Says: "always sets " + p.Ruleset.Scope.At(slot).Name + " aside"})
				}
			}
		}
	}
	return out
}

func (p *Pass) always(r *kb.Rule) {
	if p.can(p.space.FailsAt(r.If.Root)) {
		return
	}
	f := p.warn(r, "if", alwaysHolds, "the condition of %q can't fail", r.ID)
	f.Detail = "Whatever is read, it holds or stays undecided. If all it should ask is whether the reading was made, " +
		"write seen(...); else mend it, or leave it out."
	if len(r.If.Reads) == 0 {
		f.Detail = "It reads nothing. Leave it out: a rule without condition applies always."
	}
}

func (p *Pass) neverExcepted(r *kb.Rule) bool {
	detail := ""
	switch {
	case !p.can(sat.And(p.either(r.If), sat.Not(p.space.FailsAt(r.Unless.Root)))):
		detail = "Wherever the condition holds the exception fails, so it keeps the rule from nothing."
	case !p.can(p.space.Holds(r.Unless.Root)):
		detail = "It can never hold: all it does is to keep the rule waiting while it is undecided."
	default:
		return false
	}
	p.warn(r, "unless", neverExcepted, "the exception of %q is never made", r.ID).Detail = detail
	return true
}

// either is when a condition holds; one that is not there holds always.
func (p *Pass) either(c *condition.Condition) *sat.Formula {
	if c == nil {
		return sat.True
	}
	return p.space.Holds(c.Root)
}
