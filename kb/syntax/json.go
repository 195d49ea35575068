package syntax

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"

	"whystone/kb/diag"
)

// ParseJSON reads a text that is exactly one JSON value (RFC 8259). It returns nil when the text can't be read; what is
// wrong is then in out. A byte order mark at the start is skipped.
func ParseJSON(src *diag.Source, out *diag.List) *Node {
	start := 0
	if bytes.HasPrefix(src.Text, []byte("\uFEFF")) {
		start = len("\uFEFF")
	}
	return ParseJSONAt(src, start, len(src.Text), out)
}

// ParseJSONAt reads the one JSON value in src.Text[start:end], as a line of JSON lines is. Places are relative to src.
func ParseJSONAt(src *diag.Source, start, end int, out *diag.List) *Node {
	start = min(max(start, 0), len(src.Text))
	end = min(max(end, start), len(src.Text))
	if !readable(src, start, end, false, out) || !shallow(src, start, end, out) {
		return nil
	}
	if !json.Valid(src.Text[start:end]) {
		reportJSON(src, start, end, out)
		return nil
	}
	p := &jsonReader{src: src, at: start, reporter: reporter{out: out}}
	return p.value()
}

// shallow checks the nesting and the number of values before the text is parsed. Outside strings, which are all that
// has to be known of a JSON text for this, a bracket is a bracket.
func shallow(src *diag.Source, start, end int, out *diag.List) bool {
	depth, values, inString := 0, 0, false
	for i := start; i < end; i++ {
		c := src.Text[i]
		switch {
		case inString && c == '\\':
			i++
		case c == '"':
			inString = !inString
		case inString:
		case c == '[' || c == '{':
			depth++
			values++
		case c == ']' || c == '}':
			depth--
		case c == ',':
			values++
		}
		if depth > MaxDepth {
			reportTooDeep(src, i, out)
			return false
		}
		if values > MaxValues {
			reportTooMany(src, i, out)
			return false
		}
	}
	return true
}

// reportJSON says why a text is not JSON, at the place where encoding/json gave up.
func reportJSON(src *diag.Source, start, end int, out *diag.List) {
	var raw json.RawMessage
	err := json.Unmarshal(src.Text[start:end], &raw)
	var syntax *json.SyntaxError
	if !errors.As(err, &syntax) {
		out.Errorf(diag.BadSyntax, diag.Span{Source: src, Start: start, End: end}, "this is not JSON")
		return
	}
	says := syntax.Error()
	if strings.Contains(says, "unexpected end") {
		d := out.Errorf(diag.BadSyntax, diag.Span{Source: src, Start: end, End: end}, "the JSON text ends too early")
		d.Detail = "A value, a quote or a closing bracket is missing."
		return
	}
	at := min(max(start+int(syntax.Offset)-1, start), end)
	d := out.Errorf(diag.BadSyntax, diag.Span{Source: src, Start: at, End: min(at+1, end)}, "this is not JSON: %s",
		says)
	d.Detail = "JSON has texts and keys in double quotes, a comma between values and none after the last, and no " +
		"comments."
}

// jsonReader turns a text that is known to be valid JSON into nodes. Depth is bounded by the check before it.
type jsonReader struct {
	src *diag.Source
	at  int
	reporter
}

// skip moves to the next byte that is not white space and returns it.
func (p *jsonReader) skip() byte {
	for strings.IndexByte(" \t\r\n", p.src.Text[p.at]) >= 0 {
		p.at++
	}
	return p.src.Text[p.at]
}

func (p *jsonReader) value() *Node {
	c := p.skip()
	start := p.at
	n := &Node{Kind: Scalar}
	switch c {
	case '{':
		n.Kind = Map
		p.object(n)
	case '[':
		n.Kind = List
		p.array(n)
	case '"':
		n.Style = JSONString
		p.text(n)
	default:
		n.Style = JSONNumber
		if c == 't' || c == 'f' || c == 'n' {
			n.Style = JSONWord
		}
		for p.at < len(p.src.Text) && strings.IndexByte(" \t\r\n,]}", p.src.Text[p.at]) < 0 {
			p.at++
		}
		n.Text = string(p.src.Text[start:p.at])
	}
	n.Span = diag.Span{Source: p.src, Start: start, End: p.at}
	return n
}

func (p *jsonReader) array(n *Node) {
	p.at++
	for p.skip() != ']' {
		n.Items = append(n.Items, p.value())
		if p.skip() == ',' {
			p.at++
		}
	}
	p.at++
}

func (p *jsonReader) object(n *Node) {
	var keys keySet
	p.at++
	for p.skip() != '}' {
		key := p.value()
		p.skip()
		p.at++ // the colon
		keys.add(n, Entry{key, p.value()}, &p.reporter)
		if p.skip() == ',' {
			p.at++
		}
	}
	p.at++
}

// text reads a string. Most have no escape and are copied whole.
func (p *jsonReader) text(n *Node) {
	p.at++
	var b strings.Builder
	from := p.at
	for p.src.Text[p.at] != '"' {
		if p.src.Text[p.at] != '\\' {
			p.at++
			continue
		}
		b.Write(p.src.Text[from:p.at])
		text, size, ok := jsonEscape(p.src.Text, p.at)
		if !ok || text == "\x00" {
			p.refuse(n, size, ok)
		}
		b.WriteString(text)
		p.at += size
		from = p.at
	}
	b.Write(p.src.Text[from:p.at])
	n.Text = b.String()
	p.at++
}

func (p *jsonReader) refuse(n *Node, size int, nul bool) {
	n.bad = true
	says := "half a surrogate pair stands here"
	if nul {
		says = "the text has a NUL character here"
	}
	p.errorf(diag.BadEncoding, diag.Span{Source: p.src, Start: p.at, End: p.at + size}, "%s", says)
}
