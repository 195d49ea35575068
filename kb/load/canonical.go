package load

import (
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"github.com/gowebpki/jcs"

	"whystone/kb/syntax"
)

// written is what a document tree says, without places and however it is laid out, as canonical JSON (RFC 8785) but for
// one thing: keys are sorted by bytes, and not by units of UTF-16, which is another order where a key has a character
// that is [beyond16].
func written(n *syntax.Node) string { return string(appendJSON(make([]byte, 0, 8<<10), n)) }

// beyond16 tells whether a text has a character that is two units of UTF-16.
func beyond16(text string) bool {
	for i := range len(text) {
		if text[i] >= 0xF0 { // it begins one of four bytes
			return true
		}
	}
	return false
}

func appendJSON(out []byte, n *syntax.Node) []byte {
	switch {
	case n.IsNull():
		return append(out, "null"...)
	case n.Kind == syntax.Map:
		out = append(out, '{')
		entries := append(make([]syntax.Entry, 0, 24), n.Entries...)
		slices.SortFunc(entries, func(a, b syntax.Entry) int { return strings.Compare(a.Key.Text, b.Key.Text) })
		for i, e := range entries {
			if i > 0 {
				out = append(out, ',')
			}
			out = appendJSON(append(appendText(out, e.Key.Text), ':'), e.Value)
		}
		return append(out, '}')
	case n.Kind == syntax.List:
		out = append(out, '[')
		for i, it := range n.Items {
			if i > 0 {
				out = append(out, ',')
			}
			out = appendJSON(out, it)
		}
		return append(out, ']')
	case n.Style == syntax.Plain || n.Style == syntax.JSONWord || n.Style == syntax.JSONNumber:
		if n.Text == "true" || n.Text == "false" {
			return append(out, n.Text...)
		}
		if number, ok := numberIn(n.Text); ok {
			return append(out, number...)
		}
	}
	return appendText(out, n.Text)
}

// numberIn is a number as canonical JSON has it.
func numberIn(text string) (string, bool) {
	if text == "" || strings.IndexByte("+-.0123456789", text[0]) < 0 { // cheaply told, as most words are no numbers
		return "", false
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return "", false
	}
	out, err := jcs.NumberToJSON(x)
	return out, err == nil // it has no infinity
}

// appendText appends a text in quotes.
func appendText(out []byte, text string) []byte {
	out = append(out, '"')
	from := 0
	for i := range len(text) {
		switch c := text[i]; {
		case c == '"' || c == '\\':
			out = append(append(out, text[from:i]...), '\\', c)
			from = i + 1
		case c < ' ':
			escape, _ := json.Marshal(text[i : i+1])
			out = append(append(out, text[from:i]...), escape[1:len(escape)-1]...)
			from = i + 1
		}
	}
	return append(append(out, text[from:]...), '"')
}
