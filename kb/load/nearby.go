package load

import (
	"math"
	"slices"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// neighbours reads which outcomes are called by each other's names, and how often. A neighbour is one in turn, if only
// one of the two says so.
func (s *sheet) neighbours(n *syntax.Node, o *vocab.Observable, entries map[string]*syntax.Node) {
	any := false
	for i := range o.Outcomes {
		v := entries[o.Outcomes[i].Name]
		if v == nil || v.Kind != syntax.Map {
			continue
		}
		for _, it := range s.textNodes(v, "neighbours") {
			w := strings.TrimSpace(it.Text)
			k, ok := o.Outcome(w)
			switch {
			case !ok || k == i:
				s.errorf(diag.UnknownChoice, it, "%s has no other outcome %q to be a neighbour", o.Name,
					w).Nearest = diag.Nearest(w, o.Words())
				continue
			case o.Outcomes[i].Covers|o.Outcomes[k].Covers != 0:
				s.errorf(diag.BadPolicy, it, "a choice that covers others has no neighbours")
				continue
			}
			o.Outcomes[i].Neighbours.Add(k)
			o.Outcomes[k].Neighbours.Add(i)
			any = true
		}
	}
	o.Neighbour = s.within(n, "neighbour", 0, 0, 1)
	switch at := n.Get("neighbour"); {
	case any && at.IsNull():
		s.errorf(diag.MissingKey, n, "%s has outcomes with neighbours, and does not say how often one is called by the "+
			"name of its neighbour: \"neighbour\"", o.Name)
	case !any && !at.IsNull():
		s.errorf(diag.BadPolicy, at, "no outcome of %s has neighbours", o.Name)
	}
}

// liesAt reads where a feature lies.
func (s *sheet) liesAt(v *syntax.Node, out *vocab.Outcome, within float64) {
	for _, it := range s.listOrOne(v.Get("at")) {
		x, ok := it.Num(s.out)
		if ok && x <= 0 {
			s.errorf(diag.BadNumber, it, "a place must be above 0")
			continue
		}
		if ok {
			out.At = append(out.At, x)
		}
	}
	slices.Sort(out.At)
	out.Within = s.within(v, "within", within, 0, math.Inf(1))
	switch {
	case len(out.At) > 0 && out.Within == 0:
		s.errorf(diag.MissingKey, v, "it is not said how far from its place a reading of %q may lie: \"within\", here or "+
			"beside \"features\"", out.Name)
	case len(out.At) == 0 && !v.Get("within").IsNull():
		s.errorf(diag.BadPolicy, v.Get("within"), "%q says how far off a reading may lie, and not where it lies (\"at\")",
			out.Name)
	case len(out.At) != len(slices.Compact(slices.Clone(out.At))):
		s.errorf(diag.DuplicateID, v.Get("at"), "%q lies twice in one place", out.Name)
	}
}

// strengths reads the words for how strong a feature looks.
func (s *sheet) strengths(n *syntax.Node, o *vocab.Observable) {
	for _, it := range s.textNodes(n, "strengths") {
		w := strings.TrimSpace(it.Text)
		switch {
		case !wordsShape.MatchString(w) || strings.Contains(w, " "):
			s.errorf(diag.BadID, it, "a strength is one word in lower case")
		case slices.Contains(o.Strengths, w):
			s.errorf(diag.DuplicateID, it, "%s has the strength %q twice", o.Name, w)
		default:
			o.Strengths = append(o.Strengths, w)
		}
	}
	if len(o.Strengths) == 1 {
		s.errorf(diag.BadPolicy, n.Get("strengths"), "there are at least two strengths, from the faintest on")
	}
}
