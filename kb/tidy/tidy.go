// Package tidy gives ruleset files and case files one stable form. It splices text and never writes a document anew, so
// that comments, the order of keys, quotes and the author's words stay as they are.
//
// What comes out:
//
//   - Lines end with LF and without blanks, the file with one line end; there is no byte order mark. Blanks and blank
//     lines that belong to a text are left: those in the lines of a block text (| or >), and the lines that |+ keeps. A
//     block text that ends the file without a line end gets none, for that would be a part of it.
//   - Every level is indented by two blanks, and so are a list below its key, what follows a dash, and a block text below
//     what it stands in; a block text with a digit (|2) keeps the digit and moves along. The further lines of any other
//     text stand two blanks further in than the key or dash that it belongs to.
//   - The lines of a bracketed list or mapping stand two blanks further in than what it stands in, and two more for each
//     bracket that is open around them; closing brackets at the start of a line are closed before that is counted. Where
//     the first bracket begins a line they count from there.
//   - Within a line: one blank after a dash, after the colon of a key and after a comma, none before colon and comma, and
//     none just within brackets. A value left out between brackets keeps the blank after its colon, but no more.
//   - A comment behind something keeps the gap before it, so that columns of comments stay in line; it is two blanks at
//     least. A comment has a blank after its #, unless # or ! follows.
//   - A comment on a line of its own is indented as what follows it. One that is indented deeper than that belongs to the
//     end of what stands above it, at the level that it reaches.
//   - Of several blank lines one is left; at the start of the file there is none. Between two sheets (items of a top-level
//     list called rules, materials, tests or tables) there is one, in front of the comments that lead to the second
//     sheet; two sheets of one line each need none.
//
// Long lines stay long: text is never broken anew.
//
// What a file says is not changed, and so neither is a ruleset's digest: the result is parsed again and compared.
package tidy

import (
	"bytes"
	"slices"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// Edit replaces the bytes from Start to End, exclusive, of a text. Says names what is put right, in a word or two.
type Edit struct {
	Start, End int
	With       string
	Says       string
}

// File returns the tidy form of a YAML text and the edits that make it: offsets in src.Text, in rising order, none
// overlapping another. A text that is tidy comes back as it is, with no edits.
//
// A text with errors is left alone: out is nil and found says what is wrong. So it is with one that is longer than can
// be read once it is tidy, and with one that would say something else, which is a mistake of this package.
func File(src *diag.Source) (out []byte, edits []Edit, found diag.List) {
	before := syntax.ParseYAML(src, &found)
	if found.HasErrors() {
		return nil, nil, found
	}
	tokens, ok := tokenise(src, before)
	if !ok {
		failed(src, &found)
		return nil, nil, found
	}
	p := &printer{text: src.Text, tokens: tokens}
	edits = p.print()
	out = splice(src.Text, edits)
	if len(edits) > 0 && !same(src, before, tokens, out, &found) {
		return nil, nil, found
	}
	return out, edits, found
}

// splice applies edits to a text. The result is never nil.
func splice(text []byte, edits []Edit) []byte {
	out := make([]byte, 0, len(text))
	at := 0
	for _, e := range edits {
		out = append(append(out, text[at:e.Start]...), e.With...)
		at = e.End
	}
	return append(out, text[at:]...)
}

func failed(src *diag.Source, found *diag.List) {
	d := found.Errorf(diag.TidyFailed, diag.Span{Source: src},
		"tidying would have changed what the file says, so it is left as it is")
	d.Detail = "This is a mistake in the program, not in the file."
}

// same tells whether the tidy text says what the text said, its comments included, and reports where it does not.
func same(src *diag.Source, before []*syntax.Node, tokens []token, out []byte, found *diag.List) bool {
	var wrong diag.List
	tidied := diag.NewSource(src.Name, out)
	after := syntax.ParseYAML(tidied, &wrong)
	for _, d := range wrong {
		if d.Code == diag.TooLong {
			found.Errorf(diag.TooLong, diag.Span{Source: src},
				"the file is longer than is read once it is tidy").Detail = d.Summary
			return false
		}
	}
	again, ok := tokenise(tidied, after)
	if len(wrong) > 0 || !ok || !slices.EqualFunc(before, after, equal) ||
		!slices.Equal(comments(src.Text, tokens), comments(out, again)) {
		failed(src, found)
		return false
	}
	return true
}

// equal tells whether two trees say the same in the same style; where they stand in their texts is not compared.
func equal(a, b *syntax.Node) bool {
	if a.Kind != b.Kind {
		return false
	}
	switch a.Kind {
	case syntax.Map:
		return slices.EqualFunc(a.Entries, b.Entries, func(x, y syntax.Entry) bool {
			return equal(x.Key, y.Key) && equal(x.Value, y.Value)
		})
	case syntax.List:
		return slices.EqualFunc(a.Items, b.Items, equal)
	}
	return a.Style == b.Style && a.Text == b.Text
}

// comments lists what the comments of a text say.
func comments(text []byte, tokens []token) []string {
	var all []string
	for _, t := range tokens {
		if t.kind == comment {
			all = append(all, string(bytes.Trim(text[t.start+1:t.end], " \t")))
		}
	}
	return all
}
