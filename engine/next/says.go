package next

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
)

// notDone lists the tests that are not suggested, with the reason.
func (b *bench) notDone(a *Advice) {
	for _, t := range b.e.Ruleset.Tests {
		n := NotDone{Test: t.ID, Name: t.Name}
		switch {
		case t.Harm == kb.Marks:
			n.Says = fmt.Sprintf("The test %q is not done here: it marks the stone. Its sheet only tells how to read an outcome that somebody already has.", t.Name)
			a.Harmful = append(a.Harmful, n)
		case t.Harm == kb.Destroys:
			n.Says = fmt.Sprintf("The test %q is not done here: it can destroy the stone. Its sheet only tells how to read an outcome that somebody already has.", t.Name)
			a.Harmful = append(a.Harmful, n)
		case len(b.forbids[t.ID]) > 0:
			r := b.forbids[t.ID][0]
			n.Rule, n.Says = r.ID, fmt.Sprintf("A rule of the house forbids %s on this stone: %s", t.Name, r.Says)
			a.Forbidden = append(a.Forbidden, n)
		case !b.needs[t].Feasible():
			n.Need = b.needs[t].Missing
			n.Says = fmt.Sprintf("%s can't be done on this stone. It needs: %s", capital(t.Name), needs(n.Need))
			a.Infeasible = append(a.Infeasible, n)
		case slices.Contains(b.opts.Lacks, t.ID):
			n.Says = fmt.Sprintf("%s can't be done here: the house has no instrument for it.", capital(t.Name))
			a.Infeasible = append(a.Infeasible, n)
		}
	}
}

// needs joins what a test needs: sentences of its sheet.
func needs(list []string) string {
	var words []string
	for _, w := range list {
		words = append(words, lower(strings.TrimSuffix(w, ".")))
	}
	return strings.Join(words, "; ") + "."
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// act decides what to do and says so.
func (b *bench) act(on time.Time, a *Advice, found []suggestion) {
	first := slices.IndexFunc(found, func(s suggestion) bool { return b.helps(&s) })
	switch {
	case b.base.decision.Class == engine.Contradictory:
		b.repeat(on, a)
	case len(b.sentOn) > 0:
		a.Action, a.Says = Laboratory, "Send it to a laboratory: a rule of the house sends this stone on."
		for _, r := range b.sentOn {
			a.Because = append(a.Because, r.SendsOn)
		}
	case b.base.rank == 2 && (first < 0 || a.Tests[first].Net <= 0):
		a.Action, a.Says = Stop, fmt.Sprintf("Stop: the stone is %s, and no further test is needed.", a.Now.Says)
	case b.base.rank == 2:
		a.Action, a.Says = Test, fmt.Sprintf("The stone is %s. At this stake a further test still makes it surer: %s", a.Now.Says, a.Tests[first].Says)
	case first >= 0 && b.furthers(found):
		a.Action, a.Says = Test, "Next: "+a.Tests[first].Says
	default:
		b.laboratory(a)
	}
}

// helps tells whether a test tells anything, alone or before another.
func (b *bench) helps(s *suggestion) bool {
	return s.best().tells(&b.cost) || s.then != nil && s.then.better > decides
}

// furthers tells whether anything that the house can do can bring the verdict further: a test, two of them, or all of
// them together.
func (b *bench) furthers(found []suggestion) bool {
	for i := range found {
		if s := &found[i]; s.best().better > decides || s.then != nil && s.then.better > decides {
			return true
		}
	}
	return b.reach()
}

func (b *bench) repeat(on time.Time, a *Advice) {
	j := b.players[0].judge
	b.players[0].play(b.c)
	for _, r := range j.Repeats(b.c, on, &b.base.decision) {
		a.Repeat = append(a.Repeat, RepeatFirst{Readings: r.Readings, Says: fmt.Sprintf("Without %s the readings no longer contradict each other.", engine.List(r.Readings, "and"))})
	}
	if len(a.Repeat) == 0 {
		a.Action, a.Says = Laboratory, "Send it to a laboratory: no reading whose repetition would help explains the contradiction, so it may be a material that is not listed."
		return
	}
	a.Action, a.Says = Repeat, fmt.Sprintf("Repeat %s first: the readings contradict each other, and that is the likeliest mistake.", engine.List(a.Repeat[0].Readings, "and"))
}

// laboratory says why the house can't settle it.
func (b *bench) laboratory(a *Advice) {
	a.Action = Laboratory
	d := &b.base.decision
	switch {
	case d.Faulty:
		a.Action, a.Says = Stop, "Stop: a rule can't be evaluated on this case, and no test changes that. The ruleset has to be mended first."
	case d.Class == engine.Identified:
		a.Says = fmt.Sprintf("Send it to a laboratory if the claim must be settled: the stone is %s, and no test in the house decides the rest.", a.Now.Says)
	case d.Class == engine.Narrowed:
		a.Says = fmt.Sprintf("Send it to a laboratory if one of them must be named: the stone is %s, and no test in the house tells these apart on this stone.", a.Now.Says)
	case d.Claim.Claim != nil && d.Claim.Answer == engine.Falls:
		a.Action, a.Says = Stop, "Stop: the claim falls, and no test in the house can name the stone. If it must be named, send it to a laboratory."
	default:
		a.Says = fmt.Sprintf("Send it to a laboratory: no test that the house can do on this stone, nor all of them together, would settle between %s.", engine.List(b.likeliestTwo(), "and"))
	}
	if n := len(a.Infeasible); n > 0 {
		a.Because = append(a.Because, fmt.Sprintf("%d of the house's tests can't be done on this stone as it is.", n))
	}
}

// suggestionSays says what a test is for.
func (b *bench) suggestionSays(s *suggestion, told *Suggestion) string {
	says := capital(s.test.Name)
	if s.test.Minutes > 0 {
		says += fmt.Sprintf(", about %s", minutes(s.test.Minutes))
	}
	says += "."
	if f := s.best().look; f.feature >= 0 {
		says += fmt.Sprintf(" Look for %s.", f.source.Observable.Outcomes[f.feature].Name)
	}
	switch {
	case told.Again && told.TellsNothing:
		says += " It was done before, and doing it again tells nothing."
	case told.TellsNothing && s.then == nil:
		says += " It tells nothing here."
	case len(told.Splits) > 0:
		says += " It parts " + b.parted(told.Splits) + "."
	case told.Again:
		says += " It was done before; a repeat makes the reading sharper."
	case told.Further <= 0.1:
		says += " It tells a little, and parts none of the likeliest."
	}
	switch {
	case told.Further > 0.5:
		says += " It will most likely bring the verdict further."
	case told.Further > 0.1:
		says += " It may well bring the verdict further."
	case s.then != nil && s.then.better > decides:
		says += fmt.Sprintf(" Alone it settles nothing; followed by %s it may.", s.then.second.Name)
	}
	if len(told.Asks) > 0 {
		says += " The case does not say whether it can be done. It needs: " + needs(told.Asks)
	}
	return says
}

func minutes(x float64) string {
	if x == 1 {
		return "a minute"
	}
	return engine.Figures(x) + " minutes"
}

// parted names the groups that a test parts: "a and b from c, from d and from e".
func (b *bench) parted(groups [][]string) string {
	var words []string
	for _, g := range groups[1:] {
		words = append(words, "from "+b.namesOf(g))
	}
	if len(words) > most {
		words = append(words[:most-1], "from others")
	}
	return b.namesOf(groups[0]) + " " + engine.List(words, "and")
}

// most is how many materials a sentence names before it counts the rest.
const most = 3

func (b *bench) namesOf(ids []string) string {
	var names []string
	for _, id := range ids {
		names = append(names, wording.Node(b.e.Ruleset.Node(id)))
	}
	if rest := len(names) - most; rest > 0 {
		names = append(names[:most], fmt.Sprintf("%d more", rest))
	}
	return engine.List(names, "and")
}
