// Package page writes the reasoning behind a verdict as a page to print or to keep: one file that needs nothing else.
package page

import (
	_ "embed"
	"html/template"
	"io"
	"strings"

	"whystone/engine"
	"whystone/engine/answers"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
)

//go:embed why.html.tmpl
var text string

var why = template.Must(template.New("why").Funcs(template.FuncMap{
	"short": kb.ShortDigest,
	"plain": phrase.InWords,
	"args":  func(head string, notes []engine.Note) noted { return noted{head, notes} },
}).Parse(text))

// noted is a list of notes under a head.
type noted struct {
	Head  string
	Notes []engine.Note
}

// Case is a case with all that its page tells.
type Case struct {
	Head    string // of the casebook, if the case stands in one
	Ruleset *kb.Ruleset
	File    *casefile.Case
	*engine.Explained
	Short  *answers.Short
	Drafts []string // what rules in draft would change
}

// Readings says what was read, in the order of the case.
func (c Case) Readings() []answers.Reading {
	var out []answers.Reading
	for _, r := range c.File.Readings {
		out = append(out, answers.Reading{Name: r.Name(), Says: phrase.ReadingText(r)})
	}
	return out
}

// Taken is the day by which the case was judged.
func (c Case) Taken() string { day, _, _ := strings.Cut(c.AsOf, "T"); return day }

// Write writes the page of some cases, one after another.
func Write(w io.Writer, cases []Case) error { return why.Execute(w, cases) }
