package load

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// What a layer retires or replaces may be named below: a fact that only the retired rule established, the observables
// of a test, a material. Each place that names it would be an error, most of them in files that the layer's author
// can't edit. They are told as one, where the sheet is retired or replaced.

// removed is a sheet that a layer took out, and where it says so.
type removed struct {
	kind kb.SheetKind
	*sheet
	at diag.Span
}

// byKind copies the sheets of a stack as they are.
func (st *stacked) byKind() map[kb.SheetKind]map[string]*sheet {
	out := map[kb.SheetKind]map[string]*sheet{}
	for kind, sheets := range st.sheets {
		out[kind] = maps.Clone(sheets)
	}
	return out
}

// noteRemoved keeps what a layer took out of the sheets that were there before it.
func (st *stacked) noteRemoved(before, own map[kb.SheetKind]map[string]*sheet, roots []*syntax.Node) {
	for _, k := range kinds {
		for _, id := range sortedKeys(before[k.kind]) {
			s := before[k.kind][id]
			if st.sheets[k.kind][id] == s {
				continue
			}
			at := takenOut(k.kind, id, own, roots)
			if at == nil && s.row != nil {
				at = takenOut("table", s.row.table.id, own, roots)
			}
			if at != nil {
				st.removed = append(st.removed, removed{k.kind, s, at.Span})
			}
		}
	}
}

// takenOut finds where a layer replaces or retires a sheet.
func takenOut(kind kb.SheetKind, id string, own map[kb.SheetKind]map[string]*sheet, roots []*syntax.Node) *syntax.Node {
	for _, other := range sortedKeys(own[kind]) {
		if s := own[kind][other]; s.place.Replaces == id {
			return s.Get("replaces")
		}
	}
	for _, n := range retiring(roots) {
		if v := n.Get(string(kind)); v != nil && v.Text == id {
			return v
		}
	}
	return nil
}

// retiring lists what a layer's files say under retires:.
func retiring(roots []*syntax.Node) (out []*syntax.Node) {
	for _, root := range roots {
		if list := root.Get("retires"); list != nil {
			out = append(out, list.Items...)
		}
	}
	return out
}

// names are what other sheets may name a sheet by: a material or test by its id, a test by what it yields and of which
// families that is, a rule by the facts that it establishes and their words.
func (s *sheet) names(kind kb.SheetKind) []string {
	var out []string
	quiet := s.quiet()
	switch kind {
	case "test":
		out = append(out, s.id)
		for _, e := range quiet.entries(s.Get("yields")) {
			if e.Value.Get("kind") == nil {
				continue // declared by another
			}
			out = append(out, e.Key.Text)
			if f := e.Value.Get("family"); f != nil {
				out = append(out, f.Text)
			}
		}
	case "material":
		out = append(out, s.id)
	case "rule":
		if s.text(s.Node, "status") == string(kb.Retired) {
			return nil
		}
		for _, e := range quiet.entries(s.Get("establishes")) {
			out = append(out, e.Key.Text)
			if factKind(e.Value) != 0 && e.Value.Kind == syntax.Scalar {
				out = append(out, e.Value.Text)
			}
		}
	}
	return out
}

// tellRemoved puts one error in the place of all that name what a layer took out.
func (st *stacked) tellRemoved(found diag.List) diag.List {
	there := map[kb.SheetKind]map[string]bool{}
	for kind, sheets := range st.sheets {
		there[kind] = map[string]bool{}
		for _, s := range sheets {
			for _, name := range s.names(kind) {
				there[kind][name] = true
			}
		}
	}
	for _, g := range st.removed {
		lost := slices.DeleteFunc(g.names(g.kind), func(name string) bool { return there[g.kind][name] })
		var about, rest diag.List
		for _, d := range found {
			if lacks(d.Lacks, lost) {
				about = append(about, d)
			} else {
				rest = append(rest, d)
			}
		}
		if len(about) > 0 {
			rest.Add(st.stillNamed(g, about))
			found = rest
		}
	}
	return found
}

// lacks tells whether a name, or the property in material.PROPERTY.end, is among those that are lost.
func lacks(name string, lost []string) bool {
	if property, is := strings.CutPrefix(name, "material."); is {
		name, _, _ = strings.Cut(property, ".")
	}
	return name != "" && slices.Contains(lost, name)
}

// stillNamed is the one error about a sheet that is gone.
func (st *stacked) stillNamed(g removed, about diag.List) diag.Diagnostic {
	const shown = 3
	about.Sort()
	var names []string
	var by []*sheet
	d := diag.Diagnostic{Code: diag.StillNamed, Span: g.at}
	rules := true
	for _, a := range about {
		if name := strconv.Quote(a.Lacks); !slices.Contains(names, name) {
			names = append(names, name)
		}
		kind, s := st.around(a.Span)
		if slices.Contains(by, s) {
			continue
		}
		by = append(by, s)
		rules = rules && kind == "rule"
		if says := "named here"; len(by) <= shown {
			if s != nil {
				says = "the " + string(kind) + " " + s.id + " names it"
			}
			d.Related = append(d.Related, diag.Related{Span: a.Span, Says: says})
		}
	}
	count := fmt.Sprintf("%d sheets still name", len(by))
	switch {
	case len(by) == 1 && rules:
		count = "1 rule still names"
	case len(by) == 1:
		count = "1 sheet still names"
	case rules:
		count = fmt.Sprintf("%d rules still name", len(by))
	}
	if names = slices.DeleteFunc(names, func(name string) bool {
		return len(names) > 1 &&
			name == strconv.Quote(g.id)
	}); names[0] == strconv.Quote(g.id) {
		d.Summary = fmt.Sprintf("the %s %q is gone, and %s it", g.kind, g.id, count)
	} else {
		what, it := map[kb.SheetKind]string{kb.RuleSheet: "establishes", kb.TestSheet: "gives"}[g.kind], "it"
		list := names[0]
		if len(names) > 1 {
			list, it = english.List(names, "and"), "them"
		}
		d.Summary = fmt.Sprintf("without the %s %q nothing %s %s, and %s %s", g.kind, g.id, what, list, count, it)
	}
	d.Detail = "Retire or replace what names it, too, or keep the " + string(g.kind) + "."
	if g.kind == "rule" {
		d.Detail = "Let a rule of this layer establish it, or retire or replace what names it, too."
	}
	return d
}

// around finds the sheet in which a place lies.
func (st *stacked) around(at diag.Span) (kind kb.SheetKind, s *sheet) {
	for _, k := range kinds {
		for _, id := range sortedKeys(st.sheets[k.kind]) {
			if s := st.sheets[k.kind][id]; s.Span.Source == at.Source && s.Span.Start <= at.Start &&
				at.Start < s.Span.End {
				return k.kind, s
			}
		}
	}
	return "", nil
}
