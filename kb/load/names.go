package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// inVerdicts reads the words that a verdict uses: one text, or a list of names by colour.
func (s *sheet) inVerdicts(m *kb.Material, v *vocab.Vocabulary) {
	n := s.Get("in_verdicts")
	if n.IsNull() || n.Kind != syntax.List {
		m.InVerdicts = s.text(s.Node, "in_verdicts")
		return
	}
	if len(n.Items) == 0 {
		s.errorf(diag.MissingKey, n, "no name is listed")
	}
	var anyColour *syntax.Node
	for _, it := range n.Items {
		if !it.Keys(s.out, "colour", "says") {
			continue
		}
		colours, ok := s.colours(it, v)
		name := kb.ColourName{Says: s.needText(it, "says"), Colours: colours}
		if !ok {
			continue
		}
		if anyColour != nil {
			s.errorf(diag.NotAllowed, it, "a name that is for any colour stands last: this one is never used").
				Related = []diag.Related{{Span: anyColour.Span, Says: "this one is for any colour"}}
			return
		}
		if colours == 0 {
			anyColour = it
		}
		m.ByColour = append(m.ByColour, name)
	}
}

// colours are the plain colours that a name demands; 0: any. They are not ok where one can't be read.
func (s *sheet) colours(n *syntax.Node, v *vocab.Vocabulary) (set uint64, ok bool) {
	c := n.Get("colour")
	if c.IsNull() {
		return 0, true
	}
	items, ok := c.ListOrOne(s.out)
	if ok && len(items) == 0 {
		s.errorf(diag.MissingKey, c, "no colour is named").Detail = "Leave \"colour\" out of a name that is for any."
		return 0, false
	}
	o := v.Observable(vocab.Colour)
	if o == nil {
		s.errorf(diag.UnknownName, c, "no test gives %q", vocab.Colour).Lacks = vocab.Colour
		return 0, false
	}
	for _, it := range items {
		word, isText := it.Str(s.out)
		i := slices.Index(o.Words(), word)
		if isText && i < 0 {
			s.errorf(diag.UnknownChoice, it, "%s has no outcome %q", vocab.Colour, word).Nearest = diag.Nearest(word,
				o.Words())
		}
		if ok = ok && i >= 0; ok {
			set |= o.Meaning(i)
		}
	}
	return set, ok
}

// settleSpecies finds the node whose sheet speaks of laboratory growth; what it says holds for all below it.
func settleSpecies(m *kb.Material) {
	switch p := m.Parent; {
	case m.Grown != "":
		m.Species = m
	case p != nil && p.Species != nil:
		m.Grown, m.Species = p.Grown, p.Species
	case m.Nameable:
		m.Species = m
	}
}
