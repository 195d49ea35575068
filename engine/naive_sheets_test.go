package engine_test

import (
	"fmt"
	"math"
	"slices"
)

// excludes: "Then L = 0, so c = ln e".
func (ev *evidence) excludes(i int) {
	ev.says(i, math.Log(ev.e))
	ev.out[i] = true
}

func (ev *evidence) says(i int, c float64) { ev.c[i], ev.said = c, true }

// at: "Readings with unlike `where` are never combined: each counts by itself". A rule rests on the same readings as
// the first place's line; the line of a further place stands alone.
func (x *examined) at(r *naiveReading, basis string, gives func(*naiveReading) bool) string {
	for _, o := range x.c.readings {
		if gives(o) {
			if o == r {
				return basis
			}
			return basis + " at " + r.where
		}
	}
	return basis
}

// sheets: the contributions of one reading by what the material sheets say.
func (x *examined) sheets(r *naiveReading) {
	o := r.o
	alike := func(s *naiveReading) bool { return s.o == o && s.usable() }
	line := func(name string) *evidence { return x.add(name, o.family, x.at(r, name, alike), r.blunder, r) }
	switch r.form {
	case "choice":
		x.choice(line(o.name), r)
	case "features":
		for _, f := range o.words {
			if l, ok := r.strengthOf(f); ok {
				x.line(line(o.name+": "+f), r, l)
			} else if r.lookedFor[f] {
				x.feature(line(o.name+": "+f), r, f)
			}
		}
		for _, l := range r.read {
			if !r.sure(l) {
				x.line(line(fmt.Sprintf("%s: something at %v nm", o.name, l.at)), r, l)
			}
		}
	case "bounds":
		x.measured(line(o.name), o.property, func(ev *evidence, given rangeOf) { x.interval(ev, r, given) })
	case "rays":
		x.measured(line(o.name), o.property, func(ev *evidence, given rangeOf) { x.rays(ev, r, given) })
		if d := x.observables["birefringence"]; d != nil && x.fromRays(r) {
			ev := x.add(d.name, d.family, x.at(r, d.name, x.fromRays), r.blunder, r)
			x.measured(ev, d.property, func(ev *evidence, given rangeOf) { x.difference(ev, r, d, given) })
		}
	default:
		x.measured(line(o.name), o.property, func(ev *evidence, given rangeOf) {
			x.value(ev, r.value, r.u, given,
				o.span, o.resolution)
		})
	}
}

// fromRays: "a `birefringence` given beside it replaces the difference", and one that is set aside does not count.
func (x *examined) fromRays(r *naiveReading) bool {
	given := slices.ContainsFunc(x.c.readings, func(o *naiveReading) bool { return o.o.name == "birefringence" })
	return r.form == "rays" && x.counts(r) && !given && !x.aside("birefringence")
}

// choice: "frequency words stand for numbers in the policy. Choices not mentioned share max(1 - sum of the mentioned,
// 0.03) equally; then all are divided by their sum. ... A choice may `cover` others: it stays out of the sum, and its L
// and L_any are the sums of theirs. L_any is 1 / number of choices."
func (x *examined) choice(ev *evidence, r *naiveReading) {
	o := r.o
	var plain []string
	for _, w := range o.words {
		if o.covers[w] == nil {
			plain = append(plain, w)
		}
	}
	meant := plainOf(o.covers, r.choice)
	for i, m := range x.leaves {
		words := m.words[o.name]
		if words == nil {
			continue
		}
		p := x.choiceShares(plain, words)
		l, never := 0.0, true
		for _, as := range meant {
			for _, is := range plain {
				part := o.called(is, as)
				for near := range o.neighbours[is] { // what is unsaid is not called what is never seen
					if words[is] != "" || words[near] != "never" {
						continue
					}
					switch as {
					case near:
						part = 0
					case is:
						part += o.called(is, near)
					}
				}
				l += p[is] * part
				never = never && (part == 0 || words[is] == "never")
			}
		}
		if never { // "a choice that is `never`"
			ev.excludes(i)
			continue
		}
		ev.says(i, contributes(l, float64(len(meant))/float64(len(plain)), ev.e))
	}
}

// choiceShares: "Choices not mentioned share max(1 - sum of the mentioned, 0.03) equally; then all are divided by their
// sum."
func (x *examined) choiceShares(plain []string, words map[string]string) map[string]float64 {
	p := map[string]float64{}
	sum, silent := 0.0, 0.0
	for _, choice := range plain {
		if word, ok := words[choice]; ok {
			p[choice] = x.frequency[word]
			sum += p[choice]
		} else {
			silent++
		}
	}
	rest := math.Max(1-sum, 0.03)
	if silent > 0 {
		sum += rest
	}
	for _, choice := range plain {
		if _, ok := words[choice]; !ok {
			p[choice] = rest / silent
		}
		p[choice] /= sum
	}
	return p
}

// feature: "each is a contribution of its own: seen, L = p and L_any = the feature's `background`; looked for and not
// seen, 1 - p and 1 - background. Only a `never` feature that is seen excludes; absence never does."
func (x *examined) feature(ev *evidence, r *naiveReading, f string) {
	for i, m := range x.leaves {
		p, ok := x.told(m, r.o, f)
		if !ok {
			continue
		}
		background := r.o.background[f]
		switch {
		case !r.seen[f]:
			ev.says(i, contributes(1-p, 1-background, ev.e))
		case x.never(m, r.o, f):
			ev.excludes(i)
		default:
			ev.says(i, contributes(p, background, ev.e))
		}
	}
}
