package skeleton

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb/diag"
	"whystone/kb/doc"
)

// width is how long a line of a rule file should be.
const width = 80

var (
	plainShape = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*([ -][A-Za-z0-9_]+)*$`)
	plainWords = []string{"true", "false", "yes", "no", "on", "off", "null", "y", "n"} // which some readers take for more than a text
)

// scalar writes a text so that YAML reads it back, whatever is in it: without quotes where every reader takes it for text,
// else in double quotes, what is not printable as an escape.
func scalar(s string) string {
	if plainShape.MatchString(s) && !slices.Contains(plainWords, strings.ToLower(s)) {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r == '\n':
			b.WriteString(`\n`)
		case r > utf8.RuneSelf && r != utf8.RuneError && unicode.IsPrint(r), r >= ' ' && r < 0x7F:
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, `\U%08X`, r)
		}
	}
	return b.String() + `"`
}

// flow writes a tree on one line. A number or truth is written as it was, a date in quotes.
func flow(n *doc.Node) string {
	switch n.Kind {
	case doc.Map:
		parts := make([]string, len(n.Entries))
		for i, e := range n.Entries {
			parts[i] = scalar(e.Key.Text) + ": " + flow(e.Value)
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case doc.List:
		parts := make([]string, len(n.Items))
		for i, it := range n.Items {
			parts[i] = flow(it)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	if n.IsNull() {
		return "null"
	}
	if bare(n) {
		return n.Text
	}
	return scalar(n.Text)
}

// bare tells whether a scalar is written as a number or a truth, and not in quotes.
func bare(n *doc.Node) bool {
	if n.Style != doc.Plain && n.Style != doc.JSONNumber && n.Style != doc.JSONWord {
		return false
	}
	var none diag.List
	if _, ok := n.Num(&none); ok {
		return true
	}
	_, ok := n.Bool(&none)
	return ok
}

// block writes a value after its key: on the same line where it fits; else what is made of scalars on as many as it takes,
// and anything else a line for each of its own.
func block(b *strings.Builder, indent int, key string, n *doc.Node) {
	head := strings.Repeat(" ", indent) + key
	line := head + " " + flow(n)
	switch {
	case n.Kind == doc.Scalar || len(n.Entries)+len(n.Items) == 0 || utf8.RuneCountInString(line) <= width:
		b.WriteString(line + "\n")
	case ofScalars(n) && len(n.Entries)+len(n.Items) > 1:
		wrapped(b, indent, head, n)
	case n.Kind == doc.Map:
		b.WriteString(head + "\n")
		for _, e := range n.Entries {
			block(b, indent+2, scalar(e.Key.Text)+":", e.Value)
		}
	default:
		b.WriteString(head + "\n")
		for _, it := range n.Items {
			block(b, indent+2, "-", it)
		}
	}
}

func ofScalars(n *doc.Node) bool {
	return !slices.ContainsFunc(n.Items, func(it *doc.Node) bool { return it.Kind != doc.Scalar }) &&
		!slices.ContainsFunc(n.Entries, func(e doc.Entry) bool { return e.Value.Kind != doc.Scalar })
}

// wrapped writes a mapping or list in brackets over several lines.
func wrapped(b *strings.Builder, indent int, head string, n *doc.Node) {
	var parts []string
	for _, e := range n.Entries {
		parts = append(parts, scalar(e.Key.Text)+": "+flow(e.Value))
	}
	for _, it := range n.Items {
		parts = append(parts, flow(it))
	}
	ends := map[doc.Kind]string{doc.Map: "{}", doc.List: "[]"}[n.Kind]
	line := head + " " + ends[:1]
	for i, part := range parts {
		if part += ","; i == len(parts)-1 {
			part = part[:len(part)-1] + ends[1:]
		}
		switch {
		case i == 0:
			line += part
		case utf8.RuneCountInString(line+" "+part) <= width:
			line += " " + part
		default:
			b.WriteString(line + "\n")
			line = strings.Repeat(" ", indent+2) + part
		}
	}
	b.WriteString(line + "\n")
}
