package terminal

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb/english"
)

// WhyAll writes every step of the chain, each once, below what rests on it: from the verdict down to the readings, with
// its number, figures, source, file and line. Where a step is needed again, its number stands alone.
func (p *Printer) WhyAll(t Told) {
	p.heading(t)
	w := &whole{t: t, done: map[int]bool{}, below: map[int][]int{}}
	for _, s := range t.Chain {
		if s.Kind == engine.ExclusionStep { // rests on evidence, and is told under it
			for _, n := range s.Inputs {
				w.below[n] = append(w.below[n], s.Step)
			}
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
	t     Told
	done  map[int]bool
	below map[int][]int
}

// hang adds a step below a node, which is that of the step above it, 0 if it is none.
func (w *whole) hang(to *Node, above, step int) {
	s := &w.t.Chain[step-1]
	number := "[" + strconv.Itoa(step) + "] "
	if w.done[step] {
		to.add(Dim, number+string(s.Kind)+", stands above")
		return
	}
	w.done[step] = true
	says := s.Says
	if s.Kind == engine.ExclusionStep && above > 0 && s.Rule != "" && w.t.Chain[above-1].Rule == s.Rule { // what the rule says stands above
		says = phrase.Reason{Code: phrase.OutAsAbove, Node: nodeOf(w.t.Ruleset, s.Material)}.Says()
	}
	kind := string(s.Kind)
	if s.OK != nil {
		kind += " " + s.Condition + ", " + map[bool]string{true: "yes", false: "no"}[*s.OK]
	}
	k := to.add(Plain, number+kind+": "+says, w.notes(s, above)...)
	if s.Kind == engine.VerdictStep {
		k.Style = Accent
	}
	for _, n := range slices.Concat(s.Inputs, w.below[step]) {
		if n != above {
			w.hang(k, step, n)
		}
	}
}

func (w *whole) notes(s *engine.Step, above int) []string {
	var out []string
	if s.OK == nil && s.Condition != "" {
		out = append(out, "if "+s.Condition)
	}
	if s.Kind == engine.CheckStep && s.Value != nil && s.Needed != nil && *s.Needed <= 1 { // of a share; else a ratio, which is told
		out = append(out, fmt.Sprintf("a share of %.4g, against %.4g", *s.Value, *s.Needed))
	}
	if line := w.figures(s); line != "" {
		out = append(out, line)
	}
	if above > 0 && s.Rule != "" && w.t.Chain[above-1].Rule == s.Rule {
		return out // the rule and its place stand above
	}
	var where []string
	if s.Rule != "" {
		where = append(where, w.t.ruleIn(s.Rule)+map[bool]string{true: " (" + s.Status + ")"}[s.Status != "" && s.Status != "active"])
	}
	if s.Source != "" {
		where = append(where, "source: "+s.Source)
	}
	if p := at(s); p != "" {
		where = append(where, p)
	}
	if where != nil {
		out = append(out, strings.Join(where, "; "))
	}
	return out
}

// figures lists what a step gives each material: contributions to its log-weight, and what of them counts in the family.
func (w *whole) figures(s *engine.Step) string {
	if len(s.Weights) == 0 {
		return ""
	}
	var parts []string
	head := "contribution to the log-weight (what counts in the family): "
	for _, g := range s.Weights {
		switch s.Kind {
		case engine.ShareStep:
			head = "log-weight: "
			parts = append(parts, fmt.Sprintf("%s %.3f", g.Material, g.C))
		case engine.FamilyStep:
			head = "the family's part of the log-weight: "
			parts = append(parts, fmt.Sprintf("%s %+.3f", g.Material, g.C))
		default:
			part := fmt.Sprintf("%s %+.3f (%+.3f)", g.Material, g.C, g.Counts)
			if g.Sheet != "" {
				part += " " + g.Sheet
			}
			parts = append(parts, part)
		}
	}
	return head + strings.Join(parts, ", ")
}
