package engine

import (
	"math"
	"slices"

	"whystone/engine/phrase"
	"whystone/kb/casefile"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// A line of a spectrum that was read by its place may be one of several; what it says of a material is how likely any
// of them is seen on it. How strong it looked is a second choice beside whether it is seen.

// prepareStrengths turns what sheets say of strengths into probabilities.
func (e *Engine) prepareStrengths(l *line) {
	o := l.observable
	if len(o.Strengths) == 0 {
		return
	}
	strengths := make([]vocab.Outcome, len(o.Strengths))
	for s, name := range o.Strengths {
		strengths[s].Name = name
	}
	l.strengths = make([][][]float64, len(o.Outcomes))
	for f := range o.Outcomes {
		for i, m := range e.Ruleset.Leaves {
			if m.Features[o.Name] == nil {
				continue
			}
			words := m.Features[o.Name].Strengths[o.Outcomes[f].Name]
			if words == nil {
				continue
			}
			if l.strengths[f] == nil {
				l.strengths[f] = make([][]float64, len(strengths))
				for s := range strengths {
					l.strengths[f][s] = slices.Repeat([]float64{math.NaN()}, e.leaves)
				}
			}
			for s, p := range e.choiceShares(strengths, words) {
				l.strengths[f][s][i] = p
			}
		}
	}
}

// seenAs is how likely a feature is seen on a leaf, and how likely on any stone; and how likely so strong. Where the
// leaf's sheet says nothing of it, both are alike.
func (l *line) seenAs(f, strength, leaf int) (p, any float64, said bool) {
	p, any = l.features[f][leaf], l.observable.Outcomes[f].Background
	if said = given(p); !said {
		p = any
	}
	if strength == casefile.NoStrength {
		return p, any, said
	}
	one := 1 / float64(len(l.observable.Strengths))
	so := one
	if of := l.strengths[f]; of != nil && given(of[strength][leaf]) {
		so = of[strength][leaf]
	}
	return p * so, any * one, said
}

// lineItem is what a line says that was read by its place, or with its strength. It is kept for no other case: a
// reading's number does not tell its lines. What was read by its place alone excludes nothing.
func (j *Judge) lineItem(r *casefile.Reading, l *line, n int) {
	read := &r.Lines[n]
	it := j.newItem()
	j.from(it, r, l)
	all := read.Features.Members()
	it.feature, it.read = all[0], read
	sure := r.Sure(read)
	if sure {
		it.key, it.name, it.rank = l.keys[all[0]], l.labels[all[0]], l.ranks[all[0]]
	} else { // no rule speaks of the same
		it.key, it.name = -1-n-r.Observable.Index<<20, l.labelOf(read)
		it.rank = j.e.rankOf(it.name)
	}
	if it.none = !slices.ContainsFunc(all, func(f int) bool { return !l.silent[f] }); it.none {
		return
	}
	for i := range j.e.leaves {
		not, notAny, speaks := 1.0, 1.0, false
		for _, f := range all {
			p, any, said := l.seenAs(f, read.Strength, i)
			not, notAny = not*(1-p), notAny*(1-any)
			speaks = speaks || said
		}
		it.c[i] = 0
		if speaks {
			it.c[i] = contribution(1-not, 1-notAny, it.blunder)
		}
		if sure && l.never[all[0]].has(i) {
			it.excludes.add(i)
			it.rulesOut = true
		}
	}
}

// labelOf is the label of a line that may be one of several. No two lines of one reading lie in one place.
func (l *line) labelOf(read *casefile.Line) string {
	return l.observable.Name + ": " + phrase.Somewhere(l.observable, read)
}

// features names what an item of features is of: one, or those of which a line is one.
func (v *item) features() string {
	o := v.reading.Observable
	if v.read == nil {
		return o.Outcomes[v.feature].Name
	}
	return english.List(o.Named(v.read.Features), "or")
}
