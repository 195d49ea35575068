package terminal

import (
	"strings"

	"whystone/cmd/whystone/catalog"
	"whystone/kb"
	"whystone/kb/english"
)

// stoneColumn is where the kind of a property of the stone begins.
const stoneColumn = 20

// asked is how a name x of each kind is asked for in a condition.
var asked = []struct {
	label      string
	conditions []string
	note       string
}{
	{"Quantity", []string{"x > 1.8", "1.7 <= x <= 1.8", "near(x, 1.54, 0.01)"}, ""},
	{"Choice", []string{`x == "word"`, `x in ["word", "another"]`, `x not in ["word"]`}, ""},
	{"Features", []string{`"word" in x`, `any(x, # in ["word", "another"])`, `count(x, # in ["word", "another"]) >= 2`},
		"; all and none like any"},
	{"Truth", []string{"x", "not x"}, ""},
	{"Text", []string{`x == "word"`}, ", in lower case"},
	{"Any of them", []string{"seen(x)"}, ": it is there, and can be used"},
	{"A reading", []string{"unclear(x)"}, ": it was tried, and can't be used or was set aside"},
}

// Names writes what a condition may name, and how each kind is asked for.
func (p *Printer) Names(rs *kb.Ruleset, names []catalog.Name) {
	p.Text(Accent, 0, "What a condition may name")
	for _, a := range asked {
		p.Field(a.label, Plain, strings.Join(a.conditions, ", ")+a.note)
	}
	head := ""
	for _, n := range names {
		if h := heading(n); h != head {
			p.section(h)
			head = h
		}
		if n.Of == catalog.Stone || n.Of == catalog.Case {
			p.line(run{Accent, pad("  "+n.Name, stoneColumn)}, run{Plain, inKind(n)})
			continue
		}
		p.hang(Accent, "  ", "    ", n.Name)
		p.hang(Plain, "    ", "      ", inKind(n))
		if len(n.Tests) > 0 {
			p.hang(Dim, "    ", "      ", "by "+strings.Join(n.Tests, ", "))
		}
		if len(n.Rules) > 0 {
			p.hang(Dim, "    ", "      ", "established by "+strings.Join(withDrafts(rs, n.Rules), ", "))
		}
	}
}

// heading is what a name stands below.
func heading(n catalog.Name) string {
	switch n.Of {
	case catalog.Observable:
		return "Family " + n.Family
	case catalog.Fact:
		return "Facts that rules establish"
	}
	return "The stone, the claim and the stake"
}

// inKind tells the kind of a name with what it can be.
func inKind(n catalog.Name) string {
	says := n.Kind
	if n.Unit != "" && n.Unit != "1" {
		says += " in " + n.Unit
	}
	if n.Span != nil {
		says += ", " + span(n.Span[0], n.Span[1])
	}
	words := english.Each(n.Outcomes, func(o catalog.Outcome) string {
		if len(o.Covers) > 0 {
			return o.Name + " (covers " + strings.Join(o.Covers, ", ") + ")"
		}
		return o.Name
	})
	if words != nil {
		says += ": " + strings.Join(words, "; ")
	}
	return says
}

// withDrafts marks the rules that are drafts: what they establish is not established yet.
func withDrafts(rs *kb.Ruleset, ids []string) []string {
	return english.Each(ids, func(id string) string {
		if r := rs.Rule(id); r != nil && r.Status == kb.Draft {
			return id + " (draft)"
		}
		return id
	})
}
