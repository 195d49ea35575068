package judging

import (
	"bytes"
	"encoding/json"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
)

// CasePrefix begins the name of a case in the casebook, where a file could be named: case:2031-42-K, case:2031-42-K@7
// as it was at version 7, and case:?claim=diamond&status=open for all that are found.
const CasePrefix = "case:"

// Read reads a case as the ruleset understands it, from the case form.
func Read(rs *kb.Ruleset, s *casebook.State) (it intake.Item) {
	for it = range intake.Read(strings.NewReader(s.Form(nil)), CasePrefix+s.Number, eval.CaseReader(rs)) {
		break // it holds one case
	}
	return it
}

// Mistakes says that what was to be written can't be read by the ruleset.
type Mistakes struct{ Found diag.List }

func (e *Mistakes) Error() string { return e.Found.Error() }

// Readable refuses what would bring a mistake into a case that was not there before; the error is *Mistakes.
func Readable(rs *kb.Ruleset) func(before, after *casebook.State) error {
	return func(before, after *casebook.State) error {
		if fresh := Typed(rs, after).Beyond(Typed(rs, before)); fresh.HasErrors() {
			return &Mistakes{fresh}
		}
		return nil
	}
}

// NameIn is the name by which a case has readings of what is called so: that by which the first was given. By two names
// a case can't give one observable.
func NameIn(rs *kb.Ruleset, s *casebook.State, called string) string {
	o := rs.Vocabulary.Called(called)
	if o == nil {
		return called
	}
	for _, r := range s.Live() {
		if rs.Vocabulary.Called(r.Observable) == o {
			return r.Observable
		}
	}
	return o.Name
}

// Typed reads a case of what was typed, so that a mistake is told where it was made.
func Typed(rs *kb.Ruleset, s *casebook.State) diag.List {
	return intake.Of(s.Node(nil), CasePrefix+s.Number, eval.CaseReader(rs)).Found
}

// Issue issues a verdict on a case of the casebook: it keeps the text that is printed, which comes back, the reasoning,
// and the chain.
func Issue(t terminal.Told, s *casebook.State, head casebook.Head, program string) (casebook.Deed, []byte, error) {
	told := printed(func(p *terminal.Printer) {
		p.Verdict(t)
		p.Blank()
		p.Closing(t.Ruleset)
		p.Text(terminal.Plain, 0, "Case "+s.Number+", version "+terminal.Count(s.Version)+". Casebook "+head.String()+
			".")
	})
	why := printed(func(p *terminal.Printer) { p.Why(t) })
	var chain bytes.Buffer
	enc := json.NewEncoder(&chain)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(t.Explained); err != nil {
		return casebook.Deed{}, nil, err
	}
	d, err := casebook.Issue(casebook.Telling{Told: told, Why: why, Chain: chain.Bytes(), Output: &t.Output,
		Ruleset: t.Ruleset, Program: program})
	return d, told, err
}

// printed is what is written on paper: 80 columns, no colour.
func printed(do func(*terminal.Printer)) []byte {
	var b bytes.Buffer
	p := terminal.New(&b, terminal.DefaultWidth, false)
	do(p)
	_ = p.Flush() // a bytes.Buffer takes everything
	return b.Bytes()
}
