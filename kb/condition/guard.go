package condition

import (
	"strings"
	"unicode/utf8"

	"whystone/kb/diag"
)

// Limits of a condition's text. expr's own limits come too late: its parser recurses without bound before it counts.
const (
	MaxBytes = 4096
	MaxDepth = 64
	MaxUnary = 8
	MaxNodes = 400
)

// guard refuses text that no person writes, before any parser sees it.
func guard(text string, locate Locate, out *diag.List) bool {
	switch {
	case strings.TrimSpace(text) == "":
		out.Errorf(diag.BadSyntax, locate(0, len(text)),
			"the condition is empty").Detail = "A rule that always applies leaves \"if\" out."
		return false
	case len(text) > MaxBytes:
		out.Errorf(diag.TooLong, locate(0, min(len(text), 40)),
			"the condition is %d bytes long; at most %d are allowed", len(text), MaxBytes).
			Detail = "Split it: let smaller rules establish facts, and name those."
		return false
	case !utf8.ValidString(text) || strings.IndexByte(text, 0) >= 0:
		out.Errorf(diag.BadEncoding, locate(0, len(text)), "the condition is not valid UTF-8 text")
		return false
	}
	seen := significant(text)
	return guardDepth(seen, locate, out) && guardUnary(seen, locate, out)
}

// significant is the text with what stands in quotes blotted out and comments made blank, byte for byte, so that
// neither hides nesting nor counts as any.
func significant(text string) string {
	out := []byte(text)
	for i := 0; i < len(text); {
		end, with := i+1, byte(0)
		switch {
		case text[i] == '"' || text[i] == '\'' || text[i] == '`':
			end, with = closingQuote(text, i), 'x'
		case strings.HasPrefix(text[i:], "//"):
			end, with = endAfter(text, i+2, "\n"), ' '
		case strings.HasPrefix(text[i:], "/*"):
			end, with = endAfter(text, i+2, "*/"), ' '
		}
		for ; i < end; i++ {
			if with != 0 {
				out[i] = with
			}
		}
	}
	return string(out)
}

// closingQuote is the offset behind the text in quotes that begins at i; a backtick knows no escapes.
func closingQuote(text string, i int) int {
	quote := text[i]
	for i++; i < len(text); i++ {
		switch {
		case text[i] == quote:
			return i + 1
		case text[i] == '\\' && quote != '`':
			i++
		}
	}
	return len(text)
}

func endAfter(text string, from int, mark string) int {
	if i := strings.Index(text[from:], mark); i >= 0 {
		return from + i + len(mark)
	}
	return len(text)
}

func guardDepth(text string, locate Locate, out *diag.List) bool {
	depth := 0
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '(', '[', '{':
			depth++
		case ')', ']', '}':
			depth--
		}
		if depth > MaxDepth {
			out.Errorf(diag.TooDeep, locate(i, i+1), "brackets are nested more than %d deep", MaxDepth)
			return false
		}
	}
	return true
}

// guardUnary counts unary operators in a row, blanks between them ignored.
func guardUnary(text string, locate Locate, out *diag.List) bool {
	run := 0
	for i := 0; i < len(text); {
		switch {
		case strings.HasPrefix(text[i:], "not") && !wordByte(text, i-1) && !wordByte(text, i+3):
			run, i = run+1, i+3
		case strings.IndexByte("!+-", text[i]) >= 0:
			run, i = run+1, i+1
		case strings.IndexByte(" \t\r\n", text[i]) >= 0:
			i++
		default:
			run, i = 0, i+1
		}
		if run > MaxUnary {
			out.Errorf(diag.TooDeep, locate(i-1, i), "more than %d of \"not\", \"!\", \"-\" and \"+\" in a row",
				MaxUnary)
			return false
		}
	}
	return true
}

func wordByte(s string, i int) bool {
	if i < 0 || i >= len(s) {
		return false
	}
	c := s[i]
	return c == '_' || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
}
