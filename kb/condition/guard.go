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
		out.Errorf("bad-syntax", locate(0, len(text)), "the condition is empty").Detail = "A rule that always applies leaves \"if\" out."
		return false
	case len(text) > MaxBytes:
		out.Errorf("too-long", locate(0, min(len(text), 40)), "the condition is %d bytes long; at most %d are allowed", len(text), MaxBytes).
			Detail = "Split it: let smaller rules establish facts, and name those."
		return false
	case !utf8.ValidString(text) || strings.IndexByte(text, 0) >= 0:
		out.Errorf("bad-encoding", locate(0, len(text)), "the condition is not valid UTF-8 text")
		return false
	}
	return guardDepth(text, locate, out) && guardUnary(text, locate, out)
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
			out.Errorf("too-deep", locate(i, i+1), "brackets are nested more than %d deep", MaxDepth)
			return false
		}
	}
	return true
}

// guardUnary counts unary operators in a row, blanks and brackets between them ignored.
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
			out.Errorf("too-deep", locate(i-1, i), "more than %d of \"not\", \"!\", \"-\" and \"+\" in a row", MaxUnary)
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
