package answers

import (
	"slices"
	"time"

	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// alternatives lists the readings that could stand in place of one, when the stone were tested again: another choice; a
// feature that was looked for seen instead of not, or the other way round; a quantity where another material has it.
// Only a test that can be done on the stone and does not harm it could turn out otherwise; what is computed from the
// stone is no test's.
func (a *Asker) alternatives(c *casefile.Case, r *casefile.Reading, able map[string]bool) []*casefile.Reading {
	if !r.Usable() || r.Derived || !slices.ContainsFunc(r.Tests, func(t string) bool { return able[t] }) {
		return nil
	}
	switch r.Form {
	case casefile.Choice:
		return a.otherChoices(r)
	case casefile.Features:
		return otherFeatures(r)
	}
	return a.otherValues(c, r)
}

func (a *Asker) otherChoices(r *casefile.Reading) []*casefile.Reading {
	var out []*casefile.Reading
	y := a.rs.Vocabulary.Yield(r.Tests[0], r.Observable)
	for i, o := range r.Observable.Outcomes {
		if o.Covers != 0 || r.Observable.Meaning(r.Outcome)>>i&1 == 1 {
			continue
		}
		x := *r
		x.Outcome, x.Parts = i, nil
		if y != nil && r.Blunder == y.BlunderOf(r.Outcome) {
			x.Blunder = y.BlunderOf(i)
		}
		out = append(out, &x)
	}
	return out
}

func otherFeatures(r *casefile.Reading) []*casefile.Reading {
	var out []*casefile.Reading
	for _, i := range r.LookedFor.Members() {
		x := *r
		x.Parts = nil
		var one vocab.Set
		one.Add(i)
		if r.Seen.Has(i) {
			x.Seen.Minus(one)
		} else {
			x.Seen.Union(one)
		}
		out = append(out, &x)
	}
	return out
}

// source finds what the reading's test can read.
func (a *Asker) source(c *casefile.Case, r *casefile.Reading) *feasible.Source {
	for _, id := range r.Tests {
		for _, s := range feasible.Sources(a.rs, c, a.rs.Test(id)) {
			if s.Observable == r.Observable {
				return s
			}
		}
	}
	return nil
}

// otherValues moves a value, or two rays, into the middle of each material's range that it does not lie in, or to the
// bound that the test gives there.
func (a *Asker) otherValues(c *casefile.Case, r *casefile.Reading) []*casefile.Reading {
	s := a.source(c, r)
	if s == nil {
		return nil
	}
	var out []*casefile.Reading
	for _, m := range a.rs.Leaves {
		rg := m.Ranges[r.Observable.Property]
		switch {
		case rg == nil || inside(r, rg):
		case r.Form == casefile.Pair:
			out = addReading(out, dress(s.MiddleRays(rg, m.Ranges[vocab.Birefringence]), r, s))
		default:
			out = addReading(out, dress(s.Middle(rg), r, s))
		}
	}
	return out
}

// dress gives an alternative what belongs to the reading that it stands for: its uncertainty, too, unless that follows
// from the value.
func dress(x, r *casefile.Reading, s *feasible.Source) *casefile.Reading {
	x.Where, x.Tests, x.Blunder, x.Instrument, x.Repeats, x.Span = r.Where, r.Tests, r.Blunder, r.Instrument, r.Repeats,
		r.Span
	if (r.Form == casefile.Value || r.Form == casefile.Pair) && r.U != s.U(r.Value) {
		x.U, x.HighU, x.Noise = r.U, max(r.U, r.HighU), r.U
	}
	return x
}

// addReading leaves out a reading that says the same as one that is there.
func addReading(list []*casefile.Reading, x *casefile.Reading) []*casefile.Reading {
	if slices.ContainsFunc(list, func(o *casefile.Reading) bool {
		return o.Form == x.Form && o.Value == x.Value && o.High == x.High && o.Lo == x.Lo && o.Hi == x.Hi
	}) {
		return list
	}
	return append(list, x)
}

// inside tells whether a reading can be of a material with this range: moving it there would be no change.
func inside(r *casefile.Reading, rg *kb.Range) bool {
	switch r.Form {
	case casefile.Interval:
		return r.Hi >= rg.Low && r.Lo <= rg.High
	case casefile.Pair:
		return r.Value >= rg.Low && r.High <= rg.High
	}
	return r.Value >= rg.Low && r.Value <= rg.High
}

// able tells which tests could be done on the stone: harmless, not forbidden by a rule, and with nothing known to stand
// in the way.
func (a *Asker) able(c *casefile.Case, on time.Time) map[string]bool {
	a.run.Do(c, on)
	out, forbidders := map[string]bool{}, a.rs.Forbidders()
	for _, t := range a.rs.Tests {
		out[t.ID] = t.Harmless() && a.run.Needs(t).Feasible() &&
			!slices.ContainsFunc(forbidders[t.ID], a.run.Fired)
	}
	return out
}
