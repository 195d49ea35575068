package terminal

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb/diag"
)

// clean replaces whatever would move a cursor or turn the reading direction; paragraphs keep their ends.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r == '\t' || r == '\r':
			return ' '
		case r == '\u2028' || r == '\u2029' || unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return utf8.RuneError
		}
		return r
	}, text)
}

// Clean is a text that is written as it is, without a printer, made safe for a terminal.
func Clean(text string) string { return clean(text) }

func cellsOf(text string) int { return diag.Cells(text) }

// wrap breaks a text at spaces into lines of at most so many cells; a longer word gets a line of its own. A line end in
// the text counts as a space, an empty line parts paragraphs.
func wrap(text string, cells int) []string { return wrapHanging(text, cells, 0) }

// wrapHanging is wrap with every line but the first indented.
func wrapHanging(text string, cells, indent int) []string {
	var lines []string
	for paragraph := range strings.SplitSeq(strings.TrimSpace(text), "\n\n") {
		line, used := "", 0
		if len(lines) > 0 {
			lines = append(lines, "")
			line, used = strings.Repeat(" ", indent), indent
		}
		fresh := true
		for _, word := range strings.Fields(paragraph) {
			w := cellsOf(word)
			switch {
			case fresh:
			case used+1+w > cells:
				lines = append(lines, line)
				line, used = strings.Repeat(" ", indent), indent
			default:
				line, used = line+" ", used+1
			}
			line, used, fresh = line+word, used+w, false
		}
		lines = append(lines, line)
	}
	return lines
}
