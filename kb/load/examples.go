package load

import (
	"strings"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/logic"
	"whystone/kb/syntax"
)

// readExamples reads the examples that rules carry, whatever else is wrong with the ruleset. What follows from their
// stones is added by deriveExamples, when there is a program to reckon with.
func readExamples(rs *kb.Ruleset, at map[*kb.Rule]*sheet, out *diag.List) {
	reader := eval.CaseReader(rs)
	reader.Derive = nil
	for _, r := range rs.Rules {
		for _, it := range at[r].list(at[r].Get("examples")) {
			if ex, ok := readExample(it, reader.ReadExample, out); ok {
				r.Examples = append(r.Examples, ex)
			}
		}
	}
}

func deriveExamples(rs *kb.Ruleset) {
	reader := eval.CaseReader(rs)
	for _, r := range rs.Rules {
		for _, ex := range r.Examples {
			reader.Derive(ex.Case)
		}
	}
	for _, d := range rs.Definitions {
		for _, ex := range d.Examples {
			reader.Derive(ex.Case)
		}
	}
}

func readExample(n *syntax.Node, read func(*syntax.Node, *diag.List) *casefile.Case, out *diag.List) (kb.Example,
	bool) {
	is := n.Get("is")
	if is.IsNull() {
		if n.Kind == syntax.Map {
			read(n, out)
		}
		if n.Misspells("is", "readings", "stone", "stake", "case") { // said by what read it
			return kb.Example{}, false
		}
		out.Errorf(diag.MissingKey, n.Span,
			"an example says what the rule's condition \"is\": holds, fails or undecided")
		return kb.Example{}, false
	}
	if meant := truthMeant(is); meant != "" {
		out.Errorf(diag.UnknownName, is.Span, "a condition holds, fails or is undecided; %q is none of these",
			is.Text).Nearest = meant
		return kb.Example{}, false
	}
	word, ok := is.Str(out)
	if !ok {
		return kb.Example{}, false
	}
	value, ok := logic.Parse(word)
	if !ok {
		out.Errorf(diag.UnknownName, is.Span, "%q is not one of holds, fails, undecided", word).
			Nearest = diag.Nearest(word, []string{"fails", "holds", "undecided"})
		return kb.Example{}, false
	}
	c := read(n, out)
	return kb.Example{Case: c, Is: value, Span: n.Span}, c != nil
}

// truthMeant is the truth value that somebody means who writes true or yes, false or no; else "".
func truthMeant(n *syntax.Node) string {
	switch strings.ToLower(n.Text) {
	case "true", "yes", "on":
		return logic.Holds.String()
	case "false", "no", "off":
		return logic.Fails.String()
	}
	return ""
}
