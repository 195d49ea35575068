// Package page writes a case as a page to print, to sign and to keep: one file that needs nothing else.
package page

import (
	_ "embed"
	"html/template"
	"io"
	"slices"

	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/engine/answers"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
)

//go:embed why.html.tmpl
var text string

var why = template.Must(template.New("why").Funcs(template.FuncMap{"short": kb.ShortDigest,
	"plain": phrase.InWords}).Parse(text))

// Case is a case with all that its page tells.
type Case struct {
	terminal.Told
	House    string // whose page it is, if anybody says
	Head     string // of the casebook, if the case stands in one
	By       string // who judged it, where the case does not say
	Short    *answers.Short
	Customer answers.Customer
}

// Of makes the page's case of a verdict.
func Of(a *answers.Asker, t terminal.Told, head, by string) Case {
	short := a.Short(t.Case, t.Moment, t.Explained)
	if t.Case.By != "" {
		by = t.Case.By
	}
	return Case{Told: t, Head: head, By: by, Short: short, Customer: a.Customer(t.Case, t.Moment, t.Explained)}
}

// Readings says what was read, in the order of the case.
func (c Case) Readings() []answers.Reading {
	return english.Each(c.Case.Readings, func(r *casefile.Reading) answers.Reading {
		return answers.Reading{Name: r.Name(), Says: phrase.ReadingText(r)}
	})
}

// Weighed is a reading that mattered, and what it did: what rules say of it, and what evidence of it counted.
type Weighed struct {
	Says string
	Did  []Did
}

// Did is a sentence of a rule or of evidence; ByRule tells of a rule's.
type Did struct {
	Says   string
	ByRule bool
}

// Because is what carries the verdict, less what is told of its support beside it.
func (c Case) Because() []string {
	var out []string
	for i, r := range c.Short.Reasons {
		if c.Named == nil || r.Code == phrase.Supported {
			out = append(out, c.Short.Because[i])
		}
	}
	return out
}

// For are the readings that speak for the verdict.
func (c Case) For() []Weighed { return c.weighed(answers.SpeaksFor) }

// Against are those that speak against it.
func (c Case) Against() []Weighed { return c.weighed(answers.SpeaksAgainst) }

// weighed tells what readings did, step by step of the short chain, which tells none twice. What a rule only cautions
// of or calls for stands elsewhere on the page.
func (c Case) weighed(kind engine.Kind) []Weighed {
	these := slices.DeleteFunc(slices.Clone(c.Short.Tree.Kids), func(b answers.Branch) bool { return b.Kind != kind })
	return english.Each(these, func(b answers.Branch) Weighed {
		w := Weighed{Says: b.Says}
		for _, k := range b.Kids {
			if s := c.Chain[k.Step-1]; s.Kind == engine.EvidenceStep && s.Rule == "" {
				w.Did = append(w.Did, Did{s.Says, false})
			} else if s.Kind == engine.RuleStep && c.counts(s.Rule) {
				w.Did = append(w.Did, Did{c.Ruleset.Rule(s.Rule).Says, true})
			}
		}
		return w
	})
}

// counts tells whether a rule is evidence here.
func (c Case) counts(rule string) bool {
	return slices.ContainsFunc(c.Chain, func(s engine.Step) bool {
		return s.Kind == engine.EvidenceStep &&
			s.Rule == rule
	})
}

// Write writes the page of some cases, one after another.
func Write(w io.Writer, cases []Case) error { return why.Execute(w, cases) }
