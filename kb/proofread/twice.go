package proofread

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/bitset"
	"whystone/kb/diag"
	"whystone/kb/sat"
)

var (
	countsTwice = diag.New("counts-twice",
		"A rule excludes again what another excludes on the same reading, and counts it in another family.",
		`Wherever the rule fires another does, which rests on part of the same readings and excludes the same materials, and the two say
different families. Exclusions of two families count as two pieces of evidence that rest on unlike physics; here it is one reading. Give
both the family of the reading that they share, or let the rule exclude what the other doesn't. Where the rule reads something of its
own family besides it is a note.`)
	nothingLeft = diag.New("nothing-left", "Rules that fire on the same readings exclude every material together.",
		`There is a case, the witness, in which rules that rest on the same readings fire together and leave no material: each verdict
there is contradictory, whatever else is read. Rules on unlike readings may well leave nothing, where the readings can't be true
together; that is no finding.`)
)

func init() {
	Register(Check{Order: 21, Look: twice, Finds: []diag.Code{countsTwice}})
	Register(Check{Order: 61, Look: leavesNothing, Finds: []diag.Code{nothingLeft}})
}

// twice finds exclusions that rest on a reading which another rule excludes the same by, in another family.
func twice(p *Pass) {
	rules := p.Ruleset.Order
	for _, a := range rules {
		if p.over() {
			return
		}
		if a.Excludes == nil || len(a.Excludes.Leaves) == 0 || p.hard(a) {
			continue
		}
		for _, b := range rules {
			if a == b || b.Status != kb.Active || b.Excludes == nil || a.Family == b.Family || insteadOf(a, b) ||
				p.hard(b) || !leavesWithin(a.Excludes.Leaves, b.Excludes.Leaves) || !subset(b.Basis, a.Basis) ||
				!p.looks.neededBy(b).Within(p.looks.rule(a)) || !p.within(a, b) {
				continue
			}
			d := warning(countsTwice, diag.Span{}, "%q excludes what %q excludes wherever it fires, and counts it as "+
				"%s beside %s", a.ID, b.ID, a.Family, b.Family)
			d.Detail = "Both rest on one reading, which would count as two. Give both one family, or take the rule out."
			d.Related = related("the other", []*kb.Rule{b})
			if ownReading(a, b) {
				d.Severity = diag.Note
				d.Detail = fmt.Sprintf("It reads something of %s besides. If that by itself excludes them, ask for "+
					"it alone; else it adds nothing to the other.", a.Family)
			}
			f := p.about(a, "excludes", d, b)
			f.Witness, _ = p.witness(sat.And(p.space.Fires(a), p.space.Fires(b)), "counts-twice-"+a.ID+"-"+b.ID,
				fired(a, b))
			break
		}
	}
}

// ownReading tells whether a rule rests on a reading of its own family that another doesn't rest on.
func ownReading(a, b *kb.Rule) bool {
	return slices.ContainsFunc(a.Basis, func(atom kb.Atom) bool {
		return atom.Observable.Family == a.Family && !slices.Contains(b.Basis, atom)
	})
}

// maxSets bounds how many sets of rules are looked at for what they leave together.
const maxSets = 200_000

// excluder is a rule with how much it excludes.
type excluder struct {
	*kb.Rule
	out, rests bitset.Set
	n          int
}

// leavesNothing finds rules, up to three, that rest on the same readings, fire together, and exclude all materials.
func leavesNothing(p *Pass) {
	var rules []excluder
	for _, r := range p.Ruleset.Order {
		if r.Excludes != nil && len(r.Excludes.Leaves) > 0 {
			x := excluder{Rule: r, rests: p.pullOf(r).rests, n: len(r.Excludes.Leaves)}
			for _, l := range r.Excludes.Leaves {
				x.out.Add(l)
			}
			rules = append(rules, x)
		}
	}
	slices.SortStableFunc(rules, func(a, b excluder) int { return b.n - a.n })
	all, left := len(p.Ruleset.Leaves), maxSets
	told := map[*kb.Rule]bool{}
	var look func(set []excluder, from int)
	look = func(set []excluder, from int) {
		for i := from; i < len(rules) && left > 0 && !p.over(); i++ {
			next := append(slices.Clone(set), rules[i])
			most := 0
			for _, x := range next {
				most += x.n
			}
			if most+(3-len(next))*rules[i].n < all {
				return // those that follow exclude no more
			}
			if left--; told[rules[i].Rule] || !rules[i].sharesRest(next) {
				continue
			}
			if leaveNone(next, all) {
				p.asking(rules[i].Rule)
				p.togetherNothing(next, told)
			} else if len(next) < 3 {
				look(next, i+1)
			}
		}
	}
	look(nil, 0)
}

// sharesRest tells whether a rule rests on no more than each of others does, or they on no more than it.
func (x excluder) sharesRest(set []excluder) bool {
	return !slices.ContainsFunc(set, func(o excluder) bool {
		return !o.rests.Within(x.rests) && !x.rests.Within(o.rests)
	})
}

// leaveNone tells whether rules exclude so many materials together.
func leaveNone(set []excluder, all int) bool {
	var out bitset.Set
	for _, x := range set {
		out.Union(x.out)
	}
	return len(out.Members()) == all
}

// togetherNothing tells of rules that fire together, if they can.
func (p *Pass) togetherNothing(set []excluder, told map[*kb.Rule]bool) {
	var rules []*kb.Rule
	together := sat.True
	for _, x := range set {
		rules, together = append(rules, x.Rule), sat.And(together, p.space.Fires(x.Rule))
	}
	if p.can(together) {
		p.leavesNothing(rules, together, told)
	}
}

func (p *Pass) leavesNothing(set []*kb.Rule, together *sat.Formula, told map[*kb.Rule]bool) {
	a := slices.MaxFunc(set, p.byLayer)
	others := slices.DeleteFunc(slices.Clone(set), func(r *kb.Rule) bool { return r == a })
	id := "nothing-left"
	for _, r := range set {
		id += "-" + r.ID
	}
	w, why := p.witness(together, id, fired(set...))
	if w == nil {
		p.doubtful(why)
		return
	}
	d := warning(nothingLeft, diag.Span{}, "%q excludes every material", a.ID)
	d.Detail = "Every verdict where it fires is contradictory. Name what is not excluded, or send the stone on."
	if len(others) > 0 {
		d.Summary = fmt.Sprintf("%q and %s fire on the same readings and leave no material together", a.ID,
			someOf(others))
		d.Detail = "Every verdict there is contradictory. Narrow one of the conditions, or what is excluded."
		d.Related = related("the other", others)
	}
	for _, r := range set {
		told[r] = true
	}
	p.about(a, "excludes", d, others...).Witness = w
}
