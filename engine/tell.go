package engine

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/logic"
)

// Judge judges a case and tells everything around the verdict.
func (j *Judge) Judge(c *casefile.Case, m Moment) *Output { return &j.Explain(c, m).Output }

// Explain judges a case, with the chain of reasoning recorded by an observer.
func (j *Judge) Explain(c *casefile.Case, m Moment) *Explained {
	j.trace = newTrace()
	defer func() { j.trace = nil }()
	var d Decision
	j.Decide(c, m.On, &d)
	ch := j.chain(c, &d)
	out := j.output(c, m, &d, ch)
	return &Explained{Output: *out, Chain: ch.steps}
}

func (j *Judge) output(c *casefile.Case, m Moment, d *Decision, ch *chain) *Output {
	o := &Output{Format: 1, Case: c.ID, Ruleset: j.e.Ruleset.Digest, Method: j.e.Ruleset.Method,
		AsOf: m.On.Format(time.RFC3339), AsOfFrom: m.DatedBy, Verdict: d.Class.String(), Says: ch.verdict.Says(),
		Reasons: ch.verdict.Each(), Within: ch.verdict.Within(), Path: []string{}, Nodes: []string{},
		Required: d.Required, Doubt: d.Doubt, DoubtLimit: d.DoubtLimit, Unlisted: d.Unlisted,
		Candidates: j.candidates(), Excluded: j.excluded(ch), SetAside: j.setAside(c), Repeat: [][]string{},
		RestsOnPriors: []string{}, TellApart: []string{}, Missing: []Note{}, SentOn: []Note{}, Cautions: []Note{},
		CallsFor: []Note{}, Forbids: []Note{}, Flags: []Note{}, Waiting: []Note{}, Drafts: []Draft{}, Faults: []Note{}}
	if !math.IsNaN(d.Share) {
		o.Share = &d.Share
	}
	if d.NotListed != Listed {
		word := d.NotListed.String()
		o.NotListed = &word
	}
	if d.Named != nil {
		o.Named, o.Path, o.Support = &d.Named.ID, d.Named.Path(), j.support(d.Named)
	}
	for _, m := range d.RestsOnPriors {
		o.RestsOnPriors = append(o.RestsOnPriors, m.ID)
	}
	if len(d.RestsOnPriors) > 0 {
		for _, t := range j.tellsApart(c, d.Named, d.RestsOnPriors[0]) {
			o.TellApart = append(o.TellApart, t.ID)
		}
	}
	for _, n := range d.Nodes {
		o.Nodes = append(o.Nodes, n.ID)
	}
	if d.Class == Contradictory || d.NotListed == NotListedLikely {
		o.Repeat = j.repeats(c, m.On, d)
	}
	o.Claim = j.claimOutput(c, d)
	j.notes(c, o)
	j.missing(d, o)
	return o
}

// support compares the named node with the likeliest leaf outside it, by the readings alone.
func (j *Judge) support(m *kb.Material) *Support {
	rival := j.best(func(i int) bool { return !j.w.zero.has(i) && !slices.Contains(m.Leaves, i) })
	s := &Support{Against: unlistedID, Ratio: math.Exp(j.nodeLikelihood(m) - j.w.unlistedSays)}
	if rival >= 0 {
		beside := told(j.leaf(rival))
		if m.Under(beside) {
			beside = j.leaf(rival) // the group holds the named one too
		}
		s.Against, s.Ratio = beside.ID, math.Exp(j.nodeLikelihood(m)-j.w.likelihood[rival])
	}
	s.Ratio = math.Min(s.Ratio, math.MaxFloat64)
	s.Words = j.e.Ruleset.Policy.Words(s.Ratio)
	return s
}

// unlistedID stands in output for what the ruleset lacks; no material has it as its id.
const unlistedID = "unlisted"

func (j *Judge) candidates() []Candidate {
	out := []Candidate{}
	for i := range j.e.leaves {
		if j.w.free(i) {
			out = append(out, Candidate{Material: told(j.leaf(i)).ID, Name: phrase.Called(j.leaf(i), j.colours()),
				Share: j.w.share[i]})
		}
	}
	out = append(out, Candidate{Material: unlistedID, Name: phrase.OffThisList, Share: j.w.unlisted})
	slices.SortStableFunc(out, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Material, b.Material))
	})
	return out
}

func (j *Judge) excluded(ch *chain) []Excluded {
	out := make([]Excluded, 0, len(ch.exclusion))
	for i := range j.e.leaves {
		if j.w.free(i) {
			continue
		}
		x := ch.exclusion[i]
		x.Material, x.Name, x.Families = told(j.leaf(i)).ID, phrase.Called(j.leaf(i), j.colours()), []string{}
		x.Zero = j.w.zero.has(i)
		for n := range j.items {
			it := &j.items[n]
			if !it.excludes.has(i) {
				continue
			}
			if f := j.e.families[it.family]; !slices.Contains(x.Families, f) {
				x.Families = append(x.Families, f)
			}
		}
		slices.Sort(x.Families)
		out = append(out, x)
	}
	return out
}

// excludedBy names what excludes a leaf.
func (j *Judge) excludedBy(i int) string {
	for n := range j.items {
		if j.items[n].excludes.has(i) {
			return j.items[n].name
		}
	}
	return ""
}

func (j *Judge) setAside(c *casefile.Case) []SetAside {
	out := []SetAside{}
	for _, a := range j.run.SetAside {
		r := phrase.Reason{Code: phrase.HouseAside, Rules: []*kb.Rule{a.Rule}}
		out = append(out, SetAside{Observable: a.Observable.Name, Rule: &a.Rule.ID, Says: r.Says(), Values: r.Values()})
	}
	for _, r := range c.Readings {
		if r.Spoilt != "" {
			why := j.spoilt(r)
			out = append(out, SetAside{Observable: r.Observable.Name, Test: &r.Tests[0], Says: why.Says(),
				Values: why.Values()})
		}
	}
	slices.SortStableFunc(out, func(a, b SetAside) int {
		return cmp.Or(cmp.Compare(a.Observable, b.Observable), cmp.Compare(deref(a.Rule), deref(b.Rule)))
	})
	return out
}

func (j *Judge) claimOutput(c *casefile.Case, d *Decision) *ClaimOutput {
	if c.Claim == "" {
		return nil
	}
	a := &d.Claim
	out := &ClaimOutput{Says: c.ClaimSays, Answer: a.Answer.String(), Why: j.ground(d, a.Why, a.Answer),
		Sentence: j.ClaimReason(c, d).Says()}
	if a.Claim != nil {
		out.Means = &a.Claim.Means(j.e.Ruleset).ID
	}
	if a.Group != nil {
		answer, why := a.GroupAnswer.String(), j.ground(d, a.GroupWhy, a.GroupAnswer)
		out.Group, out.GroupAnswer, out.GroupWhy = &a.Group.ID, &answer, &why
	}
	return out
}

// note is a reason beside the verdict: its rule and its test are the first that it names.
func note(r phrase.Reason) Note {
	n := Note{Says: r.Says(), Values: r.Values(), Observables: append([]string{}, r.Observables...)}
	if len(r.Rules) > 0 {
		n.Rule = &r.Rules[0].ID
	}
	if len(r.Tests) > 0 {
		n.Test = &r.Tests[0].ID
	}
	return n
}

// ofRule is a reason of one rule, with the observables that it names.
func ofRule(code phrase.Code, r *kb.Rule) phrase.Reason {
	out := phrase.Reason{Code: code, Rules: []*kb.Rule{r}}
	for _, o := range r.Observes {
		out.Observables = append(out.Observables, o.Name)
	}
	return out
}

// DraftNote names a draft, in its own words.
func DraftNote(r *kb.Rule) Draft { return Draft{Note: note(ofRule(phrase.HouseDraft, r))} }

// notes gathers what rules say besides evidence, and what is to be known of the readings.
func (j *Judge) notes(c *casefile.Case, o *Output) {
	for i, r := range j.e.Ruleset.Order {
		switch {
		case r.Status == kb.Draft && j.run.Rules[i] == logic.Holds:
			o.Drafts = append(o.Drafts, DraftNote(r))
		case r.Status == kb.Draft:
		case j.run.Excepted[i]:
			o.Waiting = append(o.Waiting, j.waiting(r))
		case j.run.Rules[i] == logic.Holds:
			j.said(c, r, o)
		}
	}
	for _, f := range j.run.Faults {
		broken := ofRule(phrase.RuleBroken, f.Rule)
		broken.Text = f.Err.Error()
		o.Faults = append(o.Faults, note(broken))
	}
	j.flags(c, o)
	for _, list := range []*[]Note{&o.Waiting, &o.Cautions, &o.SentOn, &o.CallsFor, &o.Forbids, &o.Faults} {
		slices.SortStableFunc(*list, func(a, b Note) int { return cmp.Compare(deref(a.Rule), deref(b.Rule)) })
	}
	slices.SortStableFunc(o.Drafts, func(a, b Draft) int { return cmp.Compare(deref(a.Rule), deref(b.Rule)) })
	if c.Claim != "" && j.e.Ruleset.Claim(c.Claim) == nil {
		unknown := phrase.Reason{Code: phrase.ClaimUnknown, Text: c.ClaimSays}
		if near := j.meant(c.Claim); near != "" {
			unknown.Then = []phrase.Reason{{Code: phrase.ClaimMeant, Text: near}}
		}
		o.Cautions = append(o.Cautions, note(unknown))
	}
	if m := c.Misfit; m != nil {
		o.Cautions = append(o.Cautions, note(phrase.Reason{Code: phrase.SizesUnlike,
			Observables: []string{m.Observable.Name}, Text: phrase.Figures(m.Value),
			Range: &kb.Range{Low: m.Observable.Span[0], High: m.Observable.Span[1]}}))
	}
}

// meant is the claim that an unknown one may mean: a slip of the pen, or a weight beside it. What is only like it is
// not asked after, as the names of stones are like each other: opal is not topaz.
func (j *Judge) meant(claim string) string {
	bare := strings.Join(slices.DeleteFunc(strings.Fields(claim), func(word string) bool {
		return strings.ContainsAny(word, "0123456789") || slices.Contains([]string{"ct", "carat", "carats"}, word)
	}), " ")
	if j.e.Ruleset.Claim(bare) != nil {
		return bare
	}
	return diag.Slip(bare, j.e.Ruleset.ClaimWords())
}

func deref(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

func (j *Judge) waiting(r *kb.Rule) Note {
	w := phrase.Reason{Code: phrase.ExceptionOpen, Rules: []*kb.Rule{r}, Causes: j.run.Causes(r)}
	for _, c := range w.Causes {
		w.Observables = append(w.Observables, c.Name)
	}
	return note(w)
}

// said gathers what a rule that holds says besides evidence. Tests are called for where that makes sense.
func (j *Judge) said(c *casefile.Case, r *kb.Rule, o *Output) {
	add := func(to *[]Note, code phrase.Code, text, test string) {
		n := ofRule(code, r)
		n.Text, n.Tests = text, j.tests([]string{test})
		*to = append(*to, note(n))
	}
	for _, says := range r.Cautions {
		add(&o.Cautions, phrase.HouseCaution, says, "")
	}
	if r.SendsOn != "" {
		add(&o.SentOn, phrase.HouseSendsOn, r.SendsOn, "")
	}
	for _, id := range r.CallsFor {
		if j.Wants(c, id) {
			add(&o.CallsFor, phrase.HouseCalls, "", id)
		}
	}
	for _, id := range r.Forbids {
		add(&o.Forbids, phrase.HouseForbids, "", id)
	}
}

// flags tells of readings that stayed open, disagree, or were made where the test asks for something else.
func (j *Judge) flags(c *casefile.Case, o *Output) {
	flag := func(code phrase.Code, r *casefile.Reading, tests []*kb.Test, text string) {
		n := note(phrase.Reason{Code: code, Observables: []string{r.Name()}, Tests: tests, Text: text})
		n.Test, n.Observables = &r.Tests[0], []string{r.Observable.Name}
		o.Flags = append(o.Flags, n)
	}
	for _, r := range c.Readings {
		switch {
		case r.Spoilt != "": // told with what is set aside
			continue
		case !r.Usable():
			flag(phrase.StayedUnclear, r, nil, r.Reason)
			continue
		}
		for _, t := range j.tests(r.Tests) {
			for _, need := range j.run.Needs(t).Missing {
				flag(phrase.StoneUnsuited, r, []*kb.Test{t}, need)
			}
		}
	}
	for k := 0; k+1 < len(j.disagree); k += 2 {
		a, b := j.disagree[k], j.disagree[k+1]
		n := note(phrase.Reason{Code: phrase.Disagree, Readings: j.disagree[k : k+2],
			Observables: []string{a.Observable.Name, b.Observable.Name}})
		n.Test = &a.Tests[0]
		o.Flags = append(o.Flags, n)
	}
}

// missing says what a firmer verdict lacks.
func (j *Judge) missing(d *Decision, o *Output) {
	add := func(r phrase.Reason) { o.Missing = append(o.Missing, note(r)) }
	failed := j.trace.failed()
	switch {
	case d.Class == Identified:
		return
	case d.Faulty:
		add(phrase.Reason{Code: phrase.SoundRules})
		return
	case d.Class == Contradictory || d.NotListed == NotListedLikely:
		for _, set := range o.Repeat {
			add(phrase.Reason{Code: phrase.TakeAgain, Observables: set})
		}
		if len(o.Repeat) == 0 {
			add(phrase.Reason{Code: phrase.NoneToRepeat})
		}
		return
	case j.readings == 0:
		add(phrase.Reason{Code: phrase.AnyReading})
		failed = slices.DeleteFunc(failed, func(r phrase.Reason) bool { return !withheld(r) })
	case j.readings == 1:
		add(phrase.Reason{Code: phrase.SecondReading})
	}
	for _, r := range failed {
		r.Colours = d.Colours
		add(r)
	}
	if by := j.KeptFromName(d); len(by) > 0 && !slices.ContainsFunc(failed, withheld) {
		add(j.keptBack(d.Nodes[0], by))
	}
}

// withheld tells of a name that rules keep back.
func withheld(r phrase.Reason) bool { return r.Code == phrase.Withheld || r.Code == phrase.WithheldAll }
