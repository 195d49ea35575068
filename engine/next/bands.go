package next

import (
	"math"
	"slices"
	"strconv"

	"whystone/engine/phrase"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/english"
)

// A stretch of values is told with a verdict only if every reading in it gets that verdict. So the values that a test
// can show are tried one by one, to the last figure that it reads, and neighbours that lead to the same are told
// together. Of two rays there are too many pairs for that: boxes of them are tried as far as mostPlays goes, and those
// that were not tried whole, or not alike throughout, are told with "mostly".

const (
	// mostPlays bounds the readings that are tried for what a look is told to lead to.
	mostPlays = 5000
	// pairPlays is the same for one box of two rays.
	pairPlays = 400
	// toldFrom is how likely an outcome must be to be worth a line.
	toldFrom = 0.02
	// mostly is how many of the readings of a box that were tried must get its verdict.
	mostly = 0.75
)

// figure is the last decimal place that a look is read to: the one that its uncertainty, in the middle of its scale,
// leaves meaningful.
func (l *look) figure() int {
	u := l.source.U((l.source.Limits[0] + l.source.Limits[1]) / 2)
	if !(u > 0) {
		return 3
	}
	return max(0, min(9, int(math.Ceil(-math.Log10(u)-1e-9))))
}

// scale is the values that are read to a number of decimal places.
type scale struct{ figures int }

func (s scale) step() float64 { return math.Pow10(-s.figures) }

// at is the k-th value, as somebody writes it.
func (s scale) at(k int) float64 { return float64(k) / math.Pow10(s.figures) }

func (s scale) text(x float64) string { return strconv.FormatFloat(x, 'f', s.figures, 64) }

// up and down are the first value from x on, and the last up to it.
func (s scale) up(x float64) int   { return int(math.Ceil(x/s.step() - 1e-6)) }
func (s scale) down(x float64) int { return int(math.Floor(x/s.step() + 1e-6)) }

// bands tries every value that a look can be read as.
func (b *bench) bands(p *player, l *look, played []played) []LeadsTo {
	s := scale{l.figure()}
	lim := likelySpan(played, l.source.Limits)
	for s.figures > 0 && s.down(lim[1])-s.up(lim[0]) > mostPlays {
		s.figures--
	}
	whole := s.figures == l.figure()
	spread := &spread{left: played}
	spread.begin()
	var out []LeadsTo
	var now *band
	end := func(hi float64) {
		if now != nil && spread.upTo(hi, now) {
			out = append(out, now.told(l, s, !whole))
		}
	}
	first := s.up(lim[0])
	p.plays(false, max(0, s.down(lim[1])-first+1), func(i int) (*casefile.Case, *casefile.Reading) {
		return b.c, l.source.PutValue(&p.readings[i%condition.Lanes], s.at(first+i))
	}, func(i int, st *state) {
		x := s.at(first + i)
		if now == nil || !alike(&now.state, st) {
			end(x - s.step()/2)
			now = &band{state: *st, from: x}
		}
		now.to, now.cautions = x, both(now.cautions, st.cautions, now.from == x)
	})
	end(math.Inf(1))
	return out
}

// tails is how much of what a look can come to, at either end, is not worth trying.
const tails = 0.001

// likelySpan leaves out the values at either end that are next to impossible.
func likelySpan(played []played, limits [2]float64) [2]float64 {
	total := 0.0
	for i := range played {
		total += played[i].mass
	}
	out, below := limits, 0.0
	for i := range played {
		if below < tails*total {
			out[0] = math.Max(limits[0], played[i].lo)
		}
		if below += played[i].mass; below > (1-tails)*total {
			out[1] = math.Min(limits[1], played[i].hi)
			break
		}
	}
	return out
}

// band is neighbouring values that lead to the same.
type band struct {
	state         state
	from, to      float64
	mass, entropy float64
	cautions      []int
}

func (n *band) told(l *look, s scale, mostly bool) LeadsTo {
	says := s.text(n.from)
	if n.to > n.from {
		says += " to " + s.text(n.to)
	}
	return LeadsTo{Outcome: says + phrase.Unit(l.source.Observable), Likelihood: n.mass, To: n.state.short(),
		Entropy: n.entropy / n.mass, SentOn: n.state.sentOn, Mostly: mostly, cautions: n.cautions}
}

// spread hands out the mass of played stretches from below.
type spread struct {
	left []played
	at   float64 // of the first, where what is left begins
	mass float64 // of the first, what is left of it
}

// begin begins with the first stretch that is left.
func (s *spread) begin() {
	if s.at = math.Inf(-1); len(s.left) > 0 {
		s.at, s.mass = s.left[0].lo, s.left[0].mass
	}
}

// upTo gives a band all that lies up to x, and tells whether that is anything.
func (s *spread) upTo(x float64, to *band) bool {
	for len(s.left) > 0 {
		f := &s.left[0]
		part := 1.0
		if x < f.hi {
			part = (x - s.at) / (f.hi - s.at)
			if !(part > 0) {
				break
			}
		}
		mass := part * s.mass
		to.mass += mass
		to.entropy += mass * f.state.entropy
		if part < 1 {
			s.mass -= mass
			s.at = x
			break
		}
		s.left = s.left[1:]
		s.begin()
	}
	return to.mass > 0
}

// box is pairs of rays that lead to the same, as far as they were played: the low ray and its distance from the high
// one.
type box struct {
	band
	low, apart [2]float64
	best       *played
}

// boxes puts played pairs together: neighbours in the distance, then those of neighbouring low rays that have most of
// their distances in common.
func (b *bench) boxes(p *player, l *look, list []played, unclear float64) []LeadsTo {
	var done, open []*box
	for i := 0; i < len(list); {
		k := i
		for k < len(list) && list[k].lo == list[i].lo {
			k++
		}
		runs := runsOf(list[i:k])
		var next []*box
		for _, r := range runs {
			if o := joins(open, r); o != nil {
				o.take(r)
				r = o
			}
			next = append(next, r)
		}
		done = append(done, slices.DeleteFunc(open, func(o *box) bool { return slices.Contains(next, o) })...)
		open, i = next, k
	}
	return english.Each(append(done, open...), func(x *box) LeadsTo { return b.tried(p, l, x, unclear) })
}

// runsOf puts the pairs of one low ray together.
func runsOf(list []played) []*box {
	var out []*box
	for i := range list {
		x := &list[i]
		d := x.reading.High - x.reading.Value
		if n := len(out); n > 0 && alike(&out[n-1].state, &x.state) {
			last := out[n-1]
			last.apart[1] = d
			last.add(x)
			continue
		}
		fresh := &box{band: band{state: x.state}, low: [2]float64{x.reading.Value, x.reading.Value},
			apart: [2]float64{d, d}}
		fresh.add(x)
		out = append(out, fresh)
	}
	return out
}

func (o *box) add(x *played) {
	o.cautions = both(o.cautions, x.state.cautions, o.best == nil)
	if o.mass, o.entropy = o.mass+x.mass, o.entropy+x.mass*x.state.entropy; o.best == nil || x.mass > o.best.mass {
		o.best = x
	}
}

// joins finds the box that a run goes on.
func joins(open []*box, r *box) *box {
	for _, o := range open {
		lo, hi := math.Max(o.apart[0], r.apart[0]), math.Min(o.apart[1], r.apart[1])
		if alike(&o.state, &r.state) && 2*(hi-lo) >= math.Max(o.apart[1]-o.apart[0], r.apart[1]-r.apart[0]) {
			return o
		}
	}
	return nil
}

func (o *box) take(r *box) {
	o.low[1] = r.low[1]
	o.apart = [2]float64{math.Max(o.apart[0], r.apart[0]), math.Min(o.apart[1], r.apart[1])}
	o.cautions = both(o.cautions, r.cautions, false)
	o.mass, o.entropy = o.mass+r.mass, o.entropy+r.entropy
	if r.best.mass > o.best.mass {
		o.best = r.best
	}
}

// tried tries the readings of a box, as far as there are not too many, and tells it. One of which too few get the
// verdict that was played is told by its likeliest reading alone.
func (b *bench) tried(p *player, l *look, o *box, unclear float64) LeadsTo {
	s := scale{l.figure()}
	low, apart := s.inner(o.low), s.inner(o.apart)
	good, all, whole := 0, 0, false
	if o.mass*(1-unclear) >= toldFrom {
		good, all, whole = b.try(p, l, s, o, low, apart)
		if float64(good) < mostly*float64(all) {
			at, d := s.nearest(o.best.reading.Value), s.nearest(o.best.reading.High-o.best.reading.Value)
			low, apart = [2]int{at, at}, [2]int{d, d}
			good, all, whole = b.try(p, l, s, o, low, apart)
		}
	}
	says := "low ray " + s.stretch(low) + ", the rays " + s.stretch(apart) + " apart"
	return LeadsTo{Outcome: says, Likelihood: o.mass, To: o.state.short(), Entropy: o.entropy / o.mass,
		SentOn: o.state.sentOn, Mostly: !whole || good < all, cautions: o.cautions}
}

// inner is the values that lie within a stretch; of one too narrow for any, the nearest.
func (s scale) inner(ends [2]float64) [2]int {
	lo, hi := s.up(ends[0]), s.down(ends[1])
	if lo > hi {
		lo = s.nearest((ends[0] + ends[1]) / 2)
		hi = lo
	}
	return [2]int{lo, hi}
}

func (s scale) nearest(x float64) int { return int(math.Round(x / s.step())) }

func (s scale) stretch(of [2]int) string {
	if of[0] == of[1] {
		return s.text(s.at(of[0]))
	}
	return s.text(s.at(of[0])) + " to " + s.text(s.at(of[1]))
}

// try counts the readings of a box that get its verdict, among those that were tried: all, or where there are too many
// its corners and some between.
func (b *bench) try(p *player, l *look, s scale, o *box, low, apart [2]int) (good, all int, whole bool) {
	n, m := low[1]-low[0]+1, apart[1]-apart[0]+1
	strideLow, strideApart := 1, 1
	for (n+strideLow-1)/strideLow*((m+strideApart-1)/strideApart) > pairPlays {
		if n/strideLow >= m/strideApart {
			strideLow++
		} else {
			strideApart++
		}
	}
	var pairs []*casefile.Reading
	for _, i := range strides(low, strideLow) {
		for _, d := range strides(apart, strideApart) {
			if r := l.source.Rays(s.at(i), s.at(i+d)); r.Form == casefile.Pair { // else beyond what can be read
				pairs = append(pairs, r)
			}
		}
	}
	p.plays(false, len(pairs), func(i int) (*casefile.Case, *casefile.Reading) { return b.c, pairs[i] },
		func(_ int, st *state) {
			o.cautions = both(o.cautions, st.cautions, false)
			if alike(&o.state, st) {
				good++
			}
		})
	return good, len(pairs), strideLow == 1 && strideApart == 1
}

// strides are every so many numbers from one to another, both among them.
func strides(of [2]int, stride int) []int {
	var out []int
	for k := of[0]; k < of[1]; k += stride {
		out = append(out, k)
	}
	return append(out, of[1])
}

// both is what two lists have in common, or the second where there is no first yet.
func both(a, b []int, first bool) []int {
	if first {
		return b
	}
	return slices.DeleteFunc(slices.Clone(a), func(x int) bool { return !slices.Contains(b, x) })
}
