package syntax

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb/diag"
)

// The library tells what it can't read by the grammar. Two slips are told better by the line on which they are: quotes
// about a part of a text, and an indent that is off by a column or two.

// lineAt is the line about an offset, and where it begins.
func lineAt(src *diag.Source, at int) (line string, start int) {
	at = min(at, len(src.Text))
	start = strings.LastIndexByte(string(src.Text[:at]), '\n') + 1
	line, _, _ = strings.Cut(string(src.Text[start:]), "\n")
	return strings.TrimSuffix(line, "\r"), start
}

// quotedPart says what is wrong when the quotes of a text end just before an offset, and the text goes on.
func quotedPart(src *diag.Source, offset int) (says, detail string) {
	line, start := lineAt(src, offset)
	at := offset - start
	if at > len(line) {
		return "", ""
	}
	from := openingQuote(line, at)
	if from < 0 || strings.ContainsAny(line[at:min(at+1, len(line))], "#:,]}") {
		return "", ""
	}
	whole := line[from : at+valueEnd(line[at:], strings.ContainsAny(line[:from], "{["))]
	quote := `'`
	if strings.Contains(whole, quote) {
		quote = `"`
	}
	if strings.Contains(whole, quote) {
		return "the quotes end here, and the text goes on",
			"Quotes go about all of a text. A condition with quotes in it stands in single quotes, with words in " +
				"double ones."
	}
	return "the quotes end here, and the text goes on", "Put all of it in quotes, a condition too: " + quote + whole +
		quote
}

var quoteOpens = regexp.MustCompile(`(?:^|[:\[{,-] +)(["'])`)

// runaway finds the quote, on one of the lines up to an offset, that opens a text and is not closed on its line, though
// the next line begins with a key: a later quote closed it.
func runaway(src *diag.Source, offset int) (at diag.Span, found bool) {
	line, start := lineAt(src, offset)
	for looked := 0; looked < 40 && start > 0; looked++ {
		_, isKey := keyColumn(line)
		line, start = lineAt(src, start-1)
		m := quoteOpens.FindStringSubmatchIndex(line)
		if !isKey || m == nil {
			continue
		}
		rest := line[m[3]:]
		if line[m[2]] == '"' {
			rest = strings.NewReplacer(`\\`, "", `\"`, "").Replace(rest)
		}
		if strings.Count(rest, line[m[2]:m[3]]) == 0 {
			return diag.Span{Source: src, Start: start + m[2], End: start + m[3]}, true
		}
	}
	return at, false
}

// openingQuote finds where the quotes open that close, but for blanks, at the offset at; -1 when none do.
func openingQuote(line string, at int) int {
	for i := 0; i < at; i++ {
		if line[i] != '"' && line[i] != '\'' || i > 0 && strings.IndexByte(" :[{,", line[i-1]) < 0 {
			continue
		}
		end := i + 1
		for end < at && line[end] != line[i] {
			if line[end] == '\\' && line[i] == '"' {
				end++
			}
			end++
		}
		if end < at && strings.TrimSpace(line[end+1:at]) == "" {
			return i
		}
		i = end
	}
	return -1
}

// valueEnd is the length of what is left of a value: to the end of the line or a comment, between brackets to what ends
// it there.
func valueEnd(rest string, bracketed bool) int {
	depth := 0
	for i := range len(rest) {
		switch c := rest[i]; {
		case c == '#' && i > 0 && rest[i-1] == ' ':
			return len(strings.TrimRight(rest[:i], " \t"))
		case bracketed && depth == 0 && strings.IndexByte(",]}", c) >= 0:
			return i
		case strings.IndexByte("[{(", c) >= 0:
			depth++
		case strings.IndexByte("]})", c) >= 0:
			depth--
		}
	}
	return len(strings.TrimRight(rest, " \t"))
}

var keyForm = regexp.MustCompile(`^( *)((?:- +)*)([A-Za-z_][A-Za-z0-9_ .-]*):(?: |$)`)

// keyColumn is how many columns in the key stands with which a line begins, behind the dashes of a list.
func keyColumn(line string) (column int, ok bool) {
	m := keyForm.FindStringSubmatch(line)
	if m == nil {
		return 0, false
	}
	return len(m[1]) + len(m[2]), true
}

// askew tells whether a message may be about a key that stands askew.
func askew(message string) bool {
	return strings.Contains(message, "mapping values are not allowed") ||
		strings.Contains(message, "did not find expected key") ||
		strings.Contains(message, "did not find expected '-' indicator")
}

// indented says that the key with which a line begins stands askew, when an offset is in it or at its colon, and its
// neighbours above stand a column or two beside it.
func indented(src *diag.Source, offset int) (key diag.Span, says, detail string) {
	line, start := lineAt(src, offset)
	own, ok := keyColumn(line)
	m := keyForm.FindStringSubmatch(line)
	if !ok || m[2] != "" || offset-start > len(m[0]) {
		return key, "", ""
	}
	key = diag.Span{Source: src, Start: start + own, End: start + own + len(m[3])}
	for looked := 0; start > 0 && looked < 20; looked++ {
		line, start = lineAt(src, start-1)
		column, ok := keyColumn(line)
		switch {
		case ok && column == own:
			return key, "", ""
		case ok && max(own-column, column-own) <= 2:
			return key, fmt.Sprintf("this key is indented by %d, and its neighbours by %d", own, column),
				"The keys of one mapping are indented alike."
		}
	}
	return key, "", ""
}

// oddBlank finds the first line, of those up to the one about an offset, that is indented by a blank that is no
// ordinary one.
func oddBlank(src *diag.Source, offset int) (at diag.Span, found bool) {
	_, last := lineAt(src, offset)
	for i := 0; i <= last && i < len(src.Text); {
		n := spaces(src.Text[i:])
		if r, size := utf8.DecodeRune(src.Text[i+n:]); r >= utf8.RuneSelf &&
			(unicode.IsSpace(r) || unicode.Is(unicode.Cf, r) && r != '\uFEFF') {
			return diag.Span{Source: src, Start: i + n, End: i + n + size}, true
		}
		i = LineEnd(src.Text, i)
		i += max(BreakAt(src.Text, i), 1)
	}
	return at, false
}
