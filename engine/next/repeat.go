package next

import (
	"math"
	"math/bits"

	"whystone/engine/next/feasible"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// repeat is what an earlier reading leads to expect of the next one of the same observable. What a stone shows once it
// shows again: unless one of the two is a blunder, they agree. Taking a repeat for a fresh draw from the material's
// sheet would promise that it may turn out otherwise by itself.
type repeat struct {
	first *casefile.Reading
	// blunder is how likely the first reading was one, by leaf, and last for what is unlisted: e / (L'/L_any).
	blunder []float64
}

// repeatOf looks at the earlier reading that a look would be combined with; nil if there is none that says anything.
func (p *player) repeatOf(c *casefile.Case, l *look) *repeat {
	for _, first := range c.Readings {
		if first.Observable != l.source.Observable {
			continue
		}
		if !first.Usable() || l.feature >= 0 {
			return nil
		}
		r := &repeat{first: first}
		p.sheet.Outcome(first, nil, p.c)
		r.add(p.c, first.Blunder)
		if first.Form == casefile.Pair && l.split != nil {
			p.sheet.Difference(first, nil, p.c)
			r.add(p.c, first.Blunder)
		}
		return r
	}
	return nil
}

// add takes in what the sheets say of the first reading: of its two rays the less likely tells.
func (r *repeat) add(c []float64, e float64) {
	if r.blunder == nil {
		r.blunder = make([]float64, len(c)+1)
		r.blunder[len(c)] = e
	}
	for i, x := range c {
		r.blunder[i] = max(r.blunder[i], min(1, e/math.Exp(x)))
	}
}

// given turns how likely a fresh reading with blunder rate e is, by leaf, into how likely it is beside the first one.
// agree is how likely it is if neither is a blunder; NaN where the first does not tell. Leaves that have no weight stay
// at zero.
func (r *repeat) given(like []float64, e, agree float64) []float64 {
	if r == nil || math.IsNaN(agree) {
		return like
	}
	any := like[len(like)-1]
	for i, l := range like {
		if l > 0 {
			like[i] = (1-e)*(1-r.blunder[i])*agree + r.blunder[i]*max(0, l-e*any) + e*any
		}
	}
	return like
}

// choice is how likely a choice is beside the first one, when neither is a blunder.
func (r *repeat) choice(o *vocab.Observable, i int) float64 {
	if r == nil {
		return math.NaN()
	}
	open := o.Meaning(r.first.Outcome)
	if open>>i&1 == 0 {
		return 0
	}
	return 1 / float64(bits.OnesCount64(open))
}

// value is the density of a value beside the first reading, when neither is a blunder.
func (r *repeat) value(x, u float64) float64 {
	if r == nil {
		return math.NaN()
	}
	switch first := r.first; first.Form {
	case casefile.Value:
		return normal(x, first.Value, math.Hypot(u, first.U))
	case casefile.Pair:
		return (normal(x, first.Value, math.Hypot(u, first.U)) + normal(x, first.High, math.Hypot(u, first.HighU))) / 2
	default: // a bound: inside it the sheet tells as before
		if x < first.Lo || x > first.Hi {
			return 0
		}
		return math.NaN()
	}
}

// low and difference are the same for the two rays of a full turn.
func (r *repeat) low(x, u float64) float64 {
	if r == nil || r.first.Form == casefile.Value {
		return math.NaN() // it may lie on either ray
	}
	if r.first.Form == casefile.Pair {
		return normal(x, r.first.Value, math.Hypot(u, r.first.U))
	}
	return r.value(x, u)
}

func (r *repeat) difference(d, u float64) float64 {
	if r == nil || r.first.Form != casefile.Pair {
		return math.NaN()
	}
	return normal(d, r.first.High-r.first.Value, math.Hypot(u, math.Hypot(r.first.U, r.first.HighU)))
}

// bound is how likely it is that a value lies beyond what a test can read.
func (r *repeat) bound(b *casefile.Reading) float64 {
	if r == nil {
		return math.NaN()
	}
	switch first := r.first; first.Form {
	case casefile.Interval:
		if first.Lo >= b.Lo && first.Hi <= b.Hi {
			return 1
		}
		if first.Hi < b.Lo || first.Lo > b.Hi {
			return 0
		}
		return math.NaN()
	default:
		u := math.Hypot(first.U, b.Noise)
		return math.Max(0, phi((b.Hi-first.Value)/u)-phi((b.Lo-first.Value)/u))
	}
}

func normal(x, mean, u float64) float64 {
	z := (x - mean) / u
	return math.Exp(-z*z/2) / (u * math.Sqrt(2*math.Pi))
}

func phi(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// around lists where a repeat of a value changes fast.
func (r *repeat) around(s *feasible.Source) []float64 {
	if r == nil {
		return nil
	}
	var out []float64
	peak := func(x, u float64) {
		for _, k := range []float64{-6, -4, -2, -1, 0, 1, 2, 4, 6} {
			out = append(out, x+k*math.Hypot(u, s.U(x)))
		}
	}
	switch first := r.first; first.Form {
	case casefile.Value:
		peak(first.Value, first.U)
	case casefile.Pair:
		peak(first.Value, first.U)
		peak(first.High, first.HighU)
		peak(first.High-first.Value, math.Hypot(first.U, first.HighU))
	case casefile.Interval:
		out = append(out, first.Lo, first.Hi)
	}
	return out
}
