package engine

import (
	"cmp"
	"fmt"
	"math/bits"
	"slices"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/vocab"
)

// Kind is what a step of the chain is.
type Kind string

// The kinds, from the readings to the claim.
const (
	ReadingStep   Kind = "reading"
	UnclearStep   Kind = "unclear"
	SetAsideStep  Kind = "set-aside"
	RuleStep      Kind = "rule"
	EvidenceStep  Kind = "evidence"
	ExclusionStep Kind = "exclusion"
	FamilyStep    Kind = "family"
	ShareStep     Kind = "share"
	CheckStep     Kind = "check"
	VerdictStep   Kind = "verdict"
	ClaimStep     Kind = "claim"
)

// Step is one step of the chain of reasoning, from the readings to the verdict.
type Step struct {
	Step       int    `json:"step"`
	Kind       Kind   `json:"kind"`
	Says       string `json:"says"`
	Inputs     []int  `json:"inputs,omitempty"` // the steps that it rests on
	Observable string `json:"observable,omitempty"`
	Test       string `json:"test,omitempty"`
	Rule       string `json:"rule,omitempty"`
	Status     string `json:"status,omitempty"`    // of a rule
	Condition  string `json:"condition,omitempty"` // of a rule; of a check what it asks
	Material   string `json:"material,omitempty"`
	Family     string `json:"family,omitempty"`
	OK         *bool  `json:"ok,omitempty"` // of a check
	// Values are the reason as data. Of the checks of share and doubt the value and what is needed are parts of the
	// weight, from 0 to 1: sentences leave them out, as they read like probabilities and are none.
	phrase.Values
	Weights []Given `json:"weights,omitempty"`
	Source  string  `json:"source,omitempty"` // where the rule or the sheet has it from
	Layer   string  `json:"layer,omitempty"`
	File    string  `json:"file,omitempty"`
	Line    int     `json:"line,omitempty"`
}

// Given is what evidence gives a material: a contribution to its log-weight, and the part of it that counts within its
// family.
type Given struct {
	Material string  `json:"material"`
	C        float64 `json:"c"`
	Counts   float64 `json:"counts"`
	Sheet    string  `json:"sheet,omitempty"` // file and line of the sheet's line
}

// chain writes down the evaluator's work, stage by stage.
type chain struct {
	j         *Judge
	steps     []Step
	readings  map[*casefile.Reading]int
	rules     map[*kb.Rule]int
	items     []int            // step of each item's evidence
	exclusion map[int]Excluded // by leaf: what excludes it first
	given     []Given          // of the step at hand
	share     int
	verdict   phrase.Reason
}

func (j *Judge) chain(c *casefile.Case, d *Decision) *chain {
	ch := &chain{j: j, readings: map[*casefile.Reading]int{}, rules: map[*kb.Rule]int{}, exclusion: map[int]Excluded{},
		steps: make([]Step, 0, j.length(c)), verdict: j.verdict(c, d)}
	ch.addReadings(c)
	ch.addRules(c)
	ch.addItems()
	ch.addFamilies()
	ch.addShare()
	ch.addChecks()
	ch.addVerdict(c, d)
	return ch
}

// length is about how many steps the chain of a case has.
func (j *Judge) length(c *casefile.Case) int {
	n := len(c.Readings) + len(j.trace.checks) + len(j.w.families) + len(j.run.SetAside) + 3
	for i := range j.items {
		n++
		for _, word := range j.items[i].excludes {
			n += bits.OnesCount64(word)
		}
	}
	for _, holds := range j.run.Rules {
		if holds == logic.Holds {
			n++
		}
	}
	return n
}

// add writes a step down: what it is, in words and as data.
func (ch *chain) add(s Step, r phrase.Reason) int {
	s.Step, s.Says, s.Values = len(ch.steps)+1, r.Says(), r.Values()
	ch.steps = append(ch.steps, s)
	return s.Step
}

// weights are what was given in the step at hand.
func (ch *chain) weights() []Given {
	if len(ch.given) == 0 {
		return nil
	}
	out := slices.Clone(ch.given)
	ch.given = ch.given[:0]
	return out
}

// at fills in the place of a sheet or rule.
func (s Step) at(sp diag.Span, layer string) Step {
	if !sp.IsZero() {
		s.File, s.Line = sp.Source.Name, sp.Position().Line
	}
	s.Layer = layer
	return s
}

// place is the file and line of a sheet's line.
func (j *Judge) place(sp diag.Span) string {
	if sp.IsZero() {
		return ""
	}
	is, known := j.places[sp]
	if !known {
		is = fmt.Sprintf("%s:%d", sp.Source.Name, sp.Position().Line)
		j.places[sp] = is
	}
	return is
}

func (ch *chain) addReadings(c *casefile.Case) {
	for _, r := range c.Readings {
		s, why := Step{Kind: ReadingStep, Observable: r.Name(), Test: strings.Join(r.Tests, ", ")}, ch.taken(r)
		switch {
		case r.Spoilt != "":
			spoilt := ch.j.spoilt(r)
			s.Kind, why.Then = SetAsideStep, append(why.Then, phrase.Reason{Code: phrase.NotCounted, Why: &spoilt})
		case !r.Usable():
			s.Kind, why.Code = UnclearStep, phrase.Unclear
		}
		if tests := ch.j.tests(r.Tests[:min(1, len(r.Tests))]); len(tests) > 0 {
			s = s.at(tests[0].Place.Span, tests[0].Place.Layer)
		}
		ch.readings[r] = ch.add(s, why)
	}
}

// taken is a reading with how it was taken.
func (ch *chain) taken(r *casefile.Reading) phrase.Reason {
	out := phrase.Reason{Code: phrase.Read, Readings: []*casefile.Reading{r}}
	if by := ch.j.tests(r.Tests); len(by) > 0 {
		out.Then = append(out.Then, phrase.Reason{Code: phrase.ByTests, Tests: by})
	}
	if r.Derived {
		out.Then = append(out.Then, phrase.Reason{Code: phrase.Noted, Text: r.Note})
	}
	if r.Instrument != "" {
		out.Then = append(out.Then, phrase.Reason{Code: phrase.Noted, Text: r.Instrument})
	}
	if r.Repeats > 1 {
		out.Then = append(out.Then, phrase.Reason{Code: phrase.Repeated, Count: r.Repeats})
	}
	return out
}

// addRules lists the rules that hold, and what they set aside.
func (ch *chain) addRules(c *casefile.Case) {
	j := ch.j
	for i, r := range j.e.Ruleset.Order {
		if j.run.Rules[i] != logic.Holds {
			continue
		}
		s := Step{Kind: RuleStep, Rule: r.ID, Status: string(r.Status), Source: r.Source,
			Inputs: ch.inputs(c, r)}.at(r.Place.Span, r.Place.Layer)
		if r.If != nil {
			s.Condition = r.If.Unfolded()
		}
		if r.Unless != nil {
			s.Condition += " unless " + r.Unless.Unfolded()
		}
		why := phrase.Reason{Code: phrase.RuleHolds, Rules: []*kb.Rule{r}}
		if r.Status == kb.Draft {
			why.Code = phrase.DraftHolds
		}
		if values := ch.values(r); values != "" {
			why.Then = []phrase.Reason{{Code: phrase.Noted, Text: values}}
		}
		n := ch.add(s, why)
		ch.rules[r] = n
		for _, a := range j.run.SetAside {
			if a.Rule == r {
				ch.add(Step{Kind: SetAsideStep, Observable: a.Observable.Name, Rule: r.ID,
					Inputs: append(ch.stepsOf(c, a.Observable), n)}.
					at(r.Place.Span, r.Place.Layer), phrase.Reason{Code: phrase.SetAside,
					Observables: []string{a.Observable.Name}, Rules: why.Rules})
			}
		}
	}
}

func (ch *chain) stepsOf(c *casefile.Case, o *vocab.Observable) []int {
	var out []int
	for _, r := range c.Readings {
		if r.Observable == o || r.Form == casefile.Pair && o.Name == vocab.Birefringence && ch.j.run.FromRays() {
			out = append(out, ch.readings[r])
		}
	}
	return out
}

// inputs are the steps of the readings that a rule names, and of the rules that establish its facts.
func (ch *chain) inputs(c *casefile.Case, r *kb.Rule) []int {
	var out []int
	for _, slot := range r.Slots() {
		sym := ch.j.e.Ruleset.Scope.At(slot)
		switch {
		case sym.Observable != nil:
			out = append(out, ch.stepsOf(c, sym.Observable)...)
		case sym.Fact:
			for _, by := range ch.j.e.Ruleset.Fact(sym.Name).By {
				if n, ok := ch.rules[by]; ok {
					out = append(out, n)
				}
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// values says what stands under the names of a rule's condition: "facet doubling: strong; mounted: no".
func (ch *chain) values(r *kb.Rule) string {
	var parts []string
	for _, slot := range r.Slots() {
		if v, there := Standing(ch.j.e.Ruleset, &ch.j.run.State, slot); there {
			parts = append(parts, phrase.InWords(ch.j.e.Ruleset.Scope.At(slot).Name)+": "+v)
		}
	}
	return strings.Join(parts, "; ")
}

// Standing is what stands under a name of a condition, as a person reads it; false where nothing does.
func Standing(rs *kb.Ruleset, st *condition.State, slot int) (value string, there bool) {
	if st.Slots[slot].Status == condition.Missing {
		return "", false
	}
	if value = st.Value(rs.Scope, slot); rs.Scope.At(slot).Kind == vocab.Truth {
		value = map[string]string{"holds": "yes", "fails": "no", "undecided": "undecided"}[value]
	}
	return value, true
}

func (ch *chain) addShare() {
	j := ch.j
	s := Step{Kind: ShareStep}
	for _, st := range ch.steps {
		if st.Kind == FamilyStep {
			s.Inputs = append(s.Inputs, st.Step)
		}
	}
	free := 0
	for i := range j.e.leaves {
		if j.w.free(i) {
			free++
		}
		if !j.w.zero.has(i) {
			ch.given = append(ch.given, Given{Material: j.leaf(i).ID, C: j.w.log[i], Counts: j.w.share[i]})
		}
	}
	s.Weights = ch.weights()
	slices.SortStableFunc(s.Weights, func(a, b Given) int { return cmp.Compare(b.Counts, a.Counts) })
	why := phrase.Reason{Code: phrase.StillOpen, Count: free, Of: j.e.leaves}
	if free == 0 {
		why = phrase.Reason{Code: phrase.NoneOpen}
	}
	ch.share = ch.add(s, why)
}

func (ch *chain) addChecks() {
	for _, c := range ch.j.trace.checks {
		ok, value, needed := c.ok, c.Ratio, c.Needed
		s := Step{Kind: CheckStep, OK: &ok, Inputs: []int{ch.share}, Condition: asks[c.Code]}
		if c.Node != nil {
			s.Material = c.Node.ID
		}
		c.Colours = ch.j.colours()
		n := ch.add(s, c.Reason)
		// a share of nothing is one too
		if c.Code == phrase.ShareHeld || c.Code == phrase.DoubtBorne || c.Code == phrase.DoubtTooLarge {
			ch.steps[n-1].Value, ch.steps[n-1].Needed = &value, &needed
		}
	}
}

func (ch *chain) addVerdict(c *casefile.Case, d *Decision) {
	v := Step{Kind: VerdictStep}
	for _, s := range ch.steps {
		if s.Kind == CheckStep {
			v.Inputs = append(v.Inputs, s.Step)
		}
	}
	if d.Named != nil {
		v.Material = d.Named.ID
	}
	n := ch.add(v, ch.verdict)
	if c.Claim != "" {
		ch.add(Step{Kind: ClaimStep, Inputs: []int{ch.share, n}}, ch.j.ClaimReason(c, d))
	}
}
