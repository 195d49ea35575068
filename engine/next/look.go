package next

import (
	"math"
	"slices"

	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// look is one thing that a test can be asked: an observable, and of a set of features one that nobody looked for yet.
type look struct {
	source  *feasible.Source
	feature int  // -1 where the observable is no set of features
	again   bool // it was read before
	spoilt  bool // it was tried before and stayed inconclusive
	// split, in a full turn that reads both rays, is the source of their difference.
	split *feasible.Source
}

// outcome is a possible reading, or a stretch of possible values with one that stands for them.
type outcome struct {
	reading *casefile.Reading
	mass    float64    // how likely it is: the outcomes of a look come to 1
	like    []float64  // how likely it is under each leaf, and last under what is unlisted
	lo, hi  float64    // of a stretch of values; of two rays, of the low one
	apart   [2]float64 // of two rays: the stretch of their difference
}

// looks lists what a test can still be asked. What is computed from the stone can't be read again.
func looks(rs *kb.Ruleset, c *casefile.Case, t *kb.Test) []look {
	var out []look
	sources := feasible.Sources(rs, c, t)
	index, split := feasible.FullTurn(sources)
	for _, s := range sources {
		if s == split {
			continue // it is read with the index
		}
		s.Remember()
		read, spoilt, computed, searched := sofar(c, s)
		switch {
		case computed:
		case s.Observable.Kind == vocab.Features:
			for f := range s.Observable.Outcomes {
				if !searched.Has(f) {
					out = append(out, look{source: s, feature: f, spoilt: spoilt})
				}
			}
		default:
			l := look{source: s, feature: -1, again: read, spoilt: spoilt}
			if s == index {
				l.split = split
			}
			out = append(out, l)
		}
	}
	return out
}

// sofar tells what a case has of what a test gives: whether it was read, or tried in vain, or computed from the stone,
// and which features were looked for. A bound within which the test can read a value does not count as read.
func sofar(c *casefile.Case, s *feasible.Source) (read, spoilt, computed bool, searched vocab.Set) {
	for _, r := range c.Readings {
		if r.Observable != s.Observable {
			continue
		}
		bound := r.Form == casefile.Interval && max(r.Lo, s.Limits[0]) < min(r.Hi, s.Limits[1])
		read, spoilt, computed = read || r.Usable() && !bound, spoilt || !r.Usable(), computed || r.Derived
		searched.Union(r.LookedFor)
	}
	return read, spoilt && !read, computed, searched
}

// outcomes lists what a look can come to, w being the weights of the case; how likely each is comes from the same
// weights. The one that stays inconclusive is not among them.
func (p *player) outcomes(c *casefile.Case, l look, w []float64, m mesh) []outcome {
	before, alive := p.repeatOf(c, &l), aliveOf(w)
	p.used = 0
	var out []outcome
	add := func(r *casefile.Reading, agree float64) {
		like := before.given(p.likely(r, alive, p.numbers()), r.Blunder, agree)
		out = append(out, outcome{reading: r, like: like, mass: dot(w, like)})
	}
	s := l.source
	switch {
	case l.split != nil:
		out = p.turns(c, s, l.split, before, w, m)
	case s.Observable.Kind == vocab.Quantity:
		out = p.stretches(c, s, before, w, m)
	case s.Observable.Kind == vocab.Features:
		add(s.Feature(l.feature, true), math.NaN())
		add(s.Feature(l.feature, false), math.NaN())
	default:
		for i, o := range s.Observable.Outcomes {
			if o.Covers == 0 {
				add(s.Choice(i), before.choice(s.Observable, i))
			}
		}
	}
	return normalised(out)
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// normalised makes the outcomes' masses come to 1: choices with unlike blunder rates, and values that no range of any
// material reaches, leave a little more or less. Outcomes that can't be are dropped.
func normalised(out []outcome) []outcome {
	total := 0.0
	for i := range out {
		total += out[i].mass
	}
	for i := range out {
		out[i].mass /= total
	}
	return slices.DeleteFunc(out, func(o outcome) bool { return !(o.mass > 0) })
}
