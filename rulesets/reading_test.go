package rulesets_test

import (
	"math"
	"path"
	"slices"
	"strings"
	"sync"
	"testing"

	"whystone/kb"
	"whystone/kb/vocab"
)

var startFigures struct {
	sync.Once
	by map[string][]figure
}

func startsOf(t testing.TB) map[string][]figure {
	startFigures.Do(func() { startFigures.by = usedFor(t) })
	return startFigures.by
}

// paper is what the rows of one paper's rays have in common: Ghosh of Ghosh-o.yml and Ghosh-e.yml.
func paper(row string) string {
	for _, ray := range []string{"-o.yml", "-e.yml", "-alpha.yml", "-beta.yml", "-gamma.yml"} {
		row = strings.TrimSuffix(row, ray)
	}
	return row
}

// isolatedRay tells whether a row is one ray of several.
func isolatedRay(row string) bool { return paper(row) != row && path.Ext(row) != "" }

// index reads the refractometer: over its limit, one shadow edge, or the two rays of a full turn.
func (d *drawer) index(s *stoneDrawn, y *vocab.Yield, truth truths) {
	if !truth.rays {
		return
	}
	o, u, limit := y.Observable, y.Uncertainty, y.Limits[1]
	low, high := truth.low, truth.high
	if d.blunder(s, o, y.Blunder) {
		low = d.uniform(o.Span[0], o.Span[1])
		high = low + d.uniform(0, 0.2)*d.rng.Float64()
	}
	if d.happens(d.rs.Policy.MissedTurn) {
		high = d.uniform(low, high)
	}
	a, b := low+u*d.noise(), high+u*d.noise()
	for math.Abs(b-a-(high-low)) > 3*u*math.Sqrt2 {
		a, b = low+u*d.noise(), high+u*d.noise()
	}
	a, b = math.Min(a, b), math.Max(a, b)
	switch {
	case a > limit:
		s.readings[o.Name] = map[string]any{"above": limit}
	case b > limit || truth.low == truth.high && d.happens(0.5):
		s.readings[o.Name] = math.Max(a, y.Limits[0])
	default:
		s.readings[o.Name] = []float64{math.Max(a, y.Limits[0]), math.Max(b, y.Limits[0])}
	}
}

// quantity reads any other quantity; a reading beyond the limits of its test is a bound.
func (d *drawer) quantity(s *stoneDrawn, o *vocab.Observable, y *vocab.Yield, truth truths) {
	v, known := truth.of[o.Property]
	if !known {
		return
	}
	if d.blunder(s, o, y.Blunder) {
		v = d.uniform(o.Span[0], o.Span[1])
	}
	u := d.uncertainty(s, o, y, v)
	v += u * d.noise()
	low, high := math.Max(y.Limits[0], o.Span[0]), math.Min(y.Limits[1], o.Span[1])
	switch {
	case v > high:
		s.readings[o.Name] = map[string]any{"above": high - 4*u}
	case v < low:
		s.readings[o.Name] = map[string]any{"below": low + 4*u}
	case y.Formula != "": // written down, as the weight of the stone may be drawn anew for its size
		s.readings[o.Name] = map[string]any{"value": v, "uncertainty": u}
	default:
		s.readings[o.Name] = v
	}
}

// uncertainty is that of a test's reading, be it one number or what follows from the stone and the value.
func (d *drawer) uncertainty(s *stoneDrawn, o *vocab.Observable, y *vocab.Yield, v float64) float64 {
	if y.Formula == "" {
		return y.Uncertainty
	}
	for _, r := range caseOf(d.t, d.rs, map[string]any{"stone": s.stone,
		"readings": map[string]any{o.Name: v}}).Readings {
		if r.Observable == o {
			return r.U
		}
	}
	return y.Uncertainty
}

// size gives the stone the measurements and the weight from which the ruleset derives size_density.
func (d *drawer) size(s *stoneDrawn, o *vocab.Observable, y *vocab.Yield, truth truths) {
	sg, known := truth.of[o.Property]
	if !known {
		return
	}
	blunder := d.blunder(s, o, y.Blunder)
	if blunder {
		sg = d.uniform(1.2, 7)
	}
	wide := d.uniform(4, 9)
	stone := map[string]any{"mounted": false, "warm": false, "wet": false, "cut": "round brilliant", "length_mm": wide,
		"width_mm": wide * 0.995, "depth_mm": wide * 0.61}
	if d.happens(0.3) {
		stone["cut"], stone["length_mm"] = "oval", wide*1.35
	}
	weight := func(carat float64) (value, u float64) {
		stone["carat"] = carat
		for _, r := range caseOf(d.t, d.rs, map[string]any{"stone": stone}).Readings {
			if r.Observable == o {
				return r.Value, r.U
			}
		}
		return 0, 0
	}
	carat := math.Max(0.25, wide*wide*wide*0.0037*sg/3.52)
	for range 20 {
		v, u := weight(carat)
		if v == 0 {
			return // the ruleset derives nothing of such a stone
		}
		carat *= sg / v * (1 + u/v*d.noise())
		if v, u = weight(carat); math.Abs(v-sg) <= 3*u {
			s.stone = stone
			return
		}
	}
}

// shares are the chances of the plain outcomes of a choice under a sheet, as the policy's words mean them.
func (d *drawer) shares(o *vocab.Observable, f *kb.Frequencies) []float64 {
	out := make([]float64, len(o.Outcomes))
	mentioned, others := 0.0, 0
	for _, c := range o.Outcomes {
		if w, ok := f.Words[c.Name]; ok {
			mentioned += d.rs.Policy.Frequency[w]
		} else if c.Covers == 0 {
			others++
		}
	}
	for i, c := range o.Outcomes {
		if w, ok := f.Words[c.Name]; ok {
			out[i] = d.rs.Policy.Frequency[w]
		} else if c.Covers == 0 {
			out[i] = math.Max(1-mentioned, 0.03) / float64(others)
		}
	}
	return out
}

// choice draws an outcome; with blunders, as often as its own blunder rate gives it to any stone.
func (d *drawer) choice(s *stoneDrawn, o *vocab.Observable, y *vocab.Yield, f *kb.Frequencies) {
	if f == nil {
		return
	}
	share := d.shares(o, f)
	sum := 0.0
	for _, p := range share {
		sum += p
	}
	at, byMistake := make([]float64, len(share)), make([]float64, len(share))
	total := 0.0
	for i := range share {
		if o.Outcomes[i].Covers != 0 {
			continue
		}
		at[i] = share[i] / sum
		if d.blunders {
			byMistake[i] = y.BlunderOf(i) / float64(o.Plain)
			at[i] = (1-y.BlunderOf(i))*at[i] + byMistake[i]
		}
		total += at[i]
	}
	x := d.rng.Float64() * total
	i := slices.IndexFunc(at, func(p float64) bool { x -= p; return x < 0 })
	if byMistake[i] > 0 && d.happens(byMistake[i]/at[i]) {
		s.blundered = append(s.blundered, o.Name)
	}
	word := o.Outcomes[i].Name
	for _, c := range o.Outcomes {
		if c.Covers>>i&1 == 1 && d.happens(0.3) {
			word = c.Name // told less closely: doubly refractive, not uniaxial
		}
	}
	s.readings[o.Name] = word
}

// features looks for some of the features that a sheet names.
func (d *drawer) features(s *stoneDrawn, o *vocab.Observable, y *vocab.Yield, f *kb.Frequencies) {
	if f == nil {
		return
	}
	seen, lookedFor := []string{}, []string{}
	for _, c := range o.Outcomes {
		w, ok := f.Words[c.Name]
		if !ok || !d.happens(0.6) {
			continue
		}
		p := d.rs.Policy.Frequency[w]
		if d.blunder(s, o, y.Blunder) {
			p = c.Background
		}
		lookedFor = append(lookedFor, c.Name)
		if d.happens(p) {
			seen = append(seen, c.Name)
		}
	}
	if len(lookedFor) > 0 {
		s.readings[o.Name] = map[string]any{"features": seen, "looked_for": lookedFor}
	}
}
