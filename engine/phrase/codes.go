package phrase

import (
	"math"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/english"
)

// Code is the name of a kind of reason, for programs. It stays the same for ever.
type Code string

// Entry is what the table has of a code: its words, with a place in braces for each thing that they are about.
type Entry struct {
	Code   Code
	Of     string // the heading that it stands under
	Says   string
	Within string // of a verdict: the same as a part of a sentence; of a ground: what it is for a claim that falls
	joins  bool   // it has its own place for what is told in the same breath

	says, within template // of the texts
}

var (
	table   = map[Code]Entry{}
	order   []Code
	heading string
)

// under begins a heading of the table.
func under(name string) string {
	heading = name
	return name
}

// code puts a code into the table. One that is there already is a mistake in the program.
func code(name Code, says string) Code { return verdict(name, says, "") }

// verdict is code for what has words within a sentence too.
func verdict(name Code, says, within string) Code {
	if _, taken := table[name]; taken {
		panic("the code " + string(name) + " is there twice")
	}
	joins := slices.ContainsFunc([]string{"{clauses}", "{joined}", "{reasons}", "{sentences}"},
		func(p string) bool { return strings.Contains(says, p) })
	table[name] = Entry{Code: name, Of: heading, Says: says, Within: within, joins: joins}
	order = append(order, name)
	return name
}

// Table lists all codes, as they stand there.
func Table() []Entry {
	return english.Each(order, func(c Code) Entry { return table[c] })
}

// LacksSupport is which code tells that so few kinds of evidence support a name.
func LacksSupport(families []string) Code {
	return [...]Code{NoSupport, OneFamily, OneTest}[min(len(families), 2)]
}

// Compared is how much likelier something is on one of two; the sign of the logarithm of the ratio says on which.
func Compared(gap float64, one, other *kb.Material) Reason {
	return ahead(AsLikely, Likelier, gap, one, other)
}

// SupportOf is how strongly readings speak for one of two, in the words of the policy's scale.
func SupportOf(p *kb.Policy, gap float64, one, other *kb.Material) Reason {
	r := ahead(NotTold, SupportFor, gap, one, other)
	if r.Code == SupportFor {
		r.Text = p.Words(r.Ratio)
	}
	return r
}

// SeenBefore is how much oftener the house sees one of two.
func SeenBefore(gap float64, one, other *kb.Material) Reason {
	return ahead(SeenAlike, SeenMore, gap, one, other)
}

// evenly is up to which logarithm of a ratio two are as good as equal.
const evenly = 0.05

func ahead(alike, more Code, gap float64, one, other *kb.Material) Reason {
	switch {
	case math.Abs(gap) < evenly:
		return Reason{Code: alike, Node: one, Other: other}
	case gap < 0:
		gap, one, other = -gap, other, one
	}
	return Reason{Code: more, Node: one, Other: other, Ratio: math.Exp(gap)}
}
