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
	"whystone/kb/logic"
)

// Effect is what a waiting rule would change if it held.
type Effect string

// The effects, the largest first.
const (
	ChangesVerdict Effect = "verdict" // the verdict or the answer to the claim
	SendsOn        Effect = "sends on"
	ChangesWeights Effect = "weights" // how the materials stand to each other, but not the verdict
)

// Waiting lists the undecided rules that matter: those that would change something if they held.
type Waiting struct {
	Head
	phrase.Told
	Rules []WaitingRule `json:"rules"` // those that would change most first, then by id
}

// WaitingRule is an undecided rule, and what would decide it.
type WaitingRule struct {
	Rule    string         `json:"rule"`
	Text    string         `json:"text"` // what the rule says, in its author's words
	Changes Effect         `json:"changes"`
	To      wording.Result `json:"to"` // the verdict if it held
	Waits   []WaitsFor     `json:"waits"`
	phrase.Told
}

// WaitsFor is something that a rule waits for.
type WaitsFor struct {
	Name  string   `json:"name"` // an observable, or something of the stone
	Why   string   `json:"why"`  // why it does not decide the rule now, in words
	Tests []string `json:"tests"`
	Able  bool     `json:"able"` // whether one of the tests can be done on this stone without harm
}

// Waiting finds the rules that wait for a reading.
func (a *Asker) Waiting(c *casefile.Case, m engine.Moment) *Waiting {
	able := a.able(c, m.On) // the rules have run then
	d := a.decide(c, m.On)
	out := &Waiting{Head: head(c, &d), Rules: []WaitingRule{}}
	before := a.logs()
	for i, r := range a.rs.Order {
		if a.run.Rules[i] != logic.Undecided || !a.run.InForce[i] || r.Status != kb.Active || !effects(r) {
			continue
		}
		w, held, matters := a.suppose(c, m.On, r, &d, before)
		if matters {
			causes := a.causes(r)
			w.Waits = a.waitsFor(causes, able)
			w.Told = waitingSays(r, &w, causes, &held).Told()
			out.Rules = append(out.Rules, w)
		}
	}
	order := []Effect{ChangesVerdict, SendsOn, ChangesWeights}
	slices.SortStableFunc(out.Rules, func(x, y WaitingRule) int {
		return cmp.Or(cmp.Compare(slices.Index(order, x.Changes), slices.Index(order, y.Changes)),
			cmp.Compare(x.Rule, y.Rule))
	})
	says := phrase.Reason{Code: phrase.NoneWaits, Count: len(out.Rules)}
	for _, w := range out.Rules {
		says.Code, says.Rules = phrase.RulesWait, append(says.Rules, a.rs.Rule(w.Rule))
	}
	out.Told = says.Told()
	return out
}

// effects tells whether anything of a rule can touch a verdict. What it establishes acts through the rules that read
// it.
func effects(r *kb.Rule) bool {
	return r.Evidence() || len(r.SetsAside) > 0 || r.SendsOn != "" || r.Withholds != nil
}

func (a *Asker) logs() []float64 {
	out := make([]float64, len(a.rs.Leaves), len(a.rs.Leaves)+1)
	for i := range out {
		out[i] = a.judge.LogWeight(i)
	}
	return append(out, a.judge.LogWeight(engine.Unlisted))
}

// suppose judges the case as if a rule held.
func (a *Asker) suppose(c *casefile.Case, on time.Time, r *kb.Rule, d *engine.Decision,
	before []float64) (w WaitingRule, held engine.Decision, matters bool) {
	a.judge.Suppose(c, on, r, &held)
	w = WaitingRule{Rule: r.ID, Text: r.Says, To: wording.Of(&held)}
	switch {
	case !diff.SameAnswer(d, &held):
		w.Changes = ChangesVerdict
	case r.SendsOn != "":
		w.Changes = SendsOn
	case a.moved(before):
		w.Changes = ChangesWeights
	}
	return w, held, w.Changes != ""
}

// moved tells whether any leaf's log-weight is another than before.
func (a *Asker) moved(before []float64) bool {
	for i, y := range a.logs() {
		x := before[i]
		if math.IsInf(x, -1) != math.IsInf(y, -1) || !math.IsInf(x, -1) && math.Abs(x-y) > 1e-9 {
			return true
		}
	}
	return false
}

// causes are what keeps a rule undecided. Where that is a fact that other rules establish, it is what keeps those
// undecided.
func (a *Asker) causes(r *kb.Rule) []logic.Cause {
	var causes []logic.Cause
	seen := map[*kb.Rule]bool{}
	var follow func(r *kb.Rule)
	follow = func(r *kb.Rule) {
		if seen[r] {
			return
		}
		seen[r] = true
		for _, c := range a.run.Causes(r) {
			f := a.rs.Fact(c.Name)
			if f == nil {
				causes = append(causes, c)
				continue
			}
			for _, by := range f.By {
				if by.Turn >= 0 && a.run.Rules[by.Turn] == logic.Undecided {
					follow(by)
				}
			}
		}
	}
	follow(r)
	return logic.Merge(causes)
}

// waitsFor lists what a rule waits for, with the tests that would tell it.
func (a *Asker) waitsFor(causes []logic.Cause, able map[string]bool) []WaitsFor {
	out := []WaitsFor{}
	for _, c := range causes {
		w := WaitsFor{Name: c.Name, Why: phrase.CauseSays(c), Tests: []string{}}
		for _, t := range a.rs.Tests {
			for _, y := range t.Yields {
				if y.Observable.Name == c.Name {
					w.Tests = append(w.Tests, t.ID)
					w.Able = w.Able || able[t.ID]
				}
			}
		}
		out = append(out, w)
	}
	return out
}

// claimThen is what a claim would come to.
var claimThen = map[engine.Answer]phrase.Code{engine.Falls: phrase.FallsThen, engine.Stands: phrase.StandsThen,
	engine.Open: phrase.OpenThen}

func waitingSays(r *kb.Rule, w *WaitingRule, causes []logic.Cause, held *engine.Decision) phrase.Reason {
	says := phrase.Reason{Code: phrase.RuleUndecided, Rules: []*kb.Rule{r}, Causes: causes}
	switch to := held.Reason(); w.Changes {
	case ChangesVerdict:
		says.Then = []phrase.Reason{{Code: phrase.VerdictThen, Why: &to}}
		if code := claimThen[held.Claim.Answer]; code != "" {
			says.Then = append(says.Then, phrase.Reason{Code: code})
		}
	case SendsOn:
		says.Then = []phrase.Reason{{Code: phrase.SentThen}}
	default:
		says.Then = []phrase.Reason{{Code: phrase.WeightsThen}}
	}
	return says
}
