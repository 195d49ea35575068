package syntax

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"whystone/kb/diag"
)

// readable checks the text between two offsets before any parser sees it: its length and its encoding. The first
// character that must not be there is reported.
func readable(src *diag.Source, start, end int, yaml bool, out *diag.List) bool {
	if end-start > MaxBytes {
		out.Errorf(diag.TooLong, diag.Span{Source: src, Start: start, End: start},
			"the text is longer than the %d MiB that are read", MaxBytes>>20)
		return false
	}
	if start == 0 && wide(src.Text) {
		out.Errorf(diag.BadEncoding, diag.Span{Source: src, Start: 0, End: min(2, end)},
			"the file is in UTF-16, and files are read as UTF-8").
			Detail = "Save it anew, with the encoding UTF-8."
		return false
	}
	for i := start; i < end; {
		c := src.Text[i]
		if c >= ' ' && c < 0x7F || c == '\n' || c == '\t' || c == '\r' {
			i++
			continue
		}
		r, size := utf8.DecodeRune(src.Text[i:end])
		if why := unreadable(r, size, i, yaml); why != "" {
			d := out.Errorf(diag.BadEncoding, diag.Span{Source: src, Start: i, End: i + size}, "%s", why)
			d.Detail = "Save the file as UTF-8 and remove the character; in double quotes it can be written as an " +
				"escape."
			return false
		}
		i += size
	}
	return true
}

// wide tells whether a text is in UTF-16: by its byte order mark, or as every other byte of its beginning is NUL.
func wide(text []byte) bool {
	if bytes.HasPrefix(text, []byte("\xFF\xFE")) || bytes.HasPrefix(text, []byte("\xFE\xFF")) {
		return true
	}
	return len(text) >= 4 && (text[0] == 0 && text[2] == 0 && text[1] != 0 && text[3] != 0 || text[1] == 0 &&
		text[3] == 0 && text[0] != 0 && text[2] != 0)
}

// unmerged reports a conflict that a merge of two versions left in the text. It tells whether there is one.
func unmerged(src *diag.Source, out *diag.List) bool {
	if !bytes.Contains(src.Text, []byte("<<<<<<<")) {
		return false
	}
	from, parted := -1, false
	for i := 0; i < len(src.Text); {
		end := LineEnd(src.Text, i)
		switch line := string(src.Text[i:end]); {
		case strings.HasPrefix(line, "<<<<<<<"):
			from, parted = i, false
		case line == "=======" && from >= 0:
			parted = true
		case strings.HasPrefix(line, ">>>>>>>") && parted:
			d := out.Errorf(diag.BadSyntax, diag.Span{Source: src, Start: from, End: LineEnd(src.Text, from)},
				"two versions of this part of the file stand here, as a merge left them")
			d.Detail = "Keep what is to count, and take out the lines that begin with <<<<<<<, ======= and >>>>>>>."
			d.Related = []diag.Related{{Span: diag.Span{Source: src, Start: i, End: end}, Says: "they end here"}}
			return true
		}
		i = end + max(BreakAt(src.Text, end), 1)
	}
	return false
}

// unreadable says why a rune must not stand in a text; "" when it may. JSON leaves all but NUL to its own grammar.
func unreadable(r rune, size, offset int, yaml bool) string {
	switch {
	case r == utf8.RuneError && size <= 1:
		return "the text is not valid UTF-8 here"
	case r == 0:
		return "the text has a NUL character here"
	case !yaml:
		return ""
	case r == '\uFEFF':
		if offset > 0 {
			return "a byte order mark (U+FEFF) stands inside the text"
		}
	case r == '\u0085' || r == '\u2028' || r == '\u2029':
		return "a Unicode line separator stands here, which some programs read as a line end and others do not"
	case r < ' ' || r >= 0x7F && r < 0xA0 || r == '\uFFFE' || r == '\uFFFF':
		return "a control character stands here"
	}
	return ""
}

// tooMany counts the characters that part values in YAML, which bounds how many values there can be, and reports a text
// that has too many to be held as a tree.
func tooMany(src *diag.Source, out *diag.List) bool {
	if len(src.Text) <= MaxValues {
		return false
	}
	n := 0
	for i, c := range src.Text {
		switch c {
		case ',', '[', '{', '\n', '\r':
			if n++; n > MaxValues {
				reportTooMany(src, i, out)
				return true
			}
		}
	}
	return false
}

func reportTooMany(src *diag.Source, offset int, out *diag.List) {
	out.Errorf(diag.TooLong, diag.Span{Source: src, Start: offset, End: offset},
		"the text holds more than the %d values that are read", MaxValues)
}

func reportTooDeep(src *diag.Source, offset int, out *diag.List) {
	out.Errorf(diag.TooDeep, diag.Span{Source: src, Start: offset, End: min(offset+1, len(src.Text))},
		"mappings and lists are nested more than %d deep", MaxDepth)
}
