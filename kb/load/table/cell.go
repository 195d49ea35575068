// Package table reads what rule tables are written in: the records of a CSV file as rows, and cells as the conditions
// that a person would have written. It knows nothing of rules.
package table

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Words of cells.
const (
	anyCell   = "any"
	aboveCell = "above"
	belowCell = "below"
	fromCell  = "from"
	toCell    = "to"
)

// Cell is a cell put together as a condition.
type Cell struct {
	pieces []syntax.Piece // each with its place in the cell; none: any
	either bool           // parts joined by "or", which must stand in brackets beside others
}

// Any tells whether the cell asks for nothing.
func (c Cell) Any() bool { return len(c.pieces) == 0 }

// Condition is the condition of some cells, none of them Any, as a scalar that stands in a place.
func Condition(at diag.Span, cells ...Cell) *syntax.Node {
	var out []syntax.Piece
	for i, c := range cells {
		if i > 0 {
			out = append(out, syntax.Piece{Text: " and "})
		}
		bracket := c.either && len(cells) > 1
		if bracket {
			out = append(out, syntax.Piece{Text: "("})
		}
		out = append(out, c.pieces...)
		if bracket {
			out = append(out, syntax.Piece{Text: ")"})
		}
	}
	return syntax.Pieced(syntax.Double, at, out...)
}

// Written is a cell as it is written, the items of a list separated by "; "; "any" too where it is left out.
func Written(n *syntax.Node) string {
	switch {
	case n.IsNull():
		return anyCell
	case n.Kind != syntax.List:
		return strings.TrimSpace(n.Text)
	}
	return strings.Join(english.Each(n.Items, func(it *syntax.Node) string { return it.Text }), "; ")
}

// ReadCell reads a cell of the column that asks for a symbol; ok is false when it was refused. The condition that a
// cell becomes is what a person would have written:
//
//	any, or nothing        no condition
//	quantity  above 2.6    specific_gravity > 2.6
//	          below 2.6    specific_gravity < 2.6
//	          from 2.6     specific_gravity >= 2.6
//	          2.6 to 2.7   2.6 <= specific_gravity < 2.7
//	          a list       each of these, joined by "or"
//	choice,   a word       optic_character == "uniaxial"
//	text      a list       optic_character in ["uniaxial", "biaxial"]
//	features  a word       "feather" in inclusions
//	          a list       each of these, joined by "or"
//	truth     true, false  stone.wet, not stone.wet
func ReadCell(symbol *condition.Symbol, n *syntax.Node, out *diag.List) (cell Cell, ok bool) {
	return cellReader{symbol, out}.read(n)
}

// cellReader reads the cells of one column.
type cellReader struct {
	symbol *condition.Symbol
	out    *diag.List
}

func (c cellReader) read(n *syntax.Node) (cell Cell, ok bool) {
	if n == nil || n.IsNull() || isAny(n) {
		return Cell{}, true
	}
	items, ok := n.ListOrOne(c.out)
	if !ok {
		return Cell{}, false
	}
	if len(items) == 0 {
		c.out.Errorf(diag.MissingKey, n.Span, "the list is empty").Detail = "Whatever is read is written any."
		return Cell{}, false
	}
	for _, it := range items {
		if it.Kind != syntax.Scalar || it.IsNull() {
			it.Str(c.out)
			return Cell{}, false
		}
		if isAny(it) {
			c.out.Errorf(diag.NotAllowed, it.Span, "%q stands alone in its cell", anyCell)
			return Cell{}, false
		}
	}
	switch c.symbol.Kind {
	case vocab.Quantity:
		return c.either(n, items, c.interval)
	case vocab.Features:
		return c.either(n, items, c.feature)
	case vocab.Truth:
		return c.truth(n, items)
	}
	return c.words(n, items)
}

func isAny(n *syntax.Node) bool { return n.Kind == syntax.Scalar && n.Text == anyCell }

// either joins the parts that the items become.
func (c cellReader) either(n *syntax.Node, items []*syntax.Node, part func(whole, it *syntax.Node) ([]syntax.Piece,
	bool)) (out Cell, ok bool) {
	ok = true
	for i, it := range items {
		pieces, good := part(n, it)
		if ok = ok && good; !ok {
			continue
		}
		if i > 0 {
			out.pieces = append(out.pieces, syntax.Piece{Text: " or ", Span: n.Span})
		}
		out.pieces = append(out.pieces, pieces...)
	}
	out.either = len(items) > 1
	return out, ok
}

var (
	boundForm    = regexp.MustCompile(`^\s*(` + aboveCell + `|` + belowCell + `|` + fromCell + `)\s+(\S+)\s*$`)
	intervalForm = regexp.MustCompile(`^\s*(\S+)\s+` + toCell + `\s+(\S+)\s*$`)
	bounds       = map[string]string{aboveCell: " > ", belowCell: " < ", fromCell: " >= "}
)

// interval is one item of a quantity's cell.
func (c cellReader) interval(_, it *syntax.Node) ([]syntax.Piece, bool) {
	name := syntax.Piece{Text: c.symbol.Name, Span: it.Span}
	glue := func(text string) syntax.Piece { return syntax.Piece{Text: text, Span: it.Span} }
	if at := boundForm.FindStringSubmatchIndex(it.Text); at != nil {
		number, _, ok := c.number(it, at[4], at[5])
		return []syntax.Piece{name, glue(bounds[it.Text[at[2]:at[3]]]), number}, ok
	}
	at := intervalForm.FindStringSubmatchIndex(it.Text)
	if at == nil {
		c.noInterval(it)
		return nil, false
	}
	low, x, ok := c.number(it, at[2], at[3])
	high, y, good := c.number(it, at[4], at[5])
	if !ok || !good {
		return nil, false
	}
	if x >= y {
		c.out.Errorf(diag.BadNumber, it.Span, "the lower end comes first, and the upper end is not in it")
		return nil, false
	}
	return []syntax.Piece{low, glue(" <= "), name, glue(" < "), high}, true
}

// number is a number within a cell, as it is written.
func (c cellReader) number(it *syntax.Node, start, end int) (syntax.Piece, float64, bool) {
	n := it.Part(syntax.Plain, start, end)
	x, ok := n.Num(c.out)
	return syntax.Piece{Text: n.Text, Span: n.Span}, x, ok
}

var firstWord = regexp.MustCompile(`^\s*([A-Za-z]+)`)

// noInterval says what a quantity's cell should have been.
func (c cellReader) noInterval(it *syntax.Node) {
	d := c.out.Errorf(diag.BadSyntax, it.Span, "%s is a quantity, and this is no range of one", c.symbol.Name)
	d.Detail = "Write: 2.6 to 2.7 (the upper end not in it), above 2.6, below 2.6, from 2.6 (that value in it), any, " +
		"or a list of such."
	if advice := syntax.SeparatorAdviceAt(it.Text, -1); advice != "" {
		d.Detail = advice
	} else if m := firstWord.FindStringSubmatch(it.Text); m != nil {
		d.Nearest = diag.Nearest(m[1], []string{aboveCell, belowCell, fromCell, anyCell})
	}
}

func (c cellReader) feature(whole, it *syntax.Node) ([]syntax.Piece, bool) {
	word, ok := c.word(it)
	return []syntax.Piece{word, {Text: " in " + c.symbol.Name, Span: whole.Span}}, ok
}

// word is a word in quotes, as conditions have them.
func (c cellReader) word(it *syntax.Node) (syntax.Piece, bool) {
	text, ok := it.Str(c.out)
	if !ok || c.listed(it) {
		return syntax.Piece{}, false
	}
	if strings.TrimSpace(text) == "" || strings.ContainsFunc(text, unicode.IsControl) {
		c.out.Errorf(diag.BadText, it.Span, "a word of a cell is not empty and stands on one line")
		return syntax.Piece{}, false
	}
	return syntax.Piece{Text: `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(text) + `"`, Span: it.Span}, true
}

// listed reports a cell that has several words with the wrong sign between them.
func (c cellReader) listed(it *syntax.Node) bool {
	if c.symbol.Observable == nil {
		return false
	}
	for _, sign := range []string{",", "/", "|", " or ", " and "} {
		parts := strings.Split(it.Text, sign)
		known := func(part string) bool { _, ok := c.symbol.Observable.Outcome(strings.TrimSpace(part)); return ok }
		if _, whole := c.symbol.Observable.Outcome(it.Text); whole || len(parts) < 2 ||
			!slices.ContainsFunc(parts, known) {
			continue
		}
		for i := range parts {
			parts[i] = strings.TrimSpace(parts[i])
		}
		d := c.out.Errorf(diag.UnknownChoice, it.Span, "%s has no outcome %q", c.symbol.Name, it.Text)
		if d.Detail = "A list is written [" + strings.Join(parts, ", ") + "]."; it.Style == syntax.Field {
			d.Detail = "The words of a list are separated by \";\": " + strings.Join(parts, ";") + "."
		}
		return true
	}
	return false
}

func (c cellReader) words(n *syntax.Node, items []*syntax.Node) (out Cell, ok bool) {
	glue := func(text string) { out.pieces = append(out.pieces, syntax.Piece{Text: text, Span: n.Span}) }
	start, between, end := " in [", ", ", "]"
	if len(items) == 1 {
		start, end = " == ", ""
	}
	ok = true
	glue(c.symbol.Name + start)
	for i, it := range items {
		if i > 0 {
			glue(between)
		}
		word, good := c.word(it)
		out.pieces = append(out.pieces, word)
		ok = ok && good
	}
	glue(end)
	return out, ok
}

func (c cellReader) truth(n *syntax.Node, items []*syntax.Node) (Cell, bool) {
	if len(items) > 1 {
		c.out.Errorf(diag.WrongKind, n.Span, "%s is true or false, or any", c.symbol.Name)
		return Cell{}, false
	}
	it := items[0]
	is, ok := strings.EqualFold(it.Text, "true"), it.Style == syntax.Field &&
		(strings.EqualFold(it.Text, "true") || strings.EqualFold(it.Text, "false"))
	if !ok {
		if is, ok = it.Bool(c.out); !ok {
			return Cell{}, false
		}
	}
	text := c.symbol.Name
	if !is {
		text = "not " + text
	}
	return Cell{pieces: []syntax.Piece{{Text: text, Span: it.Span}}}, true
}
