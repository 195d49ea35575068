package engine

import (
	"math"
	"slices"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/diag"
)

// addItems writes a step for each piece of evidence, and one for each material that it excludes.
func (ch *chain) addItems() {
	j := ch.j
	for n := range j.items {
		it := &j.items[n]
		if it.none {
			ch.items = append(ch.items, 0)
			continue
		}
		s := Step{Kind: EvidenceStep, Family: j.e.families[it.family], Inputs: ch.itemInputs(it)}
		if it.rule != nil {
			s.Rule, s.Source = it.rule.ID, it.rule.Source
			s = s.at(it.rule.Place.Span, it.rule.Place.Layer)
		} else {
			s.Observable = it.name
		}
		for i := range j.e.leaves {
			c := j.fill(it.vector, i)
			if c == 0 && !it.excludes.has(i) {
				continue
			}
			ch.given = append(ch.given, Given{Material: j.leaf(i).ID, C: c, Sheet: j.place(j.sheetOf(it, i))})
		}
		s.Weights = ch.weights()
		ch.items = append(ch.items, ch.add(s, ch.evidence(it)))
		ch.addExclusions(it, ch.items[n])
	}
}

func (ch *chain) itemInputs(it *item) []int {
	if it.rule != nil {
		return []int{ch.rules[it.rule]}
	}
	out := []int{ch.readings[it.reading]}
	if it.second != nil {
		out = append(out, ch.readings[it.second])
	}
	for _, r := range it.first {
		out = append(out, ch.readings[r])
	}
	return out
}

// sheetOf is where a material's sheet says what an item was weighed by.
func (j *Judge) sheetOf(it *item, i int) diag.Span {
	m := j.leaf(i)
	switch {
	case it.rule != nil:
		return diag.Span{}
	case it.q.line != nil:
		if r := it.q.line.ranges[i]; r != nil {
			return r.Span
		}
	case it.feature >= 0:
		if f := m.Features[it.reading.Observable.Name]; f != nil {
			return f.Span
		}
	default:
		if f := m.Choices[it.reading.Observable.Name]; f != nil {
			return f.Span
		}
	}
	return diag.Span{}
}

// evidence is what a piece of evidence did: what it excludes, and what else it speaks most for and against.
func (ch *chain) evidence(it *item) phrase.Reason {
	j := ch.j
	hi, lo, out := -1, -1, 0
	for i := range j.e.leaves {
		if it.excludes.has(i) {
			out++
			continue
		}
		if j.w.excluded.has(i) {
			continue
		}
		c := j.fill(it.vector, i)
		if hi < 0 || c > j.fill(it.vector, hi) {
			hi = i
		}
		if lo < 0 || c < j.fill(it.vector, lo) {
			lo = i
		}
	}
	r := phrase.Reason{Code: phrase.Evidence, Observables: []string{it.name}}
	if it.first != nil {
		r.Code, r.Readings = phrase.EvidenceBy, it.first
	}
	add := func(then phrase.Reason) {
		then.Colours = j.colours()
		r.Then = append(r.Then, then)
	}
	if out > 0 {
		add(phrase.Reason{Code: phrase.Excludes, Count: out, Of: j.e.leaves})
	}
	if hi >= 0 && j.fill(it.vector, hi) > 0 {
		add(phrase.Reason{Code: phrase.MostFor, Node: j.alikeFor(it, hi), Ratio: math.Exp(j.fill(it.vector, hi))})
	}
	if lo >= 0 && j.fill(it.vector, lo) < 0 {
		add(phrase.Reason{Code: phrase.MostAgainst, Node: j.alikeFor(it, lo), Ratio: math.Exp(-j.fill(it.vector, lo))})
	}
	if len(r.Then) == 0 {
		add(phrase.Reason{Code: phrase.Nothing})
	}
	return r
}

// alikeFor is the widest nameable group above a leaf of which an item says the same throughout, or the leaf.
func (j *Judge) alikeFor(it *item, leaf int) *kb.Material {
	out := j.leaf(leaf)
	c := j.fill(it.vector, leaf)
	for g := out.NameableAbove(); g != nil; g = g.NameableAbove() {
		for _, i := range g.Leaves {
			if j.w.free(i) && math.Abs(j.fill(it.vector, i)-c) > 1e-9 {
				return out
			}
		}
		out = g
	}
	return out
}

func (ch *chain) addExclusions(it *item, evidence int) {
	j := ch.j
	for i := range j.e.leaves {
		if !it.excludes.has(i) {
			continue
		}
		s := Step{Kind: ExclusionStep, Material: j.leaf(i).ID, Family: j.e.families[it.family], Inputs: []int{evidence}}
		if it.rule != nil {
			s.Rule, s.Source = it.rule.ID, it.rule.Source
			s = s.at(it.rule.Place.Span, it.rule.Place.Layer)
		} else {
			s.Observable = it.name
			s.Source = j.sourceOf(it, i)
			s = s.at(j.sheetOf(it, i), j.leaf(i).Place.Layer)
		}
		why := j.exclusion(it, i)
		n := ch.add(s, phrase.Reason{Code: phrase.Out, Node: j.leaf(i), Why: &why, Colours: why.Colours})
		if _, known := ch.exclusion[i]; !known {
			ch.exclusion[i] = Excluded{By: it.name, Step: n, Says: ch.steps[n-1].Says, Values: why.Values()}
		}
	}
}

func (j *Judge) sourceOf(it *item, i int) string {
	m := j.leaf(i)
	switch {
	case it.q.line != nil:
		return it.q.line.ranges[i].Source
	case it.feature >= 0:
		return m.Features[it.reading.Observable.Name].Source
	default:
		return m.Choices[it.reading.Observable.Name].Source
	}
}

// addFamilies says what counts in full in each family, and fills in what each piece of evidence counts.
func (ch *chain) addFamilies() {
	j := ch.j
	for f := range j.w.families {
		fw := &j.w.families[f]
		s, order := Step{Kind: FamilyStep, Family: j.e.families[fw.family]}, j.inOrder(fw)
		for _, g := range order {
			for n := range fw.groups[g].items {
				s.Inputs = append(s.Inputs, ch.items[n])
			}
		}
		why := phrase.Reason{Code: phrase.CountsInFull, Families: []string{s.Family},
			Observables: []string{j.nameOf(&fw.groups[fw.first])}}
		if len(fw.groups) > 1 {
			why.Then = []phrase.Reason{{Code: phrase.FurtherLess,
				Text: phrase.Figures(j.e.Ruleset.Policy.FurtherWeight)}}
		}
		for i := range j.e.leaves {
			if c := j.familySum(fw, i); c != 0 {
				ch.given = append(ch.given, Given{Material: j.leaf(i).ID, C: c, Counts: c})
			}
		}
		s.Weights = ch.weights()
		ch.add(s, why)
		ch.counts(fw, order)
	}
}

// nameOf is the name of a group: of its items the first by name.
func (j *Judge) nameOf(g *group) string {
	for n := range g.items {
		if j.items[n].rank == g.rank {
			return j.items[n].name
		}
	}
	return ""
}

// counts fills in, for each material, the part of each piece of a family's evidence that counts, as its groups count in
// an order.
func (ch *chain) counts(fw *familyWeight, order []int) {
	j := ch.j
	for i := range j.e.leaves {
		full := j.countsInFull(fw, order, i)
		for g := range fw.groups {
			c, out := j.groupC(&fw.groups[g], i)
			weight := j.e.Ruleset.Policy.FurtherWeight
			if g == full {
				weight = 1
			}
			spent := false
			for n := range fw.groups[g].items {
				it := &j.items[n]
				if counted := !spent && j.fill(it.vector, i) == c && it.excludes.has(i) == out; counted {
					spent = true
					ch.setCount(ch.items[n], j.leaf(i).ID, weight*c)
				}
			}
		}
	}
}

func (ch *chain) setCount(step int, material string, x float64) {
	if step == 0 {
		return
	}
	w := ch.steps[step-1].Weights
	if n := slices.IndexFunc(w, func(g Given) bool { return g.Material == material }); n >= 0 {
		w[n].Counts = x
	}
}
