// Package compare tells in what two rulesets, or two versions of a case, differ, for somebody who has just saved a file.
package compare

import (
	"slices"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
)

// Change is one sheet that differs: added, removed or changed.
type Change struct {
	What string // rule, table, material, group, test, policy or retires; a table's row is a rule
	ID   string
	How  string    // added, removed or changed
	At   diag.Span // in the newer ruleset; of what was removed, in the older
}

// Rulesets lists the sheets that differ, sorted by kind and id. What differs only in comments, layout or the names of
// files is left out.
func Rulesets(old, new *kb.Ruleset) []Change {
	a, b := sheets(old), sheets(new)
	var out []Change
	for key, s := range b {
		if before, had := a[key]; !had {
			out = append(out, change(s, "added"))
		} else if before.Written != s.Written {
			out = append(out, change(s, "changed"))
		}
	}
	for key, s := range a {
		if _, has := b[key]; !has {
			out = append(out, change(s, "removed"))
		}
	}
	slices.SortFunc(out, func(x, y Change) int {
		return strings.Compare(x.What+"\x00"+x.ID+"\x00"+x.How, y.What+"\x00"+y.ID+"\x00"+y.How)
	})
	return out
}

func change(s kb.Sheet, how string) Change {
	what := string(s.Kind)
	if s.Retires {
		what = "retired " + what
	}
	return Change{What: what, ID: s.ID, How: how, At: s.Span}
}

// sheets are those of all layers. One id may stand in several.
func sheets(rs *kb.Ruleset) map[kb.Sheet]kb.Sheet {
	out := map[kb.Sheet]kb.Sheet{}
	for _, s := range rs.Sheets {
		out[kb.Sheet{Kind: s.Kind, ID: s.ID, Layer: s.Layer, Retires: s.Retires}] = s
	}
	return out
}

// Cases lists in what two versions of a case differ: "ri: 1.54 became above 1.81".
func Cases(old, new *casefile.Case) []string {
	var out []string
	say := func(name, a, b string) {
		switch {
		case a == b:
		case a == "":
			out = append(out, name+": "+b+", new")
		case b == "":
			out = append(out, name+": "+a+", gone")
		default:
			out = append(out, name+": "+a+" became "+b)
		}
	}
	say("claim", old.ClaimSays, new.ClaimSays)
	a, b := readings(old), readings(new)
	for _, name := range names(old, new) {
		say(name, a[name], b[name])
	}
	if len(out) == 0 {
		out = append(out, "the readings and the claim are the same")
	}
	return out
}

func readings(c *casefile.Case) map[string]string {
	out := map[string]string{}
	for _, r := range c.Readings {
		out[r.Name()] = phrase.ReadingText(r)
	}
	return out
}

func names(cases ...*casefile.Case) []string {
	var out []string
	for _, c := range cases {
		for _, r := range c.Readings {
			out = append(out, r.Name())
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
