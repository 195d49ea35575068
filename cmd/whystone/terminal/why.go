package terminal

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb/english"
)

// Why writes the reasoning behind a verdict as a tree: only what mattered, in the words of rules and sheets.
func (p *Printer) Why(t Told) {
	p.heading(t)
	root := &Node{Text: t.Says, Style: Accent}
	if says := t.ClaimSays(); says != "" {
		root.add(Bold, says)
	}
	t.addChecks(root)
	t.addFamilies(root)
	t.addExclusions(root)
	t.addRest(root)
	p.Tree(root)
}

// kept are the checks that say for themselves what keeps a name back.
var kept = map[phrase.Code]bool{phrase.Withheld: true, phrase.GrowthUnknown: true, phrase.GrowthOpen: true}

// addChecks tells what the verdict was measured by: for each name that was tried, the deepest first, and for the case.
func (t Told) addChecks(root *Node) {
	n := &Node{Text: "What was checked", Style: Bold}
	tried := map[string]*Node{}
	for _, s := range t.Chain {
		if s.Kind != engine.CheckStep || s.OK == nil {
			continue
		}
		to, says := n, s.Says
		switch s.Code {
		case phrase.MistakenReading, phrase.NoneHolds, phrase.TwoHold: // of the case, though a material stands in it
		default:
			if s.Material == "" {
				break
			}
			if tried[s.Material] == nil {
				tried[s.Material] = n.add(Plain, "for the name "+phrase.NameOf(t.Ruleset, s.Material))
			}
			if to = tried[s.Material]; !kept[s.Code] {
				says = map[bool]string{true: "met: ", false: "lacking: "}[*s.OK] + says
			}
		}
		to.add(Plain, says)
	}
	for _, f := range t.notes(t.Faults) {
		n.add(Bold, f)
	}
	if support := t.support(); support != nil {
		n.add(Plain, support[0])
	}
	root.hang(n)
}

// hang adds a node that has something below it.
func (n *Node) hang(k *Node) {
	if len(k.Kids) > 0 {
		n.Kids = append(n.Kids, k)
	}
}

// addFamilies tells, family by family, what evidence counted for the materials that the verdict is about.
func (t Told) addFamilies(root *Node) {
	leaders := t.leaders()
	all := t.evidences()
	n := &Node{Text: "What the readings say, family by family", Style: Bold}
	if len(leaders) > 0 {
		n.Notes = []string{"Figures are for " + english.List(phrase.NamesOf(t.Ruleset, leaders), "and") +
			": how many times likelier a reading is on such a stone than on any."}
	}
	var nothing []string
	for _, s := range t.Chain {
		if s.Kind != engine.FamilyStep {
			continue
		}
		family := &Node{Text: s.Family, Style: Plain}
		for _, e := range all {
			if !slices.Contains(s.Inputs, e.step.Step) {
				continue
			}
			if !e.tells(leaders) {
				nothing = append(nothing, t.evidenceName(cmp.Or(e.step.Rule, e.step.Observable)))
				continue
			}
			t.hangEvidence(family, e, leaders)
		}
		n.hang(family)
	}
	if len(nothing) > 0 {
		n.add(Dim, "of little or no help: "+english.Join(nothing))
	}
	root.hang(n)
}

// hangEvidence adds a reading or a rule with what it did; below a rule that rests on others, the readings at the end.
func (t Told) hangEvidence(family *Node, e *evidence, leaders []string) {
	did := t.did(e, leaders)
	if e.step.Rule == "" {
		family.add(Plain, t.excluderSays(e.step.Observable)+": "+did)
		return
	}
	k := family.add(Plain, t.ruleSays(e.step.Rule), did, t.ruleIn(e.step.Rule)+", "+at(e.step)+"; source: "+
		e.step.Source)
	for _, i := range e.step.Inputs {
		for _, n := range t.Chain[i-1].Inputs {
			if t.Chain[n-1].Kind == engine.RuleStep {
				k.Kids = english.Each(e.readings,
					func(n int) *Node { return &Node{Text: t.Chain[n-1].Says, Style: Dim} })
			}
		}
	}
}

// did says how many materials evidence leaves out, and how it leans for each leader.
func (t Told) did(e *evidence, leaders []string) string {
	var parts []string
	if e.out > 0 {
		parts = append(parts, "excludes "+strconv.Itoa(e.out)+" of "+strconv.Itoa(len(t.Ruleset.Leaves)))
	}
	for _, side := range []struct {
		word string
		sign float64
	}{{"for", 1}, {"against", -1}} {
		var figures, names []string
		for _, m := range leaders {
			if c := side.sign * e.leans[m]; c >= worthTelling {
				figures = append(figures, phrase.Times(math.Exp(c)))
				names = append(names, phrase.NameOf(t.Ruleset, m))
			}
		}
		switch {
		case len(figures) == 0:
		case len(figures) == len(leaders) && len(slices.Compact(slices.Clone(figures))) == 1:
			whom := map[bool]string{true: "it", false: "each of them"}[len(leaders) == 1]
			parts = append(parts, figures[0]+" "+side.word+" "+whom)
		default:
			for i := range figures {
				parts = append(parts, figures[i]+" "+side.word+" "+names[i])
			}
		}
	}
	return strings.Join(parts, "; ")
}

// ruleSays is a rule in its author's words, with the values filled in.
func (t Told) ruleSays(id string) string {
	for _, s := range t.Chain {
		if s.Kind == engine.RuleStep && s.Rule == id {
			return s.Says
		}
	}
	return "rule " + id
}

// ruleIn names a rule, and says what it stands in for or what replaces it on which days.
func (t Told) ruleIn(id string) string {
	r := t.Ruleset.Rule(id)
	if r == nil || Replacing(r) == "" {
		return "rule " + id
	}
	return "rule " + id + " (" + Replacing(r) + ")"
}

func at(s *engine.Step) string {
	if s.File == "" {
		return ""
	}
	return s.File + ":" + strconv.Itoa(s.Line)
}

// addExclusions groups what is out by what excluded it first.
func (t Told) addExclusions(root *Node) {
	n := &Node{Text: "What is ruled out, by what ruled it out first", Style: Bold}
	order, by := t.excludedBy()
	for _, name := range order {
		var sure, doubtful []string
		for _, x := range by[name] {
			if x.Zero {
				sure = append(sure, x.Name)
			} else {
				doubtful = append(doubtful, x.Name)
			}
		}
		k := n.add(Plain, t.excluderSays(name)+", "+english.Count(len(by[name]), "material", "materials"))
		if sure != nil {
			k.add(Plain, "and by other kinds too: "+english.Join(sure))
		}
		if doubtful != nil {
			k.add(Plain, "by this kind of evidence alone: "+english.Join(doubtful))
		}
	}
	root.hang(n)
}

// excluderSays is what evidence goes by: a reading with its value (or the one feature of it, or the difference of two
// rays, that a sheet was asked about), several that count as one, or a rule by its id.
func (t Told) excluderSays(name string) string {
	parts := strings.Split(name, " + ")
	for i, part := range parts {
		parts[i] = t.evidenceName(part)
		for _, s := range t.Chain {
			if is := s.Observable; s.Kind == engine.ReadingStep && (is == part || strings.HasPrefix(is, part+" (")) {
				parts[i] = t.readingText(s.Step)
				break
			}
		}
	}
	return english.List(parts, "and")
}

// addRest tells what did not count, what stayed open and what would be needed.
func (t Told) addRest(root *Node) {
	for _, part := range []struct {
		head  string
		lines []string
	}{
		{"Not counted", t.setAside()},
		{"Worth knowing", t.notes(t.Flags)},
		{"Waiting for a reading", t.notes(t.Waiting)},
		{"To be taken again", t.repeat()},
		{"Missing for a firmer verdict", t.missing()},
		{"Goes to a laboratory", t.notes(t.SentOn)},
		{"Rules in draft, without effect", t.drafts()},
	} {
		kids := english.Each(part.lines, func(l string) *Node { return &Node{Text: l, Style: Plain} })
		root.hang(&Node{Text: part.head, Style: Bold, Kids: kids})
	}
}
