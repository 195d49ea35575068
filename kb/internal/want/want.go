// Package want checks diagnostics against expectations that stand beside the offending lines of a test's input:
//
//	if: riz > 1.7      # want: unknown-name "riz" near "ri"
//
// The text in quotes is what the diagnostic's span covers, as far as its first line goes. Several are separated by ";
// ". What is missing and what is unexpected both fail.
package want

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"whystone/kb/diag"
)

const mark = "# want: "

var form = regexp.MustCompile(`^([a-z-]+) ("(?:[^"\\]|\\.)*")(?: near ("(?:[^"\\]|\\.)*"))?$`)

// Check compares the findings with what the lines of the sources want, and says what differs, a line each.
func Check(sources []*diag.Source, found diag.List) (differences []string) {
	var wanted, got []string
	for _, src := range sources {
		for i := 1; i <= src.Lines(); i++ {
			_, list, ok := strings.Cut(src.Line(i), mark)
			if !ok {
				continue
			}
			for _, w := range strings.Split(list, "; ") {
				if !form.MatchString(w) {
					differences = append(differences, fmt.Sprintf("%s:%d: %q is no expectation", src.Name, i, w))
				}
				wanted = append(wanted, fmt.Sprintf("%s:%d: %s", src.Name, i, w))
			}
		}
	}
	for _, d := range found {
		got = append(got, describe(d))
	}
	for _, w := range wanted {
		if i := slices.Index(got, w); i >= 0 {
			got = slices.Delete(got, i, i+1)
			continue
		}
		differences = append(differences, "missing:    "+w)
	}
	for _, g := range got {
		differences = append(differences, "unexpected: "+g)
	}
	slices.SortFunc(differences, func(a, b string) int { return strings.Compare(a[12:], b[12:]) })
	return differences
}

func describe(d diag.Diagnostic) string {
	where := "no place"
	if !d.Span.IsZero() {
		where = fmt.Sprintf("%s:%d", d.Span.Source.Name, d.Span.Position().Line)
	}
	text, _, _ := strings.Cut(d.Span.Text(), "\n")
	text, _, _ = strings.Cut(text, mark[:len(mark)-1])
	out := where + ": " + string(d.Code) + " " + strconv.Quote(strings.TrimSpace(text))
	if d.Nearest != "" {
		out += " near " + strconv.Quote(d.Nearest)
	}
	return out
}
