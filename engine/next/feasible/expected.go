package feasible

import (
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
	sources := Sources(rs, c, t)
	index, split := FullTurn(sources)
	rays := m.Ranges[vocab.Birefringence]
	turn := index != nil && m.Ranges[vocab.RefractiveIndex] != nil && rays != nil && rays.High > 0
	for _, s := range sources {
		switch {
		case turn && s == split: // comes with the index
		case turn && s == index:
			out = append(out, s.MiddleRays(m.Ranges[vocab.RefractiveIndex], rays))
		default:
			if r := s.expected(rs, m); r != nil {
				out = append(out, r)
			}
		}
	}
	return out
}

// FullTurn finds the index and the double refraction among what a test gives, where it gives both: as two rays.
func FullTurn(sources []*Source) (index, split *Source) {
	for _, s := range sources {
		switch s.Observable.Name {
		case vocab.RefractiveIndex:
			index = s
		case vocab.Birefringence:
			split = s
		}
	}
	if index == nil || split == nil {
		return nil, nil
	}
	return index, split
}

func (s *Source) expected(rs *kb.Ruleset, m *kb.Material) *casefile.Reading {
	o := s.Observable
	switch o.Kind {
	case vocab.Quantity:
		if r := m.Ranges[o.Property]; r != nil {
			return s.Middle(r)
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

// Middle is the value in the middle of a range, as far as there can be such a value.
func (s *Source) Middle(r *kb.Range) *casefile.Reading {
	return s.Value(max(s.Observable.Span[0], min(middle(r), s.Observable.Span[1])))
}

// MiddleRays are two rays in the middle of a range of the index, so far apart as the middle of another range says; nil
// is not at all.
func (s *Source) MiddleRays(index, apart *kb.Range) *casefile.Reading {
	d := 0.0
	if apart != nil {
		d = middle(apart)
	}
	low := max(index.Low, (index.Low+index.High-d)/2)
	return s.Rays(low, low+d)
}
