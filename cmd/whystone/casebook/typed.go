package casebook

import (
	"encoding/json"
	"slices"
	"strings"

	"whystone/engine/archive"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// Typed is what somebody typed for a value, so that it says the same where it stands alone: the text itself, less the
// indentation of a block. Where that would not be read back as the same value it is JSON.
func Typed(n *syntax.Node) string {
	if sp := n.Span; !sp.IsZero() && sp.End <= len(sp.Source.Text) {
		text := string(sp.Source.Text[sp.Start:sp.End])
		for _, candidate := range []string{text, outdent(text), outdent(text) + "\n",
			strings.TrimRight(outdent(text), " \n")} {
			if back := parse(candidate); back != nil && same(n, back) {
				return candidate
			}
		}
	}
	return archive.JSON(asJSON(n))
}

// outdent takes the least indentation of the later lines from all of them.
func outdent(text string) string {
	lines := strings.Split(text, "\n")
	least := -1
	for _, l := range lines[1:] {
		if blank := len(l) - len(strings.TrimLeft(l, " ")); blank < len(l) && (least < 0 || blank < least) {
			least = blank
		}
	}
	for i := 1; i < len(lines); i++ {
		lines[i] = lines[i][min(max(least, 0), len(lines[i])):]
	}
	return strings.Join(lines, "\n")
}

// Parse reads a value that was typed: JSON if it is that, else YAML. What is wrong goes to out; the node is nil then.
func Parse(src *diag.Source, out *diag.List) *syntax.Node {
	text := string(src.Text)
	if json.Valid(src.Text) {
		return syntax.ParseJSON(src, out)
	}
	if isWords(text) { // as most texts are; a reader of YAML takes ten times as long to find nothing in them
		return &syntax.Node{Kind: syntax.Scalar, Style: syntax.Plain, Text: text,
			Span: diag.Span{Source: src, End: len(text)}}
	}
	wrong := out.HasErrors()
	docs := syntax.ParseYAML(src, out)
	if len(docs) > 1 {
		out.Errorf(diag.NotAllowed, docs[1].Span, "this is a second value, and one is expected")
	}
	if len(docs) == 0 && !out.HasErrors() {
		return &syntax.Node{Kind: syntax.Scalar, Style: syntax.JSONWord, Text: "null", Span: diag.Span{Source: src}}
	}
	if out.HasErrors() && !wrong {
		return nil
	}
	return docs[0]
}

// isWords tells whether a text is letters, digits, hyphens and blanks, from a letter to what is no blank.
func isWords(text string) bool {
	for i, r := range text {
		letter := 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z'
		if !letter && (i == 0 || !strings.ContainsRune("0123456789- ", r)) {
			return false
		}
	}
	return text != "" && !strings.HasSuffix(text, " ")
}

func parse(text string) *syntax.Node {
	var none diag.List // what can't be read is not the same as anything
	return Parse(diag.NewSource("", []byte(text)), &none)
}

// same tells whether two trees say the same: a word without quotes is unlike the same word in quotes.
func same(a, b *syntax.Node) bool {
	if a.Kind == syntax.Scalar && b.Kind == syntax.Scalar {
		x, y := asJSON(a), asJSON(b)
		return x.Style == y.Style && x.Text == y.Text && quoted(a) == quoted(b)
	}
	return a.Kind == b.Kind && slices.EqualFunc(a.Items, b.Items, same) &&
		slices.EqualFunc(a.Entries, b.Entries, func(x, y syntax.Entry) bool {
			return x.Key.Text == y.Key.Text && same(x.Value, y.Value)
		})
}

func quoted(n *syntax.Node) bool {
	return n.Style != syntax.Plain && n.Style != syntax.JSONNumber && n.Style != syntax.JSONWord
}

// asJSON is a tree whose scalars are those of JSON: a number or a word of YAML is one of JSON, all else is text.
func asJSON(n *syntax.Node) *syntax.Node {
	out := &syntax.Node{Kind: n.Kind, Style: n.Style, Span: n.Span, Text: n.Text}
	out.Entries = english.Each(n.Entries, func(e syntax.Entry) syntax.Entry {
		return syntax.Entry{Key: e.Key, Value: asJSON(e.Value)}
	})
	out.Items = english.Each(n.Items, asJSON)
	if n.Kind != syntax.Scalar || n.Style == syntax.JSONNumber || n.Style == syntax.JSONWord {
		return out
	}
	out.Style = syntax.JSONString
	switch {
	case n.Style != syntax.Plain:
	case n.IsNull():
		out.Style, out.Text = syntax.JSONWord, "null"
	case n.Text == "true" || n.Text == "false":
		out.Style = syntax.JSONWord
	case number(n.Text):
		out.Style = syntax.JSONNumber
	}
	return out
}

func number(text string) bool {
	return text != "" && strings.IndexByte("-0123456789", text[0]) >= 0 && json.Valid([]byte(text))
}

// nothing stands in a text where a note was cut out.
const nothing = "null"

// note is a note as it was typed, and where in the rest of the text it stood.
type note struct {
	at   int
	text string
}

// withoutNotes cuts the notes out of a reading's text.
func withoutNotes(text string) (string, []note) {
	if !strings.Contains(text, "note") && !strings.Contains(text, `\`) { // an escape could spell it
		return text, nil
	}
	for _, t := range []string{text, archive.JSON(asJSON(parse(text)))} {
		cut, notes, ok := cutNotes(t)
		if ok {
			return cut, notes
		}
	}
	return text, nil // can't be: JSON has its values whole
}

func cutNotes(text string) (string, []note, bool) {
	n := parse(text)
	maps := []*syntax.Node{n}
	if n.Kind == syntax.List {
		maps = n.Items
	}
	var notes []note
	var out strings.Builder
	last := 0
	for _, m := range maps {
		for i, e := range m.Entries {
			if e.Key.Text != "note" || e.Value.IsNull() {
				continue
			}
			sp := e.Value.Span
			out.WriteString(text[last:sp.Start])
			notes = append(notes, note{out.Len(), text[sp.Start:sp.End]})
			out.WriteString(nothing)
			last = sp.End
			m.Entries[i].Value = &syntax.Node{Kind: syntax.Scalar, Style: syntax.JSONWord, Text: nothing}
		}
	}
	out.WriteString(text[last:])
	back := parse(out.String())
	return out.String(), notes, back != nil && same(n, back)
}

// withNotes puts notes back where they were cut out.
func withNotes(text string, notes []note) string {
	for _, n := range slices.Backward(notes) {
		if n.at+len(nothing) <= len(text) {
			text = text[:n.at] + n.text + text[n.at+len(nothing):]
		}
	}
	return text
}
