package archive

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Mapping says how a foreign spreadsheet's columns become a case. A column that it doesn't name is passed over.
type Mapping struct {
	Delimiter rune // 0: a comma
	Columns   map[string]*Column
}

// Column is what becomes of one column's cells.
type Column struct {
	To           string // a path into a case
	Factor       float64
	Offset       float64
	DecimalComma bool
	Words        map[string]string // what the spreadsheet writes, and what is meant
}

// apply turns a cell into what a case says: words first, then the number times factor plus offset. Where a case wants
// text, plain, only words are replaced.
func (c *Column) apply(cell string, plain bool) (string, error) {
	if w, ok := c.Words[cell]; ok {
		return w, nil
	}
	if plain {
		return cell, nil
	}
	if c.DecimalComma {
		switch says := EitherWay(cell); {
		case says != "":
			return "", errors.New(says + ": write it without a point, or with a comma")
		case commaNumber.MatchString(cell):
			cell = strings.ReplaceAll(strings.ReplaceAll(cell, ".", ""), ",", ".")
		case decimal.MatchString(cell):
			return "", fmt.Errorf("%q has a decimal point, and the mapping says decimal comma", cell)
		}
	}
	if c.Factor == 1 && c.Offset == 0 {
		return cell, nil
	}
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return "", fmt.Errorf("%q is no number, and %s wants one to convert", cell, c.To)
	}
	x = x*c.Factor + c.Offset
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "", errors.New("the converted number is not finite")
	}
	return strconv.FormatFloat(x, 'g', 12, 64), nil
}

// commaNumber is a number with a decimal comma, its thousands perhaps separated by points.
var commaNumber = regexp.MustCompile(`^[+-]?(\d+|\d{1,3}(\.\d{3})+)(,\d+)?([eE][+-]?\d+)?$`)

// eitherWay is a number whose one point may part thousands, or be a decimal point that slipped in.
var eitherWay = regexp.MustCompile(`^[+-]?\d{1,3}\.\d{3}([eE][+-]?\d+)?$`)

// EitherWay says how a number can be read of which nobody can tell whether its point parts thousands; empty of any
// other text.
func EitherWay(text string) string {
	if !eitherWay.MatchString(text) {
		return ""
	}
	return fmt.Sprintf("%q can be read as %s and as %[1]s with a decimal point", text,
		strings.Replace(text, ".", "", 1))
}

// ReadMapping reads a mapping file. Its columns give what a case has, in the words of a vocabulary.
func ReadMapping(src *diag.Source, v *vocab.Vocabulary, out *diag.List) *Mapping {
	docs := syntax.ParseYAML(src, out)
	if len(docs) != 1 {
		if !out.HasErrors() {
			out.Errorf(diag.WrongKind, diag.Span{Source: src}, "a mapping file holds one mapping")
		}
		return nil
	}
	n := docs[0]
	if !n.Keys(out, "format", "mapping") {
		return nil
	}
	if f := n.Get("format"); f.IsNull() {
		out.Errorf(diag.MissingKey, n.Span, "the file says no format").Detail = "Begin it with: format: 1"
	} else if v, ok := f.Int(out); ok && v != 1 {
		out.Errorf(diag.UnsupportedFormat, f.Span, "format %d is not understood; this program reads format 1", v)
	}
	body := n.Get("mapping")
	if body.IsNull() {
		out.Errorf(diag.MissingKey, n.Span, "%q is missing", "mapping")
		return nil
	}
	m := &Mapping{Columns: map[string]*Column{}}
	if body.Keys(out, "delimiter", "decimal_comma", "columns") {
		m.read(body, v, out)
	}
	if out.HasErrors() {
		return nil
	}
	return m
}

func (m *Mapping) read(body *syntax.Node, v *vocab.Vocabulary, out *diag.List) {
	if d := body.Get("delimiter"); !d.IsNull() {
		if s, ok := d.Str(out); ok {
			r, size := utf8.DecodeRuneInString(s)
			if size != len(s) || r == utf8.RuneError || r == '"' || r == '\n' || r == '\r' {
				out.Errorf(diag.BadText, d.Span, "a delimiter is one character")
			}
			m.Delimiter = r
		}
	}
	comma := false
	if d := body.Get("decimal_comma"); !d.IsNull() {
		comma, _ = d.Bool(out)
	}
	columns := body.Get("columns")
	if columns.IsNull() {
		out.Errorf(diag.MissingKey, body.Span, "%q is missing", "columns")
		return
	}
	entries, _ := columns.Map(out)
	for _, e := range entries {
		c := &Column{Factor: 1, DecimalComma: comma, Words: map[string]string{}}
		if e.Value.Kind == syntax.Scalar {
			c.gives(e.Value, v, out)
		} else if e.Value.Keys(out, "to", "factor", "offset", "decimal_comma", "words") {
			c.read(e.Value, v, out)
		}
		m.Columns[e.Key.Text] = c
	}
}

func (c *Column) gives(to *syntax.Node, v *vocab.Vocabulary, out *diag.List) {
	var ok bool
	if c.To, ok = to.Str(out); ok {
		casefile.CheckPath(to, v, out)
	}
}

func (c *Column) read(n *syntax.Node, v *vocab.Vocabulary, out *diag.List) {
	if to := n.Get("to"); to.IsNull() {
		out.Errorf(diag.MissingKey, n.Span, "a column says \"to\" what it becomes")
	} else {
		c.gives(to, v, out)
	}
	if f := n.Get("factor"); !f.IsNull() {
		c.Factor, _ = f.Num(out)
	}
	if f := n.Get("offset"); !f.IsNull() {
		c.Offset, _ = f.Num(out)
	}
	if d := n.Get("decimal_comma"); !d.IsNull() {
		c.DecimalComma, _ = d.Bool(out)
	}
	if w := n.Get("words"); !w.IsNull() {
		entries, _ := w.Map(out)
		for _, e := range entries {
			if word, ok := e.Value.Str(out); ok {
				c.Words[e.Key.Text] = word
			}
		}
	}
}

// Hash writes all that the mapping says, in an order of its own.
func (m *Mapping) Hash(to io.Writer) {
	// A Mapping is numbers, texts and maps of them, which JSON writes by sorted keys: it can't fail.
	_ = json.NewEncoder(to).Encode(m)
}
