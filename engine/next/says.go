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
	settled := b.base.settled()
	switch {
	case b.base.decision.Faulty:
		a.Action, a.Says = Stop, "Stop: a rule can't be evaluated on this case, and no test changes that. The ruleset has to be mended first."
	case b.doubted():
		b.repeat(on, a)
	case len(b.sentOn) > 0:
		a.Action, a.Says = Laboratory, "Send it to a laboratory: a rule of the house sends this stone on."
		for _, r := range b.sentOn {
			a.Because = append(a.Because, r.SendsOn)
		}
	case settled && (first < 0 || a.Tests[first].Net <= 0):
		a.Action, a.Says = Stop, fmt.Sprintf("Stop: the stone is %s, and no further test is needed.", a.Now.Says)
	case settled:
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

// repeat says which readings to take again where they contradict each other, or fit nothing that is listed.
func (b *bench) repeat(on time.Time, a *Advice) {
	j := b.players[0].judge
	b.players[0].play(b.c)
	d := &b.base.decision
	without := "Without %s the readings no longer contradict each other."
	if d.NotListed != engine.Listed {
		without = "Without %s the other readings fit something that is listed."
	}
	for _, r := range j.Repeats(b.c, on, d) {
		a.Repeat = append(a.Repeat, RepeatFirst{Readings: r.Readings, Says: fmt.Sprintf(without, inWords(r.Readings))})
	}
	why := "the readings can't all be true of one listed stone"
	switch d.NotListed {
	case engine.NotListedLikely:
		why = "no listed stone fits all these readings, and this one is likely not on the list"
	case engine.NotListedPossible:
		why = "no listed stone fits all these readings; either this one is not on the list, or a reading is wrong"
	}
	if len(a.Repeat) == 0 {
		a.Action, a.Says = Laboratory, fmt.Sprintf("Send it to a laboratory: %s. No reading whose repetition would help explains that.", why)
		return
	}
	first := a.Repeat[0].Readings
	a.Action, a.Says = Repeat, fmt.Sprintf("Take %s again first: %s, and that is the likeliest mistake.", inWords(first), why)
	if d.NotListed != engine.Listed {
		a.Says += " If it stays, send the stone to a laboratory."
	}
}

// inWords joins names of readings as a sentence does.
func inWords(names []string) string {
	words := make([]string, len(names))
	for i, n := range names {
		words[i] = engine.InWords(n)
	}
	return engine.List(words, "and")
}

// laboratory says why the house can't settle it.
func (b *bench) laboratory(a *Advice) {
	a.Action = Laboratory
	d := &b.base.decision
	kept := b.kept()
	switch {
	case d.Class == engine.Identified && len(d.RestsOnPriors) > 0:
		a.Says = fmt.Sprintf("Send it to a laboratory if the name must be sure: the readings fit %s as well or nearly so, and no test in the house tells them apart on this stone.",
			wording.Node(d.RestsOnPriors[0]))
	case d.Class == engine.Identified && len(kept) > 0:
		a.Says = fmt.Sprintf("Send it to a laboratory if it must be named more closely: the stone is %s, and nothing that the house can do lets a closer name be given.", a.Now.Says)
	case d.Class == engine.Identified:
		a.Says = fmt.Sprintf("Send it to a laboratory if the claim must be settled: the stone is %s, and no test in the house decides the rest.", a.Now.Says)
	case d.Class == engine.Narrowed:
		a.Says = fmt.Sprintf("Send it to a laboratory if one of them must be named: the stone is %s, and no test in the house tells these apart on this stone.", a.Now.Says)
	case len(kept) > 0:
		a.Says = "Send it to a laboratory: no name that the readings fit may be given, and nothing that the house can do on this stone changes that."
	case d.Claim.Claim != nil && d.Claim.Answer == engine.Falls:
		a.Action, a.Says = Stop, "Stop: the claim falls, and no test in the house can name the stone. If it must be named, send it to a laboratory."
	default:
		a.Says = fmt.Sprintf("Send it to a laboratory: no test that the house can do on this stone, nor all of them together, would settle between %s.", engine.List(b.likeliestTwo(), "and"))
	}
	for _, r := range kept {
		a.Because = append(a.Because, r.Says)
	}
	if why := b.claimOpen(); why != "" && d.Class == engine.Identified {
		a.Because = append(a.Because, why)
	}
	if n := len(a.Infeasible); n > 0 {
		a.Because = append(a.Because, fmt.Sprintf("%d of the house's tests can't be done on this stone as it is.", n))
	}
}

// kept are the rules that keep a closer name back.
func (b *bench) kept() []*kb.Rule {
	b.players[0].play(b.c)
	return b.players[0].judge.KeptFromName(&b.base.decision)
}

// claimOpen is why the claim stays open, or empty.
func (b *bench) claimOpen() string {
	if b.base.decision.Claim.Answer != engine.Open {
		return ""
	}
	j := b.players[0].judge
	b.players[0].play(b.c)
	return fmt.Sprintf("The claim %q stays open: %s.", b.c.ClaimSays, j.GroundSays(&b.base.decision))
}

// suggestionSays says what a test is for.
func (b *bench) suggestionSays(s *suggestion, told *Suggestion, parts [][]*kb.Material) string {
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
	case len(parts) > 0:
		says += " It tells " + parted(parts) + "."
	case told.Again:
		says += " It was done before; a repeat makes the reading sharper."
	case told.Further <= 0.1:
		says += " It helps little."
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

// parted names the groups that a test tells apart: "a and b from c, from d and from e".
func parted(groups [][]*kb.Material) string {
	var words []string
	for _, g := range groups[1:] {
		words = append(words, "from "+namesOf(g))
	}
	if len(words) > most {
		words = append(words[:most-1], "from others")
	}
	return namesOf(groups[0]) + " " + engine.List(words, "and")
}

// most is how many materials a sentence names before it counts the rest.
const most = 3

func namesOf(leaves []*kb.Material) string {
	var names []string
	for _, m := range leaves {
		names = append(names, wording.Node(m))
	}
	if rest := len(names) - most; rest > 0 {
		names = append(names[:most], fmt.Sprintf("%d more", rest))
	}
	return engine.List(names, "and")
}
