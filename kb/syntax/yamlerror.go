package syntax

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"

	"whystone/kb/diag"
)

// plainWords says in plain words what the library's messages mean. context means that the place to show is where the
// construct starts rather than where the library gave up.
var plainWords = []struct {
	message, says, detail string
	context               bool
}{
	{"mapping values are not allowed", "a colon makes this a key, which can't stand here",
		"A text with a colon and a space in it must be in quotes; keys of one mapping are indented alike.", false},
	{"violates indentation", "a tab is used to indent this line", "Indent with spaces.", false},
	{"where an indentation space is expected", "a tab is used to indent this line", "Indent with spaces.", false},
	{"found unexpected end of stream", "the quotes are not closed", "A text in quotes ends with the same quote.", true},
	{"found unexpected document indicator", "the quotes are not closed before the next document", "", true},
	{"could not find expected ':'", "a key without a colon, or a text that is not part of anything",
		"Write a key as \"key: value\"; the lines of a text are indented more than its key.", true},
	{"did not find expected ',' or ']'", "a comma or the closing bracket of a list is missing before this", "", false},
	{"did not find expected ',' or '}'", "a comma or the closing bracket of a mapping is missing before this", "",
		false},
	{"did not find expected key", "this does not belong to the mapping around it",
		"Keys of one mapping are indented alike, and nothing but a comment follows quotes or a closing bracket.",
		false},
	{"did not find expected '-' indicator", "this does not belong to the list around it",
		"The dashes of one list are indented alike, and nothing but a comment follows quotes or a closing bracket.",
		false},
	{"did not find expected node content", "a value is expected here", "", false},
	{"found unknown escape character", "this escape is not known",
		`In double quotes write \\ for a backslash; in single quotes a backslash is just that.`, false},
	{"did not find expected hexadecimal number", "this escape needs hexadecimal digits", "", false},
	{"found invalid Unicode character escape code", "this escape is not a character", "", false},
	{"block sequence entries are not allowed", "a dash makes this a list entry, which can't stand here",
		"A list begins on a line of its own; a text that starts with a dash must be in quotes.", false},
	{"mapping keys are not allowed", "a key can't stand here", "", false},
	{"found unexpected content after document-end", "something follows the end of the document", "", false},
	{"did not find expected <document start>", "something follows the value of this document",
		"Nothing but a line of three dashes, which begins another document, may come here.", false},
	{"comment without preceding whitespace", "a comment needs a space before it", "", false},
	{"did not find expected comment or line break", "something follows the sign of a block text on its line", "",
		false},
}

// reportYAML turns the library's error into a diagnostic with a place and plain words.
func reportYAML(src *diag.Source, err error, out *diag.List) {
	var le *yaml.LoadError
	if !errors.As(err, &le) {
		out.Errorf(diag.BadSyntax, diag.Span{Source: src}, "the YAML text can't be read: %s", err)
		return
	}
	at, context := markSpan(src, le.Mark), markSpan(src, le.ContextMark)
	if code, says := refusal(le); code != "" {
		out.Errorf(code, at, "%s", says)
		return
	}
	d := diag.Diagnostic{Code: diag.BadSyntax, Span: at, Summary: "the YAML text can't be read: " + le.Message}
	for _, w := range plainWords {
		if !strings.Contains(le.Message, w.message) {
			continue
		}
		d.Summary, d.Detail = w.says, w.detail
		if w.context && !context.IsZero() {
			d.Span, context = context, diag.Span{}
		}
		break
	}
	if says, detail := quotedPart(src, at.Start); says != "" && strings.Contains(le.Message, "did not find expected") {
		d.Summary, d.Detail, context = says, detail, diag.Span{}
	} else if key, says, detail := indented(src, at.Start); says != "" && askew(le.Message) {
		d.Span, d.Summary, d.Detail = key, says, detail
	}
	if line, _, _ := bytes.Cut(src.Text[min(d.Span.Start, len(src.Text)):],
		[]byte("\n")); len(bytes.TrimRight(line, "\r ")) > 3 && len(bytes.Trim(line, "-\r ")) == 0 {
		d.Summary, d.Detail = "a line of dashes stands here", "What parts two documents is a line of three: ---"
	}
	if quote, found := runaway(src, at.Start); found && d.Code == diag.BadSyntax {
		d.Span, context = quote, diag.Span{}
		d.Summary, d.Detail = "the quotes are not closed", "A text in quotes ends with the same quote."
	}
	if blank, found := oddBlank(src, at.Start); found {
		r, _ := utf8.DecodeRuneInString(blank.Text())
		d.Span, context = blank, diag.Span{}
		d.Summary, d.Detail = fmt.Sprintf("this line is indented by a blank that is no ordinary one (U+%04X)", r),
			"Indent with ordinary spaces."
	}
	if strings.Contains(le.Message, "did not find expected ','") && len(bytes.TrimSpace(src.Text[at.Start:])) == 0 &&
		!context.IsZero() {
		d.Summary, d.Span, context = "the bracket that opens here is not closed", context, diag.Span{}
	}
	if strings.Contains(le.Message, "cannot start any token") {
		d.Summary, d.Detail = badStart(at.Text())
	}
	if strings.Contains(le.Message, "node content") && at.Start >= len(src.Text) {
		d.Summary = "the text ends where a value or a closing bracket is expected"
	}
	if what := contexts[le.ContextMsg]; what != "" && !context.IsZero() &&
		context.Position().Line < d.Span.Position().Line {
		d.Related = []diag.Related{{Span: context, Says: what + " starts here"}}
	}
	out.Add(d)
}

var contexts = map[string]string{
	"while parsing a flow sequence":    "the list",
	"while parsing a flow mapping":     "the mapping",
	"while parsing a block mapping":    "the mapping",
	"while parsing a block collection": "the list",
	"while scanning a quoted scalar":   "the text",
	"while scanning a block scalar":    "the text",
	"while scanning a plain scalar":    "the text",
}

// markSpan turns the library's line and rune column, both from 1, into a span of one rune; the zero Span for none.
func markSpan(src *diag.Source, m yaml.Mark) diag.Span {
	if m.Line <= 0 {
		return diag.Span{}
	}
	start := src.Offset(m.Line, m.Column)
	_, size := utf8.DecodeRune(src.Text[start:])
	return diag.Span{Source: src, Start: start, End: start + size}
}

// refusal recognises errors that are about what is refused here anyway, or about a limit.
func refusal(le *yaml.LoadError) (code diag.Code, says string) {
	about := le.ContextMsg + " " + le.Message
	switch {
	case strings.Contains(about, "exceeded max depth"):
		return diag.TooDeep, "mappings and lists are nested too deeply"
	case strings.Contains(about, "anchor") || strings.Contains(about, "alias"):
		return diag.AliasRefused, "an anchor or alias stands here; only plain values are read"
	case strings.Contains(about, "directive") || strings.Contains(about, "incompatible YAML document"):
		return diag.NotAllowed, "a directive stands here, which is not read"
	case strings.Contains(about, "tag") || le.Stage == yaml.ResolverStage:
		return diag.NotAllowed, "a tag stands here; only plain values are read"
	}
	return "", ""
}

// badStart says why a value can't start with the character found there.
func badStart(found string) (says, detail string) {
	if found == "\t" {
		return "a tab is used to indent this line", "Indent with spaces."
	}
	return "a value can't start with " + found, "Put the text in quotes."
}
