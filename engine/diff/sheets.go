package diff

import (
	"cmp"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
)

// Sheet is one sheet that differs: added, removed or changed.
type Sheet struct {
	What string // rule, table, material, group, test or policy, or "retired rule" and so on; a table's row is a rule
	ID   string
	How  string    // added, removed or changed
	At   diag.Span // in the newer ruleset; of what was removed, in the older
}

// Rulesets lists the sheets that differ, sorted by kind and id. What differs only in comments, layout or the names of
// files is left out.
func Rulesets(was, is *kb.Ruleset) []Sheet {
	a, b := sheets(was), sheets(is)
	var out []Sheet
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
	slices.SortFunc(out, func(x, y Sheet) int {
		return cmp.Or(cmp.Compare(x.What, y.What), cmp.Compare(x.ID, y.ID), cmp.Compare(x.How, y.How))
	})
	return out
}

func change(s kb.Sheet, how string) Sheet {
	what := string(s.Kind)
	if s.Retires {
		what = "retired " + what
	}
	return Sheet{What: what, ID: s.ID, How: how, At: s.Span}
}

// sheets are those of all layers. One id may stand in several.
func sheets(rs *kb.Ruleset) map[kb.Sheet]kb.Sheet {
	out := map[kb.Sheet]kb.Sheet{}
	for _, s := range rs.Sheets {
		out[kb.Sheet{Kind: s.Kind, ID: s.ID, Layer: s.Layer, Retires: s.Retires}] = s
	}
	return out
}
