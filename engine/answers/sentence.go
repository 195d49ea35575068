package answers

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// capital and lower set the first letter of a sentence; a word with an underscore is an observable's name and stays.
func capital(s string) string { return first(s, unicode.ToUpper) }

func lower(s string) string {
	if r, size := utf8.DecodeRuneInString(s); unicode.IsUpper(r) {
		if next, _ := utf8.DecodeRuneInString(s[size:]); unicode.IsUpper(next) {
			return s // an abbreviation
		}
	}
	return first(s, unicode.ToLower)
}

func first(s string, to func(rune) rune) string {
	word, _, _ := strings.Cut(s, " ")
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 || strings.Contains(word, "_") {
		return s
	}
	return string(to(r)) + s[size:]
}

// stop ends a sentence with one full stop.
func stop(s string) string { return strings.TrimRight(s, ". ") + "." }
