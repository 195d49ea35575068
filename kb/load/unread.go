package load

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

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
	if word == "" || strings.ContainsAny(word, "\n") || !utf8.ValidString(word) {
		return false
	}
	alone := regexp.MustCompile(`(?:^|[^\w-])` + regexp.QuoteMeta(word) + `(?:$|[^\w-])`)
	return slices.ContainsFunc(u, alone.MatchString)
}

// without is a list of findings without those that are missed only.
func (u unread) without(found diag.List) diag.List {
	return slices.DeleteFunc(slices.Clone(found), u.missed)
}
