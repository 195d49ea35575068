package engine

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// Step is one step of the chain of reasoning, from the readings to the verdict.
type Step struct {
	Step       int    `json:"step"`
	Kind       string `json:"kind"` // reading, unclear, set-aside, rule, exclusion, evidence, family, share, check, verdict, claim
	Says       string `json:"says"`
	Inputs     []int  `json:"inputs,omitempty"` // the steps that it rests on
	Observable string `json:"observable,omitempty"`
	Test       string `json:"test,omitempty"`
	Rule       string `json:"rule,omitempty"`
	Status     string `json:"status,omitempty"` // of a rule
	Condition  string `json:"condition,omitempty"`
	Material   string `json:"material,omitempty"`
	Family     string `json:"family,omitempty"`
	OK         *bool  `json:"ok,omitempty"` // of a check
	// Value and Needed are the figures of the checks of share and doubt: parts of the weight, from 0 to 1. Sentences leave
	// them out, as they read like probabilities and are none.
	Value   *float64 `json:"value,omitempty"`
	Needed  *float64 `json:"needed,omitempty"`
	Weights []Given  `json:"weights,omitempty"`
	Source  string   `json:"source,omitempty"` // where the rule or the sheet has it from
	Layer   string   `json:"layer,omitempty"`
	File    string   `json:"file,omitempty"`
	Line    int      `json:"line,omitempty"`
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
	items     []int       // step of each item's evidence
	exclusion map[int]int // leaf to the step that excludes it first
	share     int
}

func (j *Judge) chain(c *casefile.Case, d *Decision) *chain {
	ch := &chain{j: j, readings: map[*casefile.Reading]int{}, rules: map[*kb.Rule]int{}, exclusion: map[int]int{}}
	ch.addReadings(c)
	ch.addRules(c)
	ch.addItems()
	ch.addFamilies()
	ch.addShare()
	ch.addChecks()
	ch.addVerdict(c, d)
	return ch
}

func (ch *chain) add(s Step) int {
	s.Step = len(ch.steps) + 1
	ch.steps = append(ch.steps, s)
	return s.Step
}

// at fills in the place of a sheet or rule.
func (s Step) at(sp diag.Span, layer string) Step {
	if !sp.IsZero() {
		s.File, s.Line = sp.Source.Name, sp.Position().Line
	}
	s.Layer = layer
	return s
}

func place(sp diag.Span) string {
	if sp.IsZero() {
		return ""
	}
	return fmt.Sprintf("%s:%d", sp.Source.Name, sp.Position().Line)
}

func (ch *chain) addReadings(c *casefile.Case) {
	for _, r := range c.Readings {
		s := Step{Kind: "reading", Observable: r.Name(), Test: strings.Join(r.Tests, ", "), Says: ch.readingSays(r)}
		switch {
		case r.Spoilt != "":
			s.Kind, s.Says = "set-aside", s.Says+"; it does not count here: "+ch.j.spoiltSays(r)
		case !r.Usable():
			s.Kind = "unclear"
		}
		if t := ch.j.e.Ruleset.Test(first(r.Tests)); t != nil {
			s = s.at(t.Place.Span, t.Place.Layer)
		}
		ch.readings[r] = ch.add(s)
	}
}

func first(words []string) string {
	if len(words) == 0 {
		return ""
	}
	return words[0]
}

func (ch *chain) readingSays(r *casefile.Reading) string {
	says := InWords(r.Name()) + " " + ReadingText(r)
	var by []string
	for _, id := range r.Tests {
		if t := ch.j.e.Ruleset.Test(id); t != nil {
			by = append(by, t.Name)
		}
	}
	if len(by) > 0 {
		says += ", by " + list(by, "and")
	}
	if r.Derived {
		says += " (" + r.Note + ")"
	}
	if r.Instrument != "" {
		says += " (" + r.Instrument + ")"
	}
	if r.Repeats > 1 {
		says += fmt.Sprintf(", %d readings", r.Repeats)
	}
	return says
}

// ReadingText says what was read: "3.52 ± 0.02", "above 1.81", "slight", "feather, crystal".
func ReadingText(r *casefile.Reading) string {
	switch r.Form {
	case casefile.Value:
		return quantity.Text(r.Value, r.U) + unitOf(r.Observable)
	case casefile.Pair:
		return fmt.Sprintf("%s and %s", quantity.Text(r.Value, r.U), quantity.Text(r.High, r.HighU))
	case casefile.Interval:
		return quantity.FormatBounds(r.Lo, r.Hi) + unitOf(r.Observable)
	case casefile.Choice:
		return r.Observable.Outcomes[r.Outcome].Name
	case casefile.Features:
		var words []string
		for _, i := range r.Seen.Members() {
			words = append(words, r.Observable.Outcomes[i].Name)
		}
		unseen := r.LookedFor
		unseen.Minus(r.Seen)
		for _, i := range unseen.Members() {
			words = append(words, "no "+r.Observable.Outcomes[i].Name)
		}
		return strings.Join(words, ", ")
	}
	return "inconclusive: " + r.Reason
}

func unitOf(o *vocab.Observable) string {
	if o.Unit == "" || o.Unit == "1" {
		return ""
	}
	return " " + o.Unit
}

// addRules lists the rules that hold, and what they set aside.
func (ch *chain) addRules(c *casefile.Case) {
	j := ch.j
	for i, r := range j.e.Ruleset.Order {
		if j.run.Rules[i] != logic.Holds {
			continue
		}
		s := Step{Kind: "rule", Rule: r.ID, Status: string(r.Status), Says: r.Says, Source: r.Source, Inputs: ch.inputs(c, r)}
		if r.If != nil {
			s.Condition = r.If.Text
		}
		if r.Unless != nil {
			s.Condition += " unless " + r.Unless.Text
		}
		if values := ch.values(r); values != "" {
			s.Says += " (" + values + ")"
		}
		if r.Status == kb.Draft {
			s.Says = "A draft, without effect: " + s.Says
		}
		n := ch.add(s.at(r.Place.Span, r.Place.Layer))
		ch.rules[r] = n
		for _, a := range j.run.SetAside {
			if a.Rule == r {
				ch.add(Step{Kind: "set-aside", Observable: a.Observable.Name, Rule: r.ID, Inputs: append(ch.stepsOf(c, a.Observable), n),
					Says: InWords(a.Observable.Name) + " does not count here: " + r.Says}.at(r.Place.Span, r.Place.Layer))
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
		st := &ch.j.run.State
		sym := ch.j.e.Ruleset.Scope.At(slot)
		if st.Slots[slot].Status == condition.Missing {
			continue
		}
		v := st.Value(ch.j.e.Ruleset.Scope, slot)
		if sym.Kind == vocab.Truth {
			v = map[string]string{"holds": "yes", "fails": "no", "undecided": "undecided"}[v]
		}
		parts = append(parts, InWords(sym.Name)+": "+v)
	}
	return strings.Join(parts, "; ")
}

// addItems writes a step for each piece of evidence, and one for each material that it excludes.
func (ch *chain) addItems() {
	j := ch.j
	for n := range j.items {
		it := &j.items[n]
		if it.none {
			ch.items = append(ch.items, 0)
			continue
		}
		s := Step{Kind: "evidence", Family: j.e.families[it.family], Inputs: ch.itemInputs(it)}
		if it.rule != nil {
			s.Rule, s.Source = it.rule.ID, it.rule.Source
			s = s.at(it.rule.Place.Span, it.rule.Place.Layer)
		} else {
			s.Observable = it.name
		}
		for i := range j.e.leaves {
			c := j.fill(it, i)
			if c == 0 && !it.excludes.has(i) {
				continue
			}
			s.Weights = append(s.Weights, Given{Material: j.leaf(i).ID, C: c, Sheet: place(j.sheetOf(it, i))})
		}
		s.Says = ch.evidenceSays(it)
		ch.items = append(ch.items, ch.add(s))
		ch.addExclusions(it, ch.items[n])
	}
}

func (ch *chain) itemInputs(it *item) []int {
	if it.rule != nil {
		return []int{ch.rules[it.rule]}
	}
	out := []int{ch.readings[it.reading]}
	if it.second != nil {
		out = append(out, ch.readings[it.second])
	}
	return out
}

// sheetOf is where a material's sheet says what an item was weighed by.
func (j *Judge) sheetOf(it *item, i int) diag.Span {
	m := j.leaf(i)
	switch {
	case it.rule != nil:
		return diag.Span{}
	case it.q.line != nil:
		if r := it.q.line.ranges[i]; r != nil {
			return r.Span
		}
	case it.feature >= 0:
		if f := m.Features[it.reading.Observable.Name]; f != nil {
			return f.Span
		}
	default:
		if f := m.Choices[it.reading.Observable.Name]; f != nil {
			return f.Span
		}
	}
	return diag.Span{}
}

func (ch *chain) evidenceSays(it *item) string {
	j := ch.j
	hi, lo, out := -1, -1, 0
	for i := range j.e.leaves {
		if it.excludes.has(i) {
			out++
			continue
		}
		if j.w.excluded.has(i) {
			continue
		}
		c := j.fill(it, i)
		if hi < 0 || c > j.fill(it, hi) {
			hi = i
		}
		if lo < 0 || c < j.fill(it, lo) {
			lo = i
		}
	}
	var parts []string
	if out > 0 {
		parts = append(parts, fmt.Sprintf("excludes %d of %d materials", out, j.e.leaves))
	}
	if hi >= 0 && j.fill(it, hi) > 0 {
		parts = append(parts, fmt.Sprintf("speaks most for %s (%s times)", j.nameOf(j.alikeFor(it, hi)), figures(math.Exp(j.fill(it, hi)))))
	}
	if lo >= 0 && j.fill(it, lo) < 0 {
		parts = append(parts, fmt.Sprintf("most against %s (%s times)", j.nameOf(j.alikeFor(it, lo)), figures(math.Exp(-j.fill(it, lo)))))
	}
	if len(parts) == 0 {
		parts = []string{"tells nothing apart"}
	}
	return InWords(it.name) + ": " + strings.Join(parts, ", ")
}

// alikeFor is the widest nameable group above a leaf of which an item says the same throughout, or the leaf.
func (j *Judge) alikeFor(it *item, leaf int) *kb.Material {
	out := j.leaf(leaf)
	c := j.fill(it, leaf)
	for g := out.NameableAbove(); g != nil; g = g.NameableAbove() {
		for _, i := range g.Leaves {
			if j.w.free(i) && math.Abs(j.fill(it, i)-c) > 1e-9 {
				return out
			}
		}
		out = g
	}
	return out
}

func (ch *chain) addExclusions(it *item, evidence int) {
	j := ch.j
	for i := range j.e.leaves {
		if !it.excludes.has(i) {
			continue
		}
		s := Step{Kind: "exclusion", Material: j.leaf(i).ID, Family: j.e.families[it.family], Inputs: []int{evidence}, Says: j.exclusionSays(it, i)}
		if it.rule != nil {
			s.Rule, s.Source = it.rule.ID, it.rule.Source
			s = s.at(it.rule.Place.Span, it.rule.Place.Layer)
		} else {
			s.Observable = it.name
			s.Source = j.sourceOf(it, i)
			s = s.at(j.sheetOf(it, i), j.leaf(i).Place.Layer)
		}
		n := ch.add(s)
		if _, known := ch.exclusion[i]; !known {
			ch.exclusion[i] = n
		}
	}
}

func (j *Judge) sourceOf(it *item, i int) string {
	m := j.leaf(i)
	switch {
	case it.q.line != nil:
		return it.q.line.ranges[i].Source
	case it.feature >= 0:
		return m.Features[it.reading.Observable.Name].Source
	default:
		return m.Choices[it.reading.Observable.Name].Source
	}
}

// exclusionSays says why an item excludes a leaf, with the values.
func (j *Judge) exclusionSays(it *item, i int) string {
	name := j.nameOf(j.leaf(i))
	switch {
	case it.rule != nil:
		return fmt.Sprintf("%s is out: %s", name, it.rule.Says)
	case it.q.line != nil:
		r := it.q.line.ranges[i]
		return fmt.Sprintf("%s is out: %s was read as %s, and its sheet gives %s", name, InWords(it.name), it.q.text(), rangeText(r))
	case it.feature >= 0:
		return fmt.Sprintf("%s is out: %s was seen, and never is in it", name, it.reading.Observable.Outcomes[it.feature].Name)
	default:
		return fmt.Sprintf("%s is out: %s is never %s for it", name, InWords(it.name), it.reading.Observable.Outcomes[it.reading.Outcome].Name)
	}
}

func (q *quantityItem) text() string {
	switch {
	case q.form == casefile.Interval:
		return quantity.FormatBounds(q.lo, q.hi)
	case q.rays:
		return quantity.Text(q.x, q.u) + " and " + quantity.Text(q.high, q.highU)
	default:
		return quantity.Text(q.x, q.u)
	}
}

func rangeText(r *kb.Range) string {
	end := func(v float64) string { return quantity.Text(v, 0) }
	if r.Derived != "" { // computed to more figures than it means
		end = func(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
	}
	if r.Low == r.High {
		return end(r.Low)
	}
	return end(r.Low) + " to " + end(r.High)
}

// addFamilies says what counts in full in each family, and fills in what each piece of evidence counts.
func (ch *chain) addFamilies() {
	j := ch.j
	for f := range j.w.families {
		fw := &j.w.families[f]
		s := Step{Kind: "family", Family: j.e.families[fw.family]}
		for g := range fw.groups {
			for _, n := range fw.groups[g].items {
				s.Inputs = append(s.Inputs, ch.items[n])
			}
		}
		s.Says = fmt.Sprintf("%s: %s counts in full", s.Family, InWords(fw.groups[0].name))
		if len(fw.groups) > 1 {
			s.Says += fmt.Sprintf(", what else it says at %s, as it rests on the same physics", figures(j.e.Ruleset.Policy.FurtherWeight))
		}
		for i := range j.e.leaves {
			if c := j.familySum(fw, i); c != 0 {
				s.Weights = append(s.Weights, Given{Material: j.leaf(i).ID, C: c, Counts: c})
			}
		}
		ch.add(s)
		ch.counts(fw)
	}
}

// counts fills in, for each material, the part of each piece of evidence that counts.
func (ch *chain) counts(fw *familyWeight) {
	j := ch.j
	for i := range j.e.leaves {
		full := j.countsInFull(fw, i)
		for g := range fw.groups {
			c, out := j.groupC(&fw.groups[g], i)
			weight := j.e.Ruleset.Policy.FurtherWeight
			if g == full {
				weight = 1
			}
			spent := false
			for _, n := range fw.groups[g].items {
				it := &j.items[n]
				if counted := !spent && j.fill(it, i) == c && it.excludes.has(i) == out; counted {
					spent = true
					ch.setCount(ch.items[n], j.leaf(i).ID, weight*c)
				}
			}
		}
	}
}

// countsInFull is the group of a family that counts in full for a leaf.
func (j *Judge) countsInFull(fw *familyWeight, i int) int {
	full, lowest, excluded := 0, 0.0, false
	for n := range fw.groups {
		if c, out := j.groupC(&fw.groups[n], i); out && (!excluded || c < lowest) {
			full, lowest, excluded = n, c, true
		}
	}
	return full
}

func (ch *chain) setCount(step int, material string, x float64) {
	if step == 0 {
		return
	}
	w := ch.steps[step-1].Weights
	if n := slices.IndexFunc(w, func(g Given) bool { return g.Material == material }); n >= 0 {
		w[n].Counts = x
	}
}

func (ch *chain) addShare() {
	j := ch.j
	s := Step{Kind: "share"}
	for _, st := range ch.steps {
		if st.Kind == "family" {
			s.Inputs = append(s.Inputs, st.Step)
		}
	}
	free := 0
	for i := range j.e.leaves {
		if j.w.free(i) {
			free++
		}
		if !j.w.nought.has(i) {
			s.Weights = append(s.Weights, Given{Material: j.leaf(i).ID, C: j.w.log[i], Counts: j.w.share[i]})
		}
	}
	slices.SortStableFunc(s.Weights, func(a, b Given) int { return cmp.Compare(b.Counts, a.Counts) })
	s.Says = fmt.Sprintf("with what is common at the counter, %s of %d may still be it", count(free, "material"), j.e.leaves)
	if free == 0 {
		s.Says = "no material stays open"
	}
	ch.share = ch.add(s)
}

func (ch *chain) addChecks() {
	for _, c := range ch.j.trace.checks {
		ok := c.ok
		s := Step{Kind: "check", Says: ch.j.says(&c), OK: &ok, Inputs: []int{ch.share}, Condition: string(c.point)}
		if c.node != nil {
			s.Material = c.node.ID
		}
		if c.point == holdsShare || c.point == bearsDoubt {
			value, needed := c.value, c.needed
			s.Value, s.Needed = &value, &needed
		}
		ch.add(s)
	}
}

func (ch *chain) addVerdict(c *casefile.Case, d *Decision) {
	j := ch.j
	v := Step{Kind: "verdict", Says: j.sentence(c, d)}
	for _, s := range ch.steps {
		if s.Kind == "check" {
			v.Inputs = append(v.Inputs, s.Step)
		}
	}
	if d.Named != nil {
		v.Material = d.Named.ID
	}
	n := ch.add(v)
	if c.Claim != "" {
		ch.add(Step{Kind: "claim", Says: j.claimSays(c, d), Inputs: []int{ch.share, n}})
	}
}
