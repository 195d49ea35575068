package answers

import (
	"cmp"
	"math"
	"slices"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/diff"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
)

// Short is the short chain of reasoning: only what mattered for the verdict.
type Short struct {
	Head
	// what the verdict is about: the named node, those narrowed to, or the foremost candidate
	About []string `json:"about"`
	phrase.Told
	Because []string      `json:"because"`
	Reasons []phrase.Told `json:"reasons"` // the same as data too
	// For are the readings that speak for it: without one of them it would not hold more. Against are those without
	// which it would. Both in the order of what they do, most first.
	For     []Reason  `json:"for"`
	Against []Reason  `json:"against"`
	Others  []Reading `json:"others"` // readings that made little difference
	Tree    Branch    `json:"tree"`
}

// Reason is a reading that mattered.
type Reason struct {
	Reading Reading        `json:"reading"`
	Without wording.Result `json:"without"` // the verdict without it
	Opens   int            `json:"opens"`   // how many more materials would stay open without it
	// how many times likelier it is under what the verdict is about than under its rival
	Times float64  `json:"times"`
	Rules []string `json:"rules"` // rules that fired on it
	phrase.Told
	effect float64
}

// matters is how far a reading must move the odds of what the verdict is about: to double or to halve them, as for a
// family that supports it.
const matters = math.Ln2

// Short picks from a case's chain what mattered. Each reading is left out in turn, and what the engine then makes of
// the case tells what it did.
func (a *Asker) Short(c *casefile.Case, m engine.Moment, ex *engine.Explained) *Short {
	d := a.decide(c, m.On)
	out := &Short{Head: head(c, &d), About: []string{}, Because: []string{},
		For: []Reason{}, Against: []Reason{}, Others: []Reading{}}
	about := a.subject(&d)
	out.About = append(out.About, english.Each(about, func(n *kb.Material) string { return engine.Told(n).ID })...)
	base := a.stand(about, &d)
	one, rival := a.foremost(&d), a.side(a.rival(about))
	ledger := a.ledger(c, one, rival)
	out.Because, out.Reasons = worded(a.because(&d, about, ledger))
	for i, says := range out.Because {
		out.Because[i] = phrase.Sentence(says)
	}
	for _, r := range c.Readings {
		x, verdict := a.reason(c, m.On, r, base, about, ledger)
		switch {
		case math.Abs(x.effect) < matters && base.same(&verdict):
			out.Others = append(out.Others, told(r))
		case x.effect >= 0:
			out.For = append(out.For, x)
		default:
			out.Against = append(out.Against, x)
		}
	}
	for _, list := range [][]Reason{out.For, out.Against} {
		slices.SortStableFunc(list, func(x, y Reason) int {
			return cmp.Compare(math.Abs(y.effect), math.Abs(x.effect))
		})
	}
	out.Told = sentence(shortSays(out, &d))
	out.Tree = tree(out, ex)
	return out
}

// standing is how a case stands towards what a verdict is about.
type standing struct {
	share    float64
	logOdds  float64
	excluded []bool
	verdict  *engine.Decision
}

func (s *standing) same(d *engine.Decision) bool {
	return diff.SameAnswer(s.verdict, d)
}

// stand looks at the case that was decided last.
func (a *Asker) stand(about []*kb.Material, d *engine.Decision) standing {
	s := standing{excluded: make([]bool, len(a.rs.Leaves)), verdict: d}
	rest := d.Unlisted
	for i, m := range a.rs.Leaves {
		s.excluded[i] = a.judge.Excluded(i)
		in := slices.ContainsFunc(about, func(n *kb.Material) bool { return m.Under(n) })
		if share := a.judge.Share(m); in {
			s.share += share
		} else {
			rest += share
		}
	}
	s.logOdds = math.Log(s.share) - math.Log(rest)
	return s
}

// rival is the likeliest leaf outside what a verdict is about, of weight above zero.
func (a *Asker) rival(about []*kb.Material) int {
	best := engine.Unlisted
	for i, m := range a.rs.Leaves {
		if a.judge.Zero(i) || slices.ContainsFunc(about, func(n *kb.Material) bool { return m.Under(n) }) {
			continue
		}
		if best == engine.Unlisted || a.judge.Likelihood(i) > a.judge.Likelihood(best) {
			best = i
		}
	}
	return best
}

// reason finds what a reading did: effect is by how much it raises the log-odds of what the verdict is about, or, where
// both shares round to the same, zero.
func (a *Asker) reason(c *casefile.Case, on time.Time, r *casefile.Reading, base standing, about []*kb.Material,
	ledger *Ledger) (Reason, engine.Decision) {
	d := a.decide(without(c, []*casefile.Reading{r}), on)
	s := a.stand(about, &d)
	x := Reason{Reading: told(r), Without: wording.Of(&d), Rules: []string{}}
	switch {
	case s.share > base.share:
		x.effect = min(base.logOdds-s.logOdds, -math.SmallestNonzeroFloat64)
	case s.share < base.share:
		x.effect = max(base.logOdds-s.logOdds, 0)
	}
	if math.IsNaN(x.effect) {
		x.effect = 0
	}
	for i, out := range base.excluded {
		if out && !s.excluded[i] {
			x.Opens++
		}
	}
	gap := 0.0
	for _, l := range ledger.Lines {
		if slices.ContainsFunc(l.Readings, func(o Reading) bool { return o == x.Reading }) {
			gap += l.Difference
			if l.Kind == "rule" {
				x.Rules = append(x.Rules, l.Name)
			}
		}
	}
	x.Times = math.Exp(gap)
	x.Told = sentence(reasonSays(r, x.Opens, gap, base.same(&d), ledger, &d))
	return x, d
}

func reasonSays(r *casefile.Reading, opens int, gap float64, same bool, ledger *Ledger,
	without *engine.Decision) phrase.Reason {
	out := phrase.Reason{Code: phrase.Did, Readings: []*casefile.Reading{r},
		Then: []phrase.Reason{phrase.Compared(gap, ledger.one, ledger.other)}}
	if opens > 0 {
		out.Then = append(out.Then, phrase.Reason{Code: phrase.OpensWithout, Count: opens})
	}
	if same {
		out.Then = append(out.Then, phrase.Reason{Code: phrase.SameWithout})
		return out
	}
	verdict := without.Reason()
	out.Then = append(out.Then, phrase.Reason{Code: phrase.ElseWithout, Why: &verdict})
	return out
}

// because is what carries the verdict, or what is missing for a firmer one.
func (a *Asker) because(d *engine.Decision, about []*kb.Material, ledger *Ledger) []phrase.Reason {
	support := ledger.support(a.rs.Policy)
	switch {
	case d.Class == engine.Identified:
		has, _ := a.judge.Asked(d, d.Named)
		return append(slices.DeleteFunc(has, func(r phrase.Reason) bool { return r.Code != phrase.Supported }), support)
	case d.Class == engine.Narrowed:
		return []phrase.Reason{{Code: phrase.LeftOpen}, support}
	case d.Class == engine.Contradictory || d.NotListed == engine.NotListedLikely:
		return []phrase.Reason{Contradicts(d)}
	case len(about) == 0:
		return nil
	}
	return append([]phrase.Reason{{Code: phrase.ForemostOpen, Node: about[0]}}, a.missing(d, about[0])...)
}

func shortSays(s *Short, d *engine.Decision) phrase.Reason {
	says := stoneIs(d)
	by := phrase.Reason{Code: phrase.ForemostBy}
	by.Observables = english.Each(s.For[:min(3, len(s.For))], func(x Reason) string { return x.Reading.Name })
	if len(by.Observables) > 0 {
		says.Then = []phrase.Reason{by}
	}
	return says
}
