package load

import (
	"bytes"
	"slices"
	"strings"

	"whystone/kb/diag"
)

// A part of a file that can't be read is told by itself. What it would have said is missed elsewhere, and each place
// that misses it would be another error, though nothing is wrong there. So of what is unknown nothing is told where the
// word stands in a text that wasn't read; all else is.

// unread is the texts that could not be read.
type unread []string

func (u *unread) add(at diag.Span) {
	*u = append(*u, string(bytes.ReplaceAll([]byte(at.Text()), []byte{0}, nil))) // UTF-16 has a NUL beside each letter
}

// missed tells whether a finding may be about something that only an unread text says.
func (u unread) missed(d diag.Diagnostic) bool {
	if len(u) == 0 {
		return false
	}
	switch d.Code {
	case diag.TreeBroken:
		return true
	case diag.MissingKey, diag.BadPolicy:
		return d.Span.IsZero()
	case diag.ReplacesNothing, diag.StillNamed, diag.Inactive, diag.UnusedFile, diag.FamilyNeeded, diag.NotAllowed:
	default:
		if !strings.HasPrefix(string(d.Code), "unknown-") || d.Code == diag.UnknownKey {
			return false
		}
	}
	return u.says(strings.Trim(d.Span.Text(), `"'\`)) || d.Code == diag.UnusedFile && u.says("rows_from")
}

// says tells whether a word stands in what was not read.
func (u unread) says(word string) bool {
	return word != "" && !strings.Contains(word, "\n") &&
		slices.ContainsFunc(u, func(text string) bool { return standsAlone(text, word) })
}

// standsAlone tells whether a word stands in a text by itself, not as a part of a longer name.
func standsAlone(text, word string) bool {
	for at := 0; ; at++ {
		i := strings.Index(text[at:], word)
		if i < 0 {
			return false
		}
		if at += i; !nameByte(text, at-1) && !nameByte(text, at+len(word)) {
			return true
		}
	}
}

func nameByte(text string, i int) bool {
	if i < 0 || i >= len(text) {
		return false
	}
	c := text[i]
	return c == '_' || c == '-' || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
}

// without is a list of findings without those that are missed only.
func (u unread) without(found diag.List) diag.List {
	return slices.DeleteFunc(slices.Clone(found), u.missed)
}
