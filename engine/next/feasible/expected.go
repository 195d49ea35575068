package feasible

import (
	"math"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// Expected is what a test reads of the stone of a case if it is of a material, as far as its sheet says: the middle of
// the range, the most frequent choice, the features that are seen half the time or more, among those that the sheet
// speaks of. A test that gives the index and the double refraction gives the two rays of a full turn. Observables of
// which the sheet says nothing are left out.
func Expected(rs *kb.Ruleset, c *casefile.Case, t *kb.Test, m *kb.Material) []*casefile.Reading {
	var out []*casefile.Reading
	turn := rays(rs, c, t, m)
	for _, s := range Sources(rs, c, t) {
		switch {
		case turn != nil && s.Observable.Name == vocab.Birefringence:
			continue
		case turn != nil && s.Observable.Name == vocab.RefractiveIndex:
			out = append(out, turn)
			continue
		}
		if r := s.expected(rs, m); r != nil {
			out = append(out, r)
		}
	}
	return out
}

func (s *Source) expected(rs *kb.Ruleset, m *kb.Material) *casefile.Reading {
	o := s.Observable
	switch o.Kind {
	case vocab.Quantity:
		if r := m.Ranges[o.Property]; r != nil {
			return s.Value(math.Min(math.Max(middle(r), o.Span[0]), o.Span[1]))
		}
	case vocab.Choice:
		if f := m.Choices[o.Name]; f != nil {
			return s.Choice(mostFrequent(rs, o, f))
		}
	case vocab.Features:
		if f := m.Features[o.Name]; f != nil {
			return s.features(rs, f)
		}
	}
	return nil
}

// middle is that of the typical part of a range, or of the whole.
func middle(r *kb.Range) float64 {
	if r.Typical != nil {
		return (r.Typical[0] + r.Typical[1]) / 2
	}
	return (r.Low + r.High) / 2
}

func mostFrequent(rs *kb.Ruleset, o *vocab.Observable, f *kb.Frequencies) int {
	best, most := -1, -1.0
	for i := range o.Outcomes {
		if o.Outcomes[i].Covers != 0 {
			continue
		}
		p := 0.0
		if w, ok := f.Words[o.Outcomes[i].Name]; ok {
			p = rs.Policy.Frequency[w]
		}
		if p > most {
			best, most = i, p
		}
	}
	return best
}

func (s *Source) features(rs *kb.Ruleset, f *kb.Frequencies) *casefile.Reading {
	r := s.reading(casefile.Features, -1)
	for i := range s.Observable.Outcomes {
		w, ok := f.Words[s.Observable.Outcomes[i].Name]
		if !ok {
			continue
		}
		r.LookedFor.Add(i)
		if rs.Policy.Frequency[w] >= 0.5 {
			r.Seen.Add(i)
		}
	}
	if r.LookedFor.Empty() {
		return nil
	}
	return r
}

// rays is a full turn on a material with two rays, or nil where the test does not give it.
func rays(rs *kb.Ruleset, c *casefile.Case, t *kb.Test, m *kb.Material) *casefile.Reading {
	ri, split := m.Ranges[vocab.RefractiveIndex], m.Ranges[vocab.Birefringence]
	if ri == nil || split == nil || split.High <= 0 {
		return nil
	}
	var index *Source
	both := false
	for _, s := range Sources(rs, c, t) {
		switch s.Observable.Name {
		case vocab.RefractiveIndex:
			index = s
		case vocab.Birefringence:
			both = true
		}
	}
	if index == nil || !both {
		return nil
	}
	d := middle(split)
	low := math.Max(ri.Low, (ri.Low+ri.High-d)/2)
	return index.Rays(low, low+d)
}
