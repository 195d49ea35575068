package terminal

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb/english"
)

// WhyAll writes every step of the chain, each once, below what rests on it: from the verdict down to the readings,
// with its number, figures, source, file and line. What is alike stands in one line: the materials that one piece of
// evidence excludes, and those for which a step has the same figure. Where a step is needed again, its number stands
// alone.
func (p *Printer) WhyAll(t Told) {
	p.heading(t)
	w := &whole{t: t, leaders: t.leaders(), done: map[int]bool{}, below: map[int][]int{}}
	for _, s := range t.Chain {
		if s.Kind == engine.ExclusionStep { // rests on evidence, and is told under it
			w.below[s.Inputs[0]] = append(w.below[s.Inputs[0]], s.Step)
			w.done[s.Step] = true
		}
	}
	root := &Node{Text: "The whole chain, " + english.Count(len(t.Chain), "step", "steps"), Style: Bold}
	for i := range t.Chain {
		if k := t.Chain[i].Kind; k == engine.ClaimStep || k == engine.VerdictStep {
			w.hang(root, 0, t.Chain[i].Step)
		}
	}
	rest := &Node{Text: "Steps that the verdict does not rest on", Style: Bold}
	for i := len(t.Chain) - 1; i >= 0; i-- {
		if !w.done[t.Chain[i].Step] {
			w.hang(rest, 0, t.Chain[i].Step)
		}
	}
	root.hang(rest)
	p.Tree(root)
}

type whole struct {
	t       Told
	leaders []string
	done    map[int]bool
	below   map[int][]int // by evidence: what it excludes
}

// hang adds a step below a node, which is that of the step above it, 0 if it is none.
func (w *whole) hang(to *Node, above, step int) {
	s := &w.t.Chain[step-1]
	w.done[step] = true
	kind := string(s.Kind)
	if s.OK != nil {
		kind += " " + s.Condition + ", " + map[bool]string{true: "yes", false: "no"}[*s.OK]
	}
	k := to.add(Plain, fmt.Sprintf("[%d] %s: %s", step, kind, s.Says), w.notes(s, above)...)
	if s.Kind == engine.VerdictStep {
		k.Style = Accent
	}
	var again []string
	for _, n := range s.Inputs {
		switch {
		case n == above:
		case w.done[n]:
			again = append(again, fmt.Sprintf("[%d]", n))
		default:
			w.hang(k, step, n)
		}
	}
	if again != nil {
		k.add(Dim, "with "+strings.Join(again, ", ")+", above")
	}
	if out := w.below[step]; out != nil {
		names := english.Each(out, func(n int) string { return phrase.NameOf(w.t.Ruleset, w.t.Chain[n-1].Material) })
		number := fmt.Sprintf("[%d]", out[0])
		if len(out) > 1 {
			number += fmt.Sprintf(" to [%d]", out[len(out)-1])
		}
		k.add(Plain, number+" exclusion: "+phrase.Some(names, mostOut))
	}
}

func (w *whole) notes(s *engine.Step, above int) []string {
	var out []string
	if s.OK == nil && s.Condition != "" {
		out = append(out, "if "+s.Condition)
	}
	if s.Code == phrase.ShareHeld || s.Code == phrase.DoubtBorne || s.Code == phrase.DoubtTooLarge {
		out = append(out, fmt.Sprintf("a share of %.4g, against %.4g", *s.Value, *s.Needed))
	}
	if len(s.Weights) > 0 {
		out = append(out, figureHeads[s.Kind]+w.figures(s))
	}
	if above > 0 && s.Rule != "" && w.t.Chain[above-1].Rule == s.Rule {
		return out // the rule and its place stand above
	}
	rule, source := "", ""
	if s.Rule != "" {
		rule = w.t.ruleIn(s.Rule) + map[bool]string{true: " (" + s.Status + ")"}[s.Status != "" && s.Status != "active"]
	}
	if s.Source != "" {
		source = "source: " + s.Source
	}
	if where := Joined("; ", rule, source, at(s)); where != "" {
		out = append(out, where)
	}
	return out
}

// figureHeads say what the figures of a step are.
var figureHeads = map[engine.Kind]string{engine.ShareStep: "log-weight: ",
	engine.FamilyStep: "the family's part of the log-weight: ", engine.EvidenceStep: "contribution to the log-weight: "}

// mostOut is how many of the materials that one piece of evidence excludes are named.
const mostOut = 6

// mostFigures is how many unlike figures are written for the materials that the verdict is not about.
const mostFigures = 4

// figures lists what a step gives each material that the verdict is about, with the line of its sheet; of the others,
// how many have each figure, that of most first.
func (w *whole) figures(s *engine.Step) string {
	var parts, order []string
	others := map[string][]string{}
	for _, g := range s.Weights {
		figure := fmt.Sprintf("%+.3f", g.C)
		if s.Kind == engine.EvidenceStep && g.Counts != g.C {
			figure += fmt.Sprintf(" (counts %+.3f)", g.Counts)
		}
		if slices.Contains(w.leaders, g.Material) {
			parts = append(parts, strings.TrimSpace(g.Material+" "+figure+" "+g.Sheet))
			continue
		}
		if others[figure] == nil {
			order = append(order, figure)
		}
		others[figure] = append(others[figure], g.Material)
	}
	slices.SortStableFunc(order, func(a, b string) int { return cmp.Compare(len(others[b]), len(others[a])) })
	more := 0
	for i, figure := range order {
		switch n := len(others[figure]); {
		case i >= mostFigures:
			more += n
		case n == 1:
			parts = append(parts, others[figure][0]+" "+figure)
		default:
			parts = append(parts, fmt.Sprintf("%d others %s", n, figure))
		}
	}
	if more > 0 {
		parts = append(parts, fmt.Sprintf("%d more", more))
	}
	return strings.Join(parts, ", ")
}
