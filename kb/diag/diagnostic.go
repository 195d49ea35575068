package diag

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

func itoa(n int) string { return strconv.Itoa(n) }

// Severity says how much a diagnostic weighs. The zero value is Error.
type Severity int

// The severities, gravest first.
const (
	Error   Severity = iota // what it is about can't be used
	Warning                 // it can be used, but is probably not what was meant
	Note                    // worth knowing
)

var severityNames = [...]string{"error", "warning", "note"}

// String returns the severity's word.
func (s Severity) String() string {
	if s < 0 || int(s) >= len(severityNames) {
		return "severity " + itoa(int(s))
	}
	return severityNames[s]
}

// MarshalText returns the severity's word.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the severity's word.
func (s *Severity) UnmarshalText(text []byte) error {
	i := slices.Index(severityNames[:], string(text))
	if i < 0 {
		return fmt.Errorf("unknown severity %q; expected one of %s", text, strings.Join(severityNames[:], ", "))
	}
	*s = Severity(i)
	return nil
}

// Related is another place that belongs to the matter, and what it has to do with it.
type Related struct {
	Span Span
	Says string
}

// Value is something in scope: a name and what it stood for.
type Value struct{ Name, Value string }

// Name is the name by which files call what is read or said of a stone, within a summary: see [Diagnostic.Calling].
type Name string

// Test is the name by which files call a test, likewise.
type Test string

// Diagnostic is one finding. Code is one of those that are registered; Summary says in one line what is wrong, Detail
// why and what to do about it, Write what to write instead, which helps nobody but who writes a file or a command;
// Nearest is the known name that was perhaps meant, Lacks the name that no sheet bears or gives, where that is what is
// wrong.
type Diagnostic struct {
	Code     Code
	Severity Severity
	Summary  string
	Detail   string
	Write    string
	Span     Span
	Related  []Related
	Nearest  string
	Lacks    string
	Values   []Value
	Format   string // of the summary, where a name stands in it, with what stands in it; else empty
	Args     []any
}

// Advice is all that is to be done about it, for whoever writes a file.
func (d Diagnostic) Advice() string {
	if d.Detail == "" || d.Write == "" {
		return d.Detail + d.Write
	}
	return d.Detail + " " + d.Write
}

// Named tells whether the summary names what it is about.
func (d Diagnostic) Named() bool { return slices.ContainsFunc(d.Args, is[Name]) }

// Calling is the diagnostic with what stands in its summary called otherwise, each [Name] and [Test] as call gives it.
// A summary that names any is made here, so that nothing else may have changed it.
func (d Diagnostic) Calling(call func(any) any) Diagnostic {
	if d.Format != "" {
		d.Args = slices.Clone(d.Args)
		for i, x := range d.Args {
			d.Args[i] = call(x)
		}
		d.Summary = fmt.Sprintf(d.Format, d.Args...)
	}
	return d
}

func is[T any](x any) bool {
	_, ok := x.(T)
	return ok
}

// Error returns the diagnostic as one line.
func (d Diagnostic) Error() string {
	var b strings.Builder
	if !d.Span.IsZero() {
		b.WriteString(d.Span.String() + ": ")
	}
	b.WriteString(d.Severity.String() + ": " + d.Summary)
	if d.Code != "" {
		b.WriteString(" [" + string(d.Code) + "]")
	}
	b.WriteString(Meant(d.Nearest))
	return oneLine(b.String())
}

// oneLine replaces whatever would break a line or command a terminal.
func oneLine(s string) string { return strings.Map(visible, s) }

// List gathers diagnostics. It is an error, one line per diagnostic; use [List.Err] to return it as one.
type List []Diagnostic

// Error returns the diagnostics, a line each.
func (l List) Error() string {
	lines := make([]string, len(l))
	for i, d := range l {
		lines[i] = d.Error()
	}
	return strings.Join(lines, "\n")
}

// Add appends a diagnostic.
func (l *List) Add(d Diagnostic) { *l = append(*l, d) }

// Errorf appends an Error and returns it, for its Detail, Nearest and so on to be filled in. The pointer is good until
// the next diagnostic is added.
func (l *List) Errorf(code Code, sp Span, format string, args ...any) *Diagnostic {
	return l.addf(Error, code, sp, format, args)
}

// Warnf appends a Warning; see [List.Errorf].
func (l *List) Warnf(code Code, sp Span, format string, args ...any) *Diagnostic {
	return l.addf(Warning, code, sp, format, args)
}

// Notef appends a Note; see [List.Errorf].
func (l *List) Notef(code Code, sp Span, format string, args ...any) *Diagnostic {
	return l.addf(Note, code, sp, format, args)
}

func (l *List) addf(s Severity, code Code, sp Span, format string, args []any) *Diagnostic {
	d := Diagnostic{Code: code, Severity: s, Span: sp, Summary: fmt.Sprintf(format, args...)}
	if slices.ContainsFunc(args, is[Name]) || slices.ContainsFunc(args, is[Test]) {
		d.Format, d.Args = format, args
	}
	l.Add(d)
	return &(*l)[len(*l)-1]
}

// HasErrors tells whether any diagnostic is an Error.
func (l List) HasErrors() bool { return slices.ContainsFunc(l, isError) }

// Errors counts those that are an Error.
func (l List) Errors() (n int) {
	for _, d := range l {
		if isError(d) {
			n++
		}
	}
	return n
}

func isError(d Diagnostic) bool { return d.Severity == Error }

// Beyond is what the list has and an earlier one had not. Lines may have moved in between, so that a diagnostic is
// known by its code, its words, its file and the text that it is about; where several are alike, those that are more
// than before count.
func (l List) Beyond(earlier List) (out List) {
	type alike struct {
		code                Code
		summary, file, text string
	}
	like := func(d Diagnostic) alike { return alike{d.Code, d.Summary, d.Span.name(), d.Span.Text()} }
	known := map[alike]int{}
	for _, d := range earlier {
		known[like(d)]++
	}
	for _, d := range l {
		if known[like(d)]--; known[like(d)] < 0 {
			out = append(out, d)
		}
	}
	return out
}

// Err returns the list as an error, or nil when it has no Error in it.
func (l List) Err() error {
	if !l.HasErrors() {
		return nil
	}
	return l
}

// Sort orders the list by file name, place, severity, code and summary. It is stable and removes nothing; what has no
// position comes first.
func (l List) Sort() {
	slices.SortStableFunc(l, func(a, b Diagnostic) int {
		return cmp.Or(
			strings.Compare(a.Span.name(), b.Span.name()),
			cmp.Compare(a.Span.Start, b.Span.Start),
			cmp.Compare(a.Severity, b.Severity),
			cmp.Compare(a.Code, b.Code),
			strings.Compare(a.Summary, b.Summary))
	})
}

func (sp Span) name() string {
	if sp.IsZero() {
		return ""
	}
	return sp.Source.Name
}
