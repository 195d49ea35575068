package next

import (
	"fmt"
	"math"
	"strconv"

	"whystone/engine/answers/wording"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// leads lists what the outcomes of a look would lead to. Neighbouring stretches of values that lead to the same are one.
func (b *bench) leads(f *figures, unclear float64) []LeadsTo {
	out := []LeadsTo{}
	for i := 0; i < len(f.played); {
		k := i + 1
		for k < len(f.played) && continuous(&f.played[i]) && f.played[k].reading.Form == f.played[i].reading.Form && alike(&f.played[i].state, &f.played[k].state) {
			k++
		}
		out = append(out, b.leadsTo(f, f.played[i:k], unclear))
		i = k
	}
	return out
}

func continuous(o *played) bool {
	return o.reading.Form == casefile.Value || o.reading.Form == casefile.Pair
}

func alike(a, b *state) bool {
	return wording.Same(&a.decision, &b.decision) && a.decision.Claim.Answer == b.decision.Claim.Answer && a.sentOn == b.sentOn
}

func (b *bench) leadsTo(f *figures, some []played, unclear float64) LeadsTo {
	l := LeadsTo{To: wording.Of(&some[0].state.decision), SentOn: some[0].state.sentOn, Outcome: f.look.says(some)}
	mass := 0.0
	for i := range some {
		mass += some[i].mass
		l.Entropy += some[i].mass * some[i].state.entropy
	}
	l.Entropy /= mass
	l.Likelihood = mass
	if some[0].reading.Usable() {
		l.Likelihood *= 1 - unclear
	}
	return l
}

// says tells an outcome in words: "strong", "no gas bubbles", "3.18 to 3.26", "above 1.81", "inconclusive".
func (l *look) says(some []played) string {
	r, o := some[0].reading, l.source.Observable
	switch r.Form {
	case casefile.Inconclusive:
		return "inconclusive"
	case casefile.Value:
		return l.rounded(some[0].lo) + " to " + l.rounded(some[len(some)-1].hi) + unit(o)
	case casefile.Pair:
		lo, hi := some[0].apart[0], some[0].apart[1]
		for i := range some {
			lo, hi = math.Min(lo, some[i].apart[0]), math.Max(hi, some[i].apart[1])
		}
		return fmt.Sprintf("low ray %s to %s, the rays %s to %s apart", l.rounded(some[0].lo), l.rounded(some[len(some)-1].hi), l.rounded(lo), l.rounded(hi))
	case casefile.Interval:
		if math.IsInf(r.Hi, 1) {
			return "above " + l.rounded(l.source.Limits[1]) + unit(o)
		}
		return "below " + l.rounded(l.source.Limits[0]) + unit(o)
	case casefile.Features:
		if r.Seen.Empty() {
			return "no " + o.Outcomes[l.feature].Name
		}
		return o.Outcomes[l.feature].Name
	}
	return o.Outcomes[r.Outcome].Name
}

// rounded writes a value to the last figure that its uncertainty leaves meaningful.
func (l *look) rounded(x float64) string {
	digits := 3
	if l.source.U > 0 {
		digits = max(0, min(9, int(math.Ceil(-math.Log10(l.source.U)))))
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

func unit(o *vocab.Observable) string {
	if o.Unit == "" || o.Unit == "1" {
		return ""
	}
	return " " + o.Unit
}
