package next

import (
	"cmp"
	"math"
	"slices"

	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
)

// suggestion is a test with all its looks, best first.
type suggestion struct {
	test  *kb.Test
	looks []figures
	leads []LeadsTo // of the best look
	then  *pair     // where no single test brings the verdict further: the best to do after it
}

// pair is what a test and another after it are expected to bring together.
type pair struct {
	second                  *kb.Test
	drop, reduction, better float64
}

func (s *suggestion) best() *figures { return &s.looks[0] }

// suggest plays all looks of a test; the suggestion is empty when there is nothing left to ask.
func (b *bench) suggest(p *player, t *kb.Test) suggestion {
	all := english.Each(looks(b.e.Ruleset, b.c, t), func(l look) hypothesis {
		return hypothesis{c: b.c, base: &b.base, look: l, unclear: b.unclear(&l),
			list: p.outcomes(b.c, l, b.w, b.opts.mesh)}
	})
	s := suggestion{test: t, looks: p.weigh(all)}
	if len(s.looks) == 0 {
		return suggestion{}
	}
	slices.SortStableFunc(s.looks, func(x, y figures) int {
		return cmp.Or(cmp.Compare(b.score(y.drop, y.reduction, 0), b.score(x.drop, x.reduction, 0)),
			cmp.Compare(y.drop, x.drop))
	})
	if b.opts.brief {
		return s
	}
	s.leads = b.leads(p, s.best(), b.unclear(&s.best().look))
	return s
}

// unclear is how likely a look stays inconclusive. One that did so before is taken to do so again half the time: what
// spoilt it may still be there.
func (b *bench) unclear(l *look) float64 {
	rate := b.opts.unclear(l.source.Test.ID)
	if l.spoilt {
		rate = 1 - (1-rate)/2
	}
	return rate
}

// score is what a test is expected to bring for each minute: nats of entropy, and loss in units of what it costs to
// send a stone on. Loss alone would send everybody for the quickest second reading where any would do; entropy alone
// does not see that some differences between materials matter to nobody.
func (b *bench) score(drop, reduction, minutes float64) float64 {
	worth := drop
	if b.cost.sendOn > 0 {
		worth += max(0, reduction) / b.cost.sendOn
	}
	return worth / (minutes + changeover)
}

// changeover is how many minutes it takes to put a stone to another test, whatever that test takes itself.
const changeover = 1

// sort puts the best first; ties by id.
func (b *bench) sort(found []suggestion) {
	slices.SortStableFunc(found, func(x, y suggestion) int {
		return cmp.Or(cmp.Compare(b.value(&y), b.value(&x)), cmp.Compare(x.test.ID, y.test.ID))
	})
}

func (b *bench) value(s *suggestion) float64 {
	f := s.best()
	v := b.score(f.drop, f.reduction, s.test.Minutes)
	if t := s.then; t != nil {
		v = max(v, b.score(t.drop, t.reduction, s.test.Minutes+changeover+t.second.Minutes))
	}
	return v
}

// The breadth of looking two tests ahead: so many first tests, so many second ones.
const (
	firsts  = 5
	seconds = 8
)

// deep plays two tests one after the other: the best few, each followed by each of the best few others.
func (b *bench) deep(found []suggestion) {
	ranked := slices.Clone(found)
	slices.SortStableFunc(ranked, func(x, y suggestion) int {
		return cmp.Or(cmp.Compare(y.best().drop, x.best().drop), cmp.Compare(x.test.ID, y.test.ID))
	})
	ranked = ranked[:min(len(ranked), seconds)]
	tests := english.Each(ranked[:min(len(ranked), firsts)], func(s suggestion) *kb.Test { return s.test })
	for _, s := range b.each(tests, func(p *player, t *kb.Test) suggestion { return b.ahead(p, t, ranked) }) {
		i := slices.IndexFunc(found, func(o suggestion) bool { return o.test == s.test })
		found[i].then = s.then
	}
}

// ahead finds the best test to do after a first one.
func (b *bench) ahead(p *player, t *kb.Test, others []suggestion) suggestion {
	var first []lead
	for i := range others {
		if others[i].test == t {
			first = b.first(p, others[i].best())
		}
	}
	out := suggestion{test: t}
	most := math.Inf(-1)
	for i := range others {
		o := &others[i]
		if o.test == t {
			continue
		}
		v := b.both(p, first, o.best().look, o.test)
		if x := b.score(v.drop, v.reduction, t.Minutes+changeover+o.test.Minutes); x > most {
			most, out.then = x, &v
		}
	}
	return out
}

// lead is an outcome of a first look, with the case as it is then.
type lead struct {
	c     *casefile.Case
	mass  float64
	state state
	w     []float64
}

// first plays what a first look can come to, coarsely.
func (b *bench) first(p *player, f *figures) []lead {
	var out []lead
	unclear := b.unclear(&f.look)
	play := func(r *casefile.Reading, mass float64) {
		l := lead{c: feasible.With(b.c, r), mass: mass}
		l.state = p.play(l.c)
		l.w = p.weights()
		out = append(out, l)
	}
	for _, o := range p.outcomes(b.c, f.look, b.w, coarse) {
		play(o.reading, (1-unclear)*o.mass)
	}
	play(f.look.source.Unclear(unclearReason), unclear)
	return out
}

// both plays a second look after every outcome of a first.
func (b *bench) both(p *player, first []lead, second look, t *kb.Test) pair {
	out := pair{second: t}
	unclear := b.unclear(&second)
	var all []hypothesis
	for i := range first {
		l := &first[i]
		all = append(all, hypothesis{c: l.c, base: &l.state, look: second, unclear: unclear,
			list: p.outcomes(l.c, second, l.w, coarse)})
	}
	for i, f := range p.weigh(all) {
		s, mass := &first[i].state, first[i].mass
		out.drop += mass * (b.base.entropy - s.entropy + f.drop)
		out.reduction += mass * (b.base.loss - s.loss + f.reduction)
		for _, o := range f.played {
			if o.state.rank > b.base.rank {
				m := o.mass
				if o.reading.Usable() {
					m *= 1 - unclear
				}
				out.better += mass * m
			}
		}
	}
	return out
}
