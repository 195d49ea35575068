package engine

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/logic"
)

// Judge judges a case and tells everything around the verdict.
func (j *Judge) Judge(c *casefile.Case, m Moment) *Output { return &j.Explain(c, m).Output }

// Explain judges a case, with the chain of reasoning recorded by an observer.
func (j *Judge) Explain(c *casefile.Case, m Moment) *Explained {
	j.trace = &trace{supporting: map[*kb.Material][]string{}}
	defer func() { j.trace = nil }()
	var d Decision
	j.Decide(c, m.On, &d)
	ch := j.chain(c, &d)
	out := j.output(c, m, &d, ch)
	return &Explained{Output: *out, Chain: ch.steps}
}

func (j *Judge) output(c *casefile.Case, m Moment, d *Decision, ch *chain) *Output {
	o := &Output{Format: 1, Case: c.ID, Ruleset: j.e.Ruleset.Digest, Method: j.e.Ruleset.Method, AsOf: m.On.Format(time.RFC3339), AsOfFrom: m.DatedBy,
		Verdict: d.Class.String(), Says: j.sentence(c, d), Path: []string{}, Nodes: []string{}, Required: d.Required, Doubt: d.Doubt, DoubtLimit: d.DoubtLimit,
		Unlisted: d.Unlisted, Candidates: j.candidates(), Excluded: j.excluded(ch), SetAside: j.setAside(c), Repeat: [][]string{}, RestsOnPriors: []string{}, TellApart: []string{},
		Missing: []Note{}, SentOn: []Note{}, Cautions: []Note{}, CallsFor: []Note{}, Forbids: []Note{}, Flags: []Note{},
		Waiting: []Note{}, Drafts: []Draft{}, Faults: []Note{}}
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
	rival := j.best(func(i int) bool { return !j.w.nought.has(i) && !slices.Contains(m.Leaves, i) })
	s := &Support{Against: unlistedID, Ratio: math.Exp(j.nodeLikelihood(m) - j.w.unlistedSays)}
	if rival >= 0 {
		s.Against, s.Ratio = told(j.leaf(rival)).ID, math.Exp(j.nodeLikelihood(m)-j.w.likelihood[rival])
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
			out = append(out, Candidate{Material: told(j.leaf(i)).ID, Name: j.nameOf(j.leaf(i)), Share: j.w.share[i]})
		}
	}
	out = append(out, Candidate{Material: unlistedID, Name: "something that is not on this list", Share: j.w.unlisted})
	slices.SortStableFunc(out, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Material, b.Material))
	})
	return out
}

func (j *Judge) excluded(ch *chain) []Excluded {
	out := []Excluded{}
	for i := range j.e.leaves {
		if j.w.free(i) {
			continue
		}
		x := Excluded{Material: told(j.leaf(i)).ID, Name: j.nameOf(j.leaf(i)), Families: []string{}, Nought: j.w.nought.has(i), Step: ch.exclusion[i]}
		for n := range j.items {
			it := &j.items[n]
			if !it.excludes.has(i) {
				continue
			}
			if x.By == "" {
				x.By, x.Says = it.name, j.exclusionSays(it, i)
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
		out = append(out, SetAside{Observable: a.Observable.Name, Rule: &a.Rule.ID, Says: a.Rule.Says})
	}
	for _, r := range c.Readings {
		if r.Spoilt != "" {
			out = append(out, SetAside{Observable: r.Observable.Name, Test: &r.Tests[0], Says: j.spoiltSays(r)})
		}
	}
	slices.SortStableFunc(out, func(a, b SetAside) int {
		return cmp.Or(cmp.Compare(a.Observable, b.Observable), cmp.Compare(deref(a.Rule), deref(b.Rule)))
	})
	return out
}

// spoiltSays tells which need of its test the stone did not meet.
func (j *Judge) spoiltSays(r *casefile.Reading) string {
	return fmt.Sprintf("%s wants %s", j.e.Ruleset.Test(r.Tests[0]).Name, lower(r.Spoilt))
}

func (j *Judge) claimOutput(c *casefile.Case, d *Decision) *ClaimOutput {
	if c.Claim == "" {
		return nil
	}
	a := &d.Claim
	out := &ClaimOutput{Says: c.ClaimSays, Answer: a.Answer.String(), Why: j.ground(d, a.Why, a.Answer)}
	if a.Claim != nil {
		out.Means = &a.Claim.Means(j.e.Ruleset).ID
	}
	if a.Group != nil {
		answer, why := a.GroupAnswer.String(), j.ground(d, a.GroupWhy, a.GroupAnswer)
		out.Group, out.GroupAnswer, out.GroupWhy = &a.Group.ID, &answer, &why
	}
	return out
}

func ruleNote(r *kb.Rule, says string) Note {
	n := Note{Says: says, Rule: &r.ID, Observables: []string{}}
	for _, o := range r.Observes {
		n.Observables = append(n.Observables, o.Name)
	}
	return n
}

// DraftNote names a draft, with what is to be said of it.
func DraftNote(r *kb.Rule, says string) Draft { return Draft{Note: ruleNote(r, says)} }

// notes gathers what rules say besides evidence, and what is to be known of the readings.
func (j *Judge) notes(c *casefile.Case, o *Output) {
	for i, r := range j.e.Ruleset.Order {
		switch {
		case r.Status == kb.Draft && j.run.Rules[i] == logic.Holds:
			o.Drafts = append(o.Drafts, DraftNote(r, r.Says))
		case r.Status == kb.Draft:
		case j.run.Excepted[i]:
			o.Waiting = append(o.Waiting, j.waiting(r))
		case j.run.Rules[i] == logic.Holds:
			j.said(c, r, o)
		}
	}
	for _, f := range j.run.Faults {
		o.Faults = append(o.Faults, ruleNote(f.Rule, fmt.Sprintf("The rule %s could not be evaluated: %s", f.Rule.ID, f.Err)))
	}
	j.flags(c, o)
	for _, list := range []*[]Note{&o.Waiting, &o.Cautions, &o.SentOn, &o.CallsFor, &o.Forbids, &o.Faults} {
		slices.SortStableFunc(*list, func(a, b Note) int { return cmp.Compare(deref(a.Rule), deref(b.Rule)) })
	}
	slices.SortStableFunc(o.Drafts, func(a, b Draft) int { return cmp.Compare(deref(a.Rule), deref(b.Rule)) })
	if c.Claim != "" && j.e.Ruleset.Claim(c.Claim) == nil {
		o.Cautions = append(o.Cautions, Note{Says: unknownClaim(j.e.Ruleset, c), Observables: []string{}})
	}
}

// unknownClaim says that a word means nothing here, with the nearest one that does.
func unknownClaim(rs *kb.Ruleset, c *casefile.Case) string {
	says := fmt.Sprintf("Nobody here knows what the claim %q means, so it stays open.", c.ClaimSays)
	if near := diag.Nearest(c.Claim, rs.ClaimWords()); near != "" {
		says += fmt.Sprintf(" Is %q meant?", near)
	}
	return says
}

func deref(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

func (j *Judge) waiting(r *kb.Rule) Note {
	n := ruleNote(r, "The rule "+r.ID+" would apply, but its exception is undecided")
	n.Observables = []string{}
	for k, c := range j.run.Causes(r) {
		if k == 0 {
			n.Says += ": "
		} else {
			n.Says += "; "
		}
		n.Says += CauseSays(c)
		n.Observables = append(n.Observables, c.Name)
	}
	return n
}

// said gathers what a rule that holds says besides evidence. Tests are called for where that makes sense.
func (j *Judge) said(c *casefile.Case, r *kb.Rule, o *Output) {
	for _, says := range r.Cautions {
		o.Cautions = append(o.Cautions, ruleNote(r, says))
	}
	if r.SendsOn != "" {
		o.SentOn = append(o.SentOn, ruleNote(r, r.SendsOn))
	}
	for _, id := range r.CallsFor {
		if j.Wants(c, id) {
			o.CallsFor = append(o.CallsFor, testNote(r, id))
		}
	}
	for _, id := range r.Forbids {
		o.Forbids = append(o.Forbids, testNote(r, id))
	}
}

func testNote(r *kb.Rule, test string) Note {
	n := ruleNote(r, r.Says)
	n.Test = &test
	return n
}

// flags tells of readings that stayed open, disagree, or were made where the test asks for something else.
func (j *Judge) flags(c *casefile.Case, o *Output) {
	for _, r := range c.Readings {
		if r.Spoilt != "" {
			continue // told with what is set aside
		}
		if !r.Usable() {
			o.Flags = append(o.Flags, readingNote(r, InWords(r.Name())+" stayed inconclusive: "+r.Reason))
			continue
		}
		for _, id := range r.Tests {
			t := j.e.Ruleset.Test(id)
			for _, need := range j.run.Needs(t).Missing {
				o.Flags = append(o.Flags, readingNote(r, fmt.Sprintf("%s was read though the stone does not suit %s, which wants: %s", InWords(r.Name()), t.Name, lower(need))))
			}
		}
	}
	for k := 0; k+1 < len(j.disagree); k += 2 {
		a, b := j.disagree[k], j.disagree[k+1]
		n := readingNote(a, fmt.Sprintf("%s %s and %s %s disagree about one property: each counts by itself", InWords(a.Name()), ReadingText(a), InWords(b.Name()), ReadingText(b)))
		n.Observables = append(n.Observables, b.Observable.Name)
		o.Flags = append(o.Flags, n)
	}
}

func readingNote(r *casefile.Reading, says string) Note {
	return Note{Says: says, Test: &r.Tests[0], Observables: []string{r.Observable.Name}}
}

// missing says what a firmer verdict lacks.
func (j *Judge) missing(d *Decision, o *Output) {
	add := func(says string, observables ...string) {
		if observables == nil {
			observables = []string{}
		}
		o.Missing = append(o.Missing, Note{Says: says, Observables: observables})
	}
	failed := j.trace.failed()
	switch {
	case d.Class == Identified:
		return
	case d.Faulty:
		add("a ruleset whose rules can all be evaluated on this case")
		return
	case d.Class == Contradictory || d.NotListed == NotListedLikely:
		for _, set := range o.Repeat {
			add("repeat "+list(namedAll(set), "and"), set...)
		}
		if len(o.Repeat) == 0 {
			add("no reading that could be repeated resolves it: look for a material that is not listed")
		}
		return
	case j.readings == 0:
		add("a reading that tells materials apart: none of those given counts")
		failed = slices.DeleteFunc(failed, func(c check) bool { return c.point != isWithheld })
	case j.readings == 1:
		add("a second reading, by another test: one alone never decides")
	}
	kept := false
	for _, ck := range failed {
		kept = kept || ck.point == isWithheld
		o.Missing = append(o.Missing, j.missingNote(&ck))
	}
	if by := j.KeptFromName(d); len(by) > 0 && !kept {
		o.Missing = append(o.Missing, j.missingNote(&check{point: isWithheld, node: d.Nodes[0], rules: by}))
	}
}

// missingNote tells of a check that failed. Of a name that is kept back it names the rule, and what would lift it.
func (j *Judge) missingNote(c *check) Note {
	n := Note{Says: j.says(c), Observables: []string{}}
	for _, r := range c.rules {
		if n.Rule == nil {
			n.Rule = &r.ID
		}
	}
	for _, o := range j.e.lifts(c.rules) {
		n.Observables = append(n.Observables, o.Name)
	}
	return n
}
