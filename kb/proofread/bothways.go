package proofread

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/bitset"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/sat"
)

var pullsBothWays = diag.New("pulls-both-ways",
	"Two rules that fire on the same reading speak for and against one material.",
	`Two rules that rest on the same readings can fire on the same case, and one speaks for a material while the other speaks
against it or excludes it. The witness is such a case. Where one reads more than the other and fires only where the other does,
too, it may be meant as its exception, and it is a note. Rules on unlike readings may well disagree about a stone; that is what
weighing is for, and no finding.`)

func init() { Register(Check{Order: 60, Look: bothWays, Finds: []diag.Code{pullsBothWays}}) }

// bothWays finds rules that can fire together and pull a material both ways (one supports what the other weakens or
// excludes) on the same readings. Rules with readings of their own may well disagree about a stone: that is what
// weighing is for. Where one reads more than the other and fires only where the other does, too, it may be meant as its
// exception: that is a note.
func bothWays(p *Pass) {
	rules := slices.DeleteFunc(slices.Clone(p.Ruleset.Order), func(r *kb.Rule) bool { return !r.Evidence() })
	pulls := english.Each(rules, p.pullOf)
	told := map[*kb.Rule]*opposedRules{}
	for i, a := range rules {
		if p.over() {
			return
		}
		p.asking(a)
		if leaves := pulls[i].up.Both(pulls[i].down); len(leaves) > 0 && p.can(p.space.Fires(a)) {
			p.bothWaysAlone(a, leaves)
		}
		for j := i + 1; j < len(rules); j++ {
			if x, y := &pulls[i], &pulls[j]; !insteadOf(a, rules[j]) && x.against(y) &&
				(x.rests.Within(y.rests) || y.rests.Within(x.rests)) {
				p.bothWays(a, rules[j], x, y, told)
			}
		}
	}
	for _, r := range rules {
		if t := told[r]; t != nil && t.more > 0 {
			p.found[t.last].Detail += fmt.Sprintf(" %s against %q in the same way.",
				english.Count(t.more, "more rule pulls", "more rules pull"), r.ID)
		}
	}
}

// mostOpposed is how many rules that pull against one are told one by one. Where rules are many and overlap, pairs are
// their square, and nobody reads on.
const mostOpposed = 5

// opposedRules are those that pull against a rule: how many were told, the last of these findings, and how many more
// there are.
type opposedRules struct{ told, last, more int }

// bothWaysAlone tells of a rule that speaks for and against a material by itself.
func (p *Pass) bothWaysAlone(r *kb.Rule, leaves []int) {
	w, _ := p.witness(p.space.Fires(r), "pulls-both-ways-"+r.ID, fired(r))
	f := p.warn(r, "rule", pullsBothWays, "%q speaks both for and against %s", r.ID, p.names(leaves))
	f.Detail, f.Witness = "What it names on one side should not be among what it names on the other, a group's "+
		"materials included.", w
}

func (p *Pass) bothWays(a, b *kb.Rule, x, y *pull, told map[*kb.Rule]*opposedRules) {
	p.asking(a, b)
	together := sat.And(p.space.Fires(a), p.space.Fires(b))
	more, less := a, b
	if x.rests.Within(y.rests) {
		more, less = b, a
	}
	same := x.rests.Within(y.rests) && y.rests.Within(x.rests)
	if !p.can(together) || !same && p.can(sat.And(p.space.Fires(more), sat.Not(p.space.Fires(less)))) {
		return
	}
	if up := p.layer(b) - p.layer(a); up > 0 || up == 0 && b.ID < a.ID {
		a, b, x, y = b, a, y, x // told of the one of the higher layer, whose author can change it
	}
	of := told[a]
	if of == nil {
		of = &opposedRules{}
		told[a] = of
	}
	accepted := accepts(a, pullsBothWays, b) || accepts(b, pullsBothWays, a)
	if !accepted && of.told == mostOpposed {
		of.more++
		return
	}
	w, why := p.witness(together, "pulls-both-ways-"+a.ID+"-"+b.ID, fired(a, b))
	if w == nil {
		p.doubtful(why)
		return
	}
	d := diag.Diagnostic{Code: pullsBothWays, Severity: diag.Warning, Summary: p.opposed(a, b, x, y) +
		", on the same readings", Detail: "Of the two only the stronger counts. Narrow one of the conditions, or " +
		"accept it and say why both are meant.",
		Related: []diag.Related{{Span: b.Place.Span, Says: "the other"}}}
	if !same {
		d.Severity, d.Summary = diag.Note, p.opposed(a, b, x, y)
		d.Detail = fmt.Sprintf("%q reads more, and fires only where %q does. If it is an exception to that, write it "+
			"there, under unless.", more.ID, less.ID)
	}
	p.about(a, "rule", d, b).Witness = w
	if !accepted {
		of.told, of.last = of.told+1, len(p.found)-1
	}
}

// opposed says which of two rules speaks for what, and which against.
func (p *Pass) opposed(a, b *kb.Rule, x, y *pull) string {
	up, down := x.up.Both(y.down), y.up.Both(x.down)
	switch {
	case len(down) == 0:
		return fmt.Sprintf("%q speaks for %s and %q against", a.ID, p.names(up), b.ID)
	case len(up) == 0:
		return fmt.Sprintf("%q speaks against %s and %q for", a.ID, p.names(down), b.ID)
	}
	return fmt.Sprintf("%q speaks for %s and against %s, and %q the other way round", a.ID, p.names(up), p.names(down),
		b.ID)
}

// names lists materials in words, a few of them.
func (p *Pass) names(leaves []int) string {
	return english.List(english.Few(english.Each(leaves, func(l int) string {
		if l == len(p.Ruleset.Leaves) {
			return "what is not listed"
		}
		return p.Ruleset.Leaves[l].Name
	}), 3), "and")
}

// pull is what a rule speaks for and against, and what it rests on.
type pull struct {
	up, down bitset.Set // leaves, and beyond them what is not listed
	rests    bitset.Set // its basis, numbered
}

func (p *Pass) pullOf(r *kb.Rule) (out pull) {
	for _, w := range r.Weights {
		to := &out.up
		switch {
		case w.Ratio == 1:
			continue
		case w.Ratio < 1:
			to = &out.down
		}
		for _, l := range w.Leaves {
			to.Add(l)
		}
		if w.Unlisted {
			to.Add(len(p.Ruleset.Leaves))
		}
	}
	if r.Excludes != nil {
		for _, l := range r.Excludes.Leaves {
			out.down.Add(l)
		}
	}
	for _, atom := range r.Basis {
		i, ok := p.atoms[atom]
		if !ok {
			i = len(p.atoms)
			p.atoms[atom] = i
		}
		out.rests.Add(i)
	}
	return out
}

// against tells whether two rules pull some material both ways.
func (x *pull) against(y *pull) bool { return x.up.Meets(y.down) || y.up.Meets(x.down) }
