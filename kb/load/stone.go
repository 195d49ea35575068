package load

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// valueName is the reading in a formula.
const valueName = "value"

// uncertainty reads what an entry says of a standard uncertainty: a number, or an expression in quotes, with what is to
// be reckoned with where it comes to nothing. An entry that says none has that of another.
func (b *vocabBuilder) uncertainty(s *sheet, n *syntax.Node, y, other *vocab.Yield) {
	v := n.Get("uncertainty")
	if !n.Get("otherwise").IsNull() && isText(v) && v.Style == syntax.Plain {
		s.errorf(diag.WrongKind, v, "an expression for an uncertainty stands in quotes")
		return
	}
	if v.IsNull() || !isText(v) || v.Style == syntax.Plain {
		for _, key := range []string{"otherwise", "figures"} {
			if extra := n.Get(key); !extra.IsNull() {
				s.errorf(diag.NotAllowed, extra, "%q goes with an uncertainty that is an expression, in quotes", key)
			}
		}
		if v.IsNull() {
			y.Uncertainty, y.Formula, y.Figures = other.Uncertainty, other.Formula, other.Figures
			if f := b.formulas[other]; f != nil {
				b.formulas[y] = f
			}
			return
		}
		y.Uncertainty = s.within(n, "uncertainty", other.Uncertainty, 0, math.Inf(1))
		return
	}
	if n.Get("otherwise").IsNull() {
		if !n.Misspells("otherwise", declareKeys...) {
			s.errorf(diag.MissingKey, v,
				"what is the uncertainty \"otherwise\", where one of its figures is not known?")
		}
	}
	y.Uncertainty = s.within(n, "otherwise", 0, 0, math.Inf(1))
	y.Figures = s.figures(n.Get("figures"))
	if f := s.formula(v, y.Figures); f != nil {
		y.Formula = strings.TrimSpace(v.Text)
		b.formulas[y] = f
	}
}

// isText tells whether a scalar is anything but a number.
func isText(v *syntax.Node) bool {
	if v.IsNull() || v.Kind != syntax.Scalar {
		return false
	}
	_, err := strconv.ParseFloat(strings.TrimSpace(v.Text), 64)
	return err != nil
}

func (s *sheet) formula(v *syntax.Node, figures []vocab.Figure) *kb.Formula {
	symbols := append(eval.StoneSymbols(), condition.Symbol{Name: valueName, Kind: vocab.Quantity, Exact: true})
	for _, f := range figures {
		symbols = append(symbols, condition.Symbol{Name: f.Name, Kind: vocab.Quantity, Exact: true})
	}
	scope := condition.NewScope(symbols)
	names := scope.Names()
	is, _ := s.quantity(v, scope.WithHints(func(name string) string {
		if diag.NearestOrAbbreviated(name, names) != "" {
			return ""
		}
		return "It may name the stone, " + valueName + " (the reading), and what this entry lists under figures."
	}))
	if is == nil {
		return nil
	}
	return &kb.Formula{Is: is, Scope: scope}
}

// figures reads the names of an instrument's own figures, each with that of an instrument that does not say, or null.
func (s *sheet) figures(n *syntax.Node) []vocab.Figure {
	var out []vocab.Figure
	for _, e := range s.entries(n) {
		f := vocab.Figure{Name: e.Key.Text}
		switch {
		case !nameShape.MatchString(f.Name):
			s.errorf(diag.BadID, e.Key, "a figure's name is lower-case words joined by \"_\"")
			continue
		case f.Name == valueName || condition.Reserved(f.Name) ||
			slices.Contains(instrumentKeys, f.Name):
			s.errorf(diag.BadID, e.Key, "%q has a meaning of its own, and can't be a figure's name", f.Name)
			continue
		}
		if !e.Value.IsNull() {
			x, ok := e.Value.Num(s.out)
			if !ok {
				continue
			}
			f.Otherwise = &x
		}
		out = append(out, f)
	}
	slices.SortFunc(out, func(a, b vocab.Figure) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// figuresOf lists the names of the figures that an instrument for a test may give; of an unknown test those for any.
func (b *vocabBuilder) figuresOf(test string) []string {
	var out []string
	for _, y := range b.yields {
		if y.Test == test || b.sheets[test] == nil {
			out = append(out, english.Each(y.Figures, func(f vocab.Figure) string { return f.Name })...)
		}
	}
	return sorted(out)
}

// instrumentFigures reads an instrument's own figures.
func (s *sheet) instrumentFigures(n *syntax.Node, names []string) map[string]float64 {
	var out map[string]float64
	for _, name := range names {
		if _, x, ok := s.figure(n, name); ok {
			if out == nil {
				out = map[string]float64{}
			}
			out[name] = x
		}
	}
	return out
}

// buildDerived reads what the sheets derive from the stone. Its expressions may name the stone only.
func buildDerived(b *vocabBuilder, scope *condition.Scope) {
	for _, t := range b.tests {
		s := b.sheets[t.ID]
		for _, y := range t.Yields {
			for _, it := range s.list(s.Get("yields").Get(y.Observable.Name).Get("derived")) {
				if d, ok := s.derived(it, y.Observable, scope); ok {
					t.Derived = append(t.Derived, d)
				}
			}
		}
	}
}

func (s *sheet) derived(n *syntax.Node, o *vocab.Observable, scope *condition.Scope) (kb.Derived, bool) {
	if !n.Keys(s.out, "if", "is", "relative", "says", "source") {
		return kb.Derived{}, false
	}
	d := kb.Derived{Observable: o, Relative: s.within(n, "relative", 0, 0, 1), Says: s.needText(n, "says"),
		Source: s.needText(n, "source")}
	for _, key := range []string{"is", "relative"} {
		if !s.has(n, key, "what is derived says %q", key) {
			return d, false
		}
	}
	if c := n.Get("if"); !c.IsNull() {
		if d.If = s.condition(c, scope); d.If == nil || !s.aboutStone(c, d.If, scope) {
			return d, false
		}
	}
	d.Is, d.Reads = s.quantity(n.Get("is"), scope)
	return d, d.Is != nil && s.aboutStone(n.Get("is"), d.Reads, scope)
}

// aboutStone refuses a condition that names anything but the stone.
func (s *sheet) aboutStone(n *syntax.Node, c *condition.Condition, scope *condition.Scope) bool {
	for _, slot := range c.Reads {
		if name := scope.At(slot).Name; !strings.HasPrefix(name, "stone.") {
			s.errorf(diag.NotAllowed, n, "only the stone may be named here; %s is not of it", name)
			return false
		}
	}
	return true
}

// aboutReadings refuses a condition that names anything but the stone and what is read of it.
func (s *sheet) aboutReadings(n *syntax.Node, c *condition.Condition, scope *condition.Scope) {
	for _, slot := range c.Reads {
		if at := scope.At(slot); at.Observable == nil && !strings.HasPrefix(at.Name, "stone.") {
			s.errorf(diag.NotAllowed, n, "only the stone and readings may be named here; %s is neither", at.Name)
			return
		}
	}
}
