package next

import (
	"math"
	"slices"
	"whystone/engine/diff"

	"whystone/engine/answers/wording"
	"whystone/engine/phrase"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// leads lists what the outcomes of a look would lead to, in the order of their values.
func (b *bench) leads(p *player, f *figures, unclear float64) []LeadsTo {
	var pairs, others []played
	values := make([]played, 0, len(f.played))
	for _, x := range f.played {
		switch x.reading.Form {
		case casefile.Value:
			values = append(values, x)
		case casefile.Pair:
			pairs = append(pairs, x)
		default:
			others = append(others, x)
		}
	}
	out := []LeadsTo{}
	if len(values) > 0 {
		out = append(out, b.bands(p, &f.look, values)...)
	}
	if len(pairs) > 0 {
		out = append(out, b.boxes(p, &f.look, pairs, unclear)...)
	}
	for i := range out {
		out[i].Likelihood *= 1 - unclear
	}
	for i := range others {
		x := &others[i]
		says := f.look.says(x.reading)
		if n := len(out); n > 0 && out[n-1].Outcome == says { // beyond the scale, whichever ray is
			last := &out[n-1]
			last.Likelihood, last.Entropy = last.Likelihood+x.mass*(1-unclear), x.state.entropy
			continue
		}
		l := LeadsTo{Outcome: says, Likelihood: x.mass, To: x.state.short(), Entropy: x.state.entropy,
			SentOn: x.state.sentOn, Unclear: !x.reading.Usable(), cautions: x.state.cautions}
		if x.reading.Usable() {
			l.Likelihood *= 1 - unclear
		}
		out = append(out, l)
	}
	for i := range out {
		out[i].Cautions = b.cautions(p, f.look.source.Observable, out[i].cautions)
	}
	return out
}

// cautions words those that don't stand under the verdict as it is.
func (b *bench) cautions(p *player, o *vocab.Observable, rules []int) []Caution {
	out := []Caution{}
	for _, i := range rules {
		if slices.Contains(b.base.cautions, i) {
			continue
		}
		r := p.warns[i]
		for _, says := range r.Cautions {
			out = append(out, Caution{Rule: r.ID, Says: says, Alone: len(r.Observes) == 1 && r.Observes[0] == o})
		}
	}
	return out
}

// alike tells whether two outcomes lead to the same: to one verdict, as firm, and to one answer to the claim.
func alike(a, b *state) bool {
	x, y := &a.decision, &b.decision
	return diff.SameAnswer(x, y) && (len(x.RestsOnPriors) == 0) == (len(y.RestsOnPriors) == 0) && a.sentOn == b.sentOn
}

// short is the verdict in short.
func (s *state) short() wording.Result { return wording.Of(&s.decision) }

// says tells an outcome in words: "strong", "no gas bubbles", "above 1.81", "inconclusive".
func (l *look) says(r *casefile.Reading) string {
	o := l.source.Observable
	switch r.Form {
	case casefile.Inconclusive:
		return "inconclusive"
	case casefile.Interval:
		s := scale{l.figure()}
		if math.IsInf(r.Hi, 1) {
			return "above " + s.text(l.source.Limits[1]) + phrase.Unit(o)
		}
		return "below " + s.text(l.source.Limits[0]) + phrase.Unit(o)
	case casefile.Features:
		if r.Seen.Empty() {
			return "no " + o.Outcomes[l.feature].Name
		}
		return o.Outcomes[l.feature].Name
	}
	return o.Outcomes[r.Outcome].Name
}
