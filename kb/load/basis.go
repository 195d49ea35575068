package load

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// settleBasis finds what each rule's evidence rests on and its family.
func (b *ruleBuilder) settleBasis(r *kb.Rule) {
	atoms := map[kb.Atom]bool{}
	b.collect(r, atoms, map[*kb.Rule]bool{})
	r.Basis = slices.SortedFunc(maps.Keys(atoms), compareAtoms)
	for _, a := range r.Basis {
		if !slices.Contains(r.Observes, a.Observable) {
			r.Observes = append(r.Observes, a.Observable)
		}
	}
	if !r.Evidence() || r.Status == kb.Retired || r.If == nil && !b.at[r].Get("if").IsNull() {
		return // a condition that can't be read was reported, and what it names is not known
	}
	b.settleFamily(r, familiesOf(r.Observes))
	if r.Excludes != nil && len(r.Observes) == 0 {
		b.at[r].errorf(diag.FamilyNeeded, b.at[r].Get("excludes"),
			"an exclusion rests on readings, and the condition names none")
	}
}

func (b *ruleBuilder) settleFamily(r *kb.Rule, families []string) {
	s := b.at[r]
	v := s.Get("family")
	known := familiesOf(b.rs.Vocabulary.Observables)
	switch {
	case r.Family != "" && !slices.Contains(known, r.Family):
		s.unknown(diag.UnknownName, v, r.Family, known, "no observable is of a family %q", r.Family)
	case len(families) == 1 && r.Family != "" && r.Family != families[0]:
		s.errorf(diag.FamilyNeeded, v, "the condition rests on %s alone, so that is the family", families[0])
	case len(families) == 1:
		r.Family = families[0]
	case r.Family == "" && len(families) == 0:
		s.errorf(diag.FamilyNeeded, s.Node,
			"the condition of %q names no reading: say in which family its evidence counts", r.ID)
	case r.Family == "":
		d := s.errorf(diag.FamilyNeeded, s.Node,
			"the condition of %q names readings of several families: say in which its evidence counts", r.ID)
		d.Detail = "They are: " + strings.Join(families, ", ") + "."
	}
}

// familiesOf are the families of some observables.
func familiesOf(list []*vocab.Observable) []string {
	return sorted(english.Each(list, func(o *vocab.Observable) string { return o.Family }))
}

func compareAtoms(a, b kb.Atom) int {
	return cmp.Or(a.Observable.Index-b.Observable.Index, a.Feature-b.Feature)
}

// collect gathers the atoms that a rule's conditions name, through the facts of other rules too.
func (b *ruleBuilder) collect(r *kb.Rule, atoms map[kb.Atom]bool, done map[*kb.Rule]bool) {
	if done[r] {
		return
	}
	done[r] = true
	conds := []*condition.Condition{r.If, r.Unless}
	for _, e := range r.Establishes {
		conds = append(conds, e.Reads)
	}
	for _, c := range conds {
		if c == nil {
			continue
		}
		for _, slot := range c.Reads {
			sym := b.rs.Scope.At(slot)
			switch {
			case sym.Fact:
				if f := b.facts[sym.Name]; f != nil { // else a retired rule names a past one
					for _, by := range f.By {
						b.collect(by, atoms, done)
					}
				}
			case sym.Observable != nil && sym.Kind == vocab.Features:
				set := c.Features[slot]
				for _, i := range set.Members() {
					atoms[kb.Atom{Observable: sym.Observable, Feature: i}] = true
				}
				if set.Empty() {
					for i := range sym.Observable.Outcomes {
						atoms[kb.Atom{Observable: sym.Observable, Feature: i}] = true
					}
				}
			case sym.Observable != nil:
				atoms[kb.Atom{Observable: sym.Observable, Feature: -1}] = true
			}
		}
	}
}
