// Package compare tells in what two rulesets, or two versions of a case, differ, for somebody who has just saved a file.
package compare

import (
	"slices"
	"strings"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/doc"
)

// Change is one sheet that differs: added, removed or changed.
type Change struct {
	What string // rule, table, material, group, test, policy or retires; a table's row is a rule
	ID   string
	How  string    // added, removed or changed
	At   diag.Span // in the newer ruleset; of what was removed, in the older
}

// entry is a sheet: where it stands, and what it says without comments and layout.
type entry struct {
	at   diag.Span
	text string
}

// Rulesets lists the sheets that differ, sorted by kind and id. What differs only in comments, layout or the names of
// files is left out.
func Rulesets(before, after *kb.Ruleset) []Change {
	a, b := sheets(before), sheets(after)
	var out []Change
	for key, e := range b {
		if before, had := a[key]; !had {
			out = append(out, change(key, "added", e))
		} else if before.text != e.text {
			out = append(out, change(key, "changed", e))
		}
	}
	for key, e := range a {
		if _, has := b[key]; !has {
			out = append(out, change(key, "removed", e))
		}
	}
	slices.SortFunc(out, func(x, y Change) int {
		return strings.Compare(x.What+"\x00"+x.ID+"\x00"+x.How, y.What+"\x00"+y.ID+"\x00"+y.How)
	})
	return out
}

// key tells sheets apart; one id may stand in several layers.
type key struct{ layer, what, id string }

func change(k key, how string, e entry) Change {
	return Change{What: k.what, ID: k.id, How: how, At: e.at}
}

// sheets reads the files that a ruleset was made of: each item of a list is a sheet whose first key names its kind and
// id, and each key of the policy counts by itself. Rows of tables, which may stand in files of another kind, are the rules
// that they became.
func sheets(rs *kb.Ruleset) map[key]entry {
	out := map[key]entry{}
	for _, t := range rs.Tables {
		for _, r := range t.Rows {
			out[key{t.Origin.Layer, "rule", r.Rule.ID}] = entry{r.Rule.Origin.Span, r.Rule.Written()}
		}
	}
	for _, src := range rs.Sources {
		if kb.IsTableFile(src.Name) {
			continue
		}
		var none diag.List // it was loaded, so nothing is wrong with it
		for _, root := range doc.ParseYAML(src, &none) {
			for _, top := range root.Entries {
				add(out, layerOf(rs, src), top)
			}
		}
	}
	return out
}

// layerOf is the layer that a file is of: one folder of rules may lie in another's.
func layerOf(rs *kb.Ruleset, src *diag.Source) (layer string) {
	for _, l := range rs.Layers {
		if strings.HasPrefix(src.Name, l+"/") && len(l) > len(layer) {
			layer = l
		}
	}
	return layer
}

func add(out map[key]entry, layer string, top doc.Entry) {
	for _, e := range top.Value.Entries {
		out[key{layer, top.Key.Text, e.Key.Text}] = entry{e.Key.Span, text(e.Value)}
	}
	for _, it := range top.Value.Items {
		if len(it.Entries) == 0 {
			continue
		}
		first := it.Entries[0]
		what := first.Key.Text
		if top.Key.Text == "retires" {
			what = "retired " + what
		}
		out[key{layer, what, first.Value.Text}] = entry{first.Key.Span, text(withoutRows(it))}
	}
}

// withoutRows is a table's sheet without its rows, which count by themselves; any other sheet as it is.
func withoutRows(n *doc.Node) *doc.Node {
	if n.Get("table") == nil {
		return n
	}
	out := *n
	out.Entries = slices.DeleteFunc(slices.Clone(n.Entries), func(e doc.Entry) bool { return e.Key.Text == "rows" })
	return &out
}

// text is what a node says: the order of keys and the way of writing left out.
func text(n *doc.Node) string {
	switch n.Kind {
	case doc.Map:
		parts := make([]string, len(n.Entries))
		for i, e := range n.Entries {
			parts[i] = quote(e.Key.Text) + ":" + text(e.Value)
		}
		slices.Sort(parts)
		return "{" + strings.Join(parts, ",") + "}"
	case doc.List:
		parts := make([]string, len(n.Items))
		for i, it := range n.Items {
			parts[i] = text(it)
		}
		return "[" + strings.Join(parts, ",") + "]"
	}
	return quote(n.Text)
}

func quote(s string) string {
	return `"` + strings.ReplaceAll(strings.ReplaceAll(s, `\`, `\\`), `"`, `\"`) + `"`
}

// Cases lists in what two versions of a case differ: "ri: 1.54 became above 1.81".
func Cases(before, after *casefile.Case) []string {
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
	say("claim", before.ClaimSays, after.ClaimSays)
	a, b := readings(before), readings(after)
	for _, name := range names(before, after) {
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
		out[r.Name()] = engine.ReadingText(r)
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
