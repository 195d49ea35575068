package answers

import (
	"fmt"
	"math"
	"slices"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
	"whystone/kb/casefile"
)

// Short is the short chain of reasoning: only what mattered for the verdict.
type Short struct {
	Format  int            `json:"format"`
	Case    string         `json:"case"`
	Verdict wording.Result `json:"verdict"`
	About   []string       `json:"about"` // what the verdict is about: the named node, those narrowed to, or the foremost candidate
	Says    string         `json:"says"`
	Because []string       `json:"because"`
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
	Times   float64        `json:"times"`   // how many times likelier it is under what the verdict is about than under its rival
	Rules   []string       `json:"rules"`   // rules that fired on it
	Says    string         `json:"says"`
	effect  float64
}

// matters is how far a reading must move the odds of what the verdict is about: to double or to halve them, as for a
// family that supports it.
const matters = math.Ln2

// Short picks from a case's chain what mattered. Each reading is left out in turn, and what the engine then makes of
// the case tells what it did.
func (a *Asker) Short(c *casefile.Case, m engine.Moment, ex *engine.Explained) *Short {
	d := a.decide(c, m.On)
	out := &Short{Format: Format, Case: c.ID, Verdict: wording.Of(&d), About: []string{}, Because: []string{}, For: []Reason{}, Against: []Reason{}, Others: []Reading{}}
	about := a.subject(&d)
	for _, n := range about {
		out.About = append(out.About, engine.Told(n).ID)
	}
	base := a.stand(about, &d)
	one, rival := a.foremost(&d), a.side(a.rival(about))
	ledger := a.ledger(c, one, rival)
	out.Because = a.because(&d, about, ledger)
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
		slices.SortStableFunc(list, func(x, y Reason) int { return byEffect(math.Abs(x.effect), math.Abs(y.effect)) })
	}
	out.Says = shortSays(out)
	out.Tree = tree(out, ex)
	return out
}

func byEffect(x, y float64) int {
	switch {
	case x > y:
		return -1
	case x < y:
		return 1
	}
	return 0
}

// standing is how a case stands towards what a verdict is about.
type standing struct {
	share    float64
	logOdds  float64
	excluded []bool
	verdict  *engine.Decision
}

func (s *standing) same(d *engine.Decision) bool {
	return wording.Same(s.verdict, d) && s.verdict.Claim.Answer == d.Claim.Answer
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

// rival is the likeliest leaf outside what a verdict is about, of weight above nought.
func (a *Asker) rival(about []*kb.Material) int {
	best := engine.Unlisted
	for i, m := range a.rs.Leaves {
		if a.judge.Nought(i) || slices.ContainsFunc(about, func(n *kb.Material) bool { return m.Under(n) }) {
			continue
		}
		if best == engine.Unlisted || a.judge.Likelihood(i) > a.judge.Likelihood(best) {
			best = i
		}
	}
	return best
}

// reason finds what a reading did: effect is by how much it raises the log-odds of what the verdict is about, or, where
// both shares round to the same, nought.
func (a *Asker) reason(c *casefile.Case, on time.Time, r *casefile.Reading, base standing, about []*kb.Material, ledger *Ledger) (Reason, engine.Decision) {
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
	x.Says = reasonSays(r, x, gap, base.same(&d), ledger)
	return x, d
}

func reasonSays(r *casefile.Reading, x Reason, gap float64, same bool, ledger *Ledger) string {
	says := fmt.Sprintf("%s: %s", phrase([]*casefile.Reading{r}), wording.Times(gap, ledger.one, ledger.other))
	if x.Opens > 0 {
		says += fmt.Sprintf("; without it %s stay open", more(x.Opens))
	}
	if same {
		return says + "; the verdict would be the same without it."
	}
	return says + fmt.Sprintf("; without it the verdict would be: %s.", x.Without.Says)
}

func more(n int) string {
	if n == 1 {
		return "one more material would"
	}
	return fmt.Sprintf("%d more materials would", n)
}

// because says what carries the verdict, or what is missing for a firmer one.
func (a *Asker) because(d *engine.Decision, about []*kb.Material, ledger *Ledger) []string {
	switch {
	case d.Class == engine.Identified:
		s := a.judge.Standing(d, d.Named)
		return []string{fmt.Sprintf("Supported by %s, by more than one test.", engine.List(s.Families, "and")), stop(capital(ledger.Says))}
	case d.Class == engine.Narrowed:
		return []string{"The readings leave these open, and nothing else that is likely enough.", stop(capital(ledger.Says))}
	case d.Class == engine.Contradictory:
		return []string{contradictionSays(d)}
	case d.NotListed == engine.NotListedLikely:
		return []string{likelyNotListed}
	case len(about) == 0:
		return []string{}
	}
	var out []string
	for _, says := range a.missing(d, about[0]) {
		out = append(out, stop(capital(says)))
	}
	return append([]string{fmt.Sprintf("Foremost among what stays open is %s; it can't be named:", wording.Node(about[0]))}, out...)
}

func shortSays(s *Short) string {
	says := "The stone is " + s.Verdict.Says
	if s.Verdict.Verdict == engine.Contradictory.String() || s.Verdict.Verdict == engine.Inconclusive.String() {
		says = "The verdict is " + s.Verdict.Says
	}
	var words []string
	for _, x := range s.For {
		words = append(words, engine.InWords(x.Reading.Name))
	}
	if len(words) > 0 {
		says += ", foremost by " + engine.List(words[:min(3, len(words))], "and")
	}
	return says + "."
}
