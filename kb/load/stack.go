package load

import (
	"bytes"
	"cmp"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

var topKeys = []string{"format", "rules", "tables", "retires", "materials", "tests", "policy", "definitions"}

// kinds are the sheets that a file may list, with the key that holds a sheet's id. A group is a material sheet.
var kinds = []struct {
	top  string
	kind kb.SheetKind
}{{"rules", kb.RuleSheet}, {"materials", kb.MaterialSheet}, {"tests", kb.TestSheet}, {"tables", kb.TableSheet},
	{"definitions", kb.DefineSheet}}

// stacked is what is left of all layers after replacing and retiring.
type stacked struct {
	files   []kb.File
	layers  []string
	sheets  map[kb.SheetKind]map[string]*sheet // kind, id
	policy  *policyNode
	retired []kb.Retirement
	ever    map[kb.SheetKind]map[string]kb.Place // every id of each kind that was ever given out in the stack
	unread  unread
	claimed map[*diag.Source]bool // the CSV files that tables name
	removed []removed
	written []kb.Sheet        // by all layers
	change  func(rule *sheet) // what is done to a rule's sheet before it is laid over those below
	out     *diag.List
}

func stack(files []kb.File, change func(rule *sheet), out *diag.List) *stacked {
	st := &stacked{files: files, sheets: map[kb.SheetKind]map[string]*sheet{}, policy: &policyNode{},
		ever: map[kb.SheetKind]map[string]kb.Place{}, claimed: map[*diag.Source]bool{}, change: change, out: out}
	for _, k := range kinds {
		st.sheets[k.kind], st.ever[k.kind] = map[string]*sheet{}, map[string]kb.Place{}
	}
	for _, f := range files {
		if !slices.Contains(st.layers, f.Layer) {
			st.layers = append(st.layers, f.Layer)
		}
	}
	for _, layer := range st.layers {
		st.layer(layer, out)
	}
	st.tableIDs()
	return st
}

// layer adds one layer's files: first all that it adds or replaces, then what it retires, then its policy.
func (st *stacked) layer(layer string, out *diag.List) {
	var roots []*syntax.Node
	for _, d := range st.parse(layer) {
		roots = append(roots, st.documents(d, out)...)
	}
	own := map[kb.SheetKind]map[string]*sheet{}
	for _, k := range kinds {
		own[k.kind] = st.readKind(layer, k.top, k.kind, roots, out)
	}
	policy := layerPolicy(roots, out)
	st.index(layer, own, roots, policy)
	before := st.byKind()
	gone := st.tables(layer, own, out)
	for _, s := range own["rule"] {
		st.change(s)
	}
	for _, k := range kinds {
		if k.kind != "table" { // merged already
			st.merge(k.kind, own[k.kind])
		}
	}
	for _, t := range gone {
		st.dropRows(t)
	}
	st.unusedFiles(layer)
	for _, root := range roots {
		st.retire(layer, root, own, out)
	}
	st.noteRemoved(before, own, roots)
	slices.SortFunc(st.retired, func(a, b kb.Retirement) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.ID, b.ID))
	})
	st.policy.merge(policy)
}

// parsed is what a file says, before it is looked at.
type parsed struct {
	file   kb.File
	docs   []*syntax.Node
	unread []diag.Span
	found  diag.List
}

// parse parses the YAML files of a layer, side by side.
func (st *stacked) parse(layer string) []*parsed {
	var all []*parsed
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	for _, f := range st.files {
		if f.Layer != layer || IsTableFile(f.Path) {
			continue
		}
		d := &parsed{file: f}
		all = append(all, d)
		work.Go(func() error {
			d.docs, d.unread = syntax.ParseYAMLParts(f.Source, &d.found)
			return nil
		})
	}
	_ = work.Wait() // none of them returns an error: what is wrong is in found
	return all
}

// documents reads a file. What can't be read of it is noted, so that it is not missed in every place that names it.
func (st *stacked) documents(d *parsed, out *diag.List) (roots []*syntax.Node) {
	f, docs, unread := d.file, d.docs, d.unread
	*out = append(*out, d.found...)
	blank := len(bytes.TrimSpace(f.Source.Text)) == 0 // a file of comments alone is for people
	if len(unread) == 0 && !slices.ContainsFunc(docs, saysSomething) && (blank || len(docs) > 0 && !docs[0].IsNull()) {
		out.Warnf(diag.EmptyFile, diag.Span{Source: f.Source}, "the file holds no sheets").
			Detail = "Was it saved whole? If it is not wanted, take it away."
	}
	for _, at := range unread {
		st.unread.add(at)
	}
	for _, root := range docs {
		if root.IsNull() {
			continue
		}
		root.Keys(out, topKeys...)
		for _, e := range root.Entries {
			if !slices.Contains(topKeys, e.Key.Text) {
				st.unread.add(e.Value.Span)
			}
		}
		format := root.Get("format")
		switch {
		case root.Kind != syntax.Map, format != nil && !root.NeedFormat(1, out):
			st.unread.add(root.Span)
			continue
		case format == nil && len(unread) == 0:
			root.NeedFormat(1, out)
		}
		roots = append(roots, root)
	}
	return roots
}

// saysSomething tells whether a document has more than its format.
func saysSomething(root *syntax.Node) bool {
	return !root.IsNull() && (root.Kind != syntax.Map || slices.ContainsFunc(root.Entries, func(e syntax.Entry) bool {
		return e.Key.Text != "format" && !e.Value.IsNull() && (e.Value.Kind == syntax.Scalar ||
			len(e.Value.Items)+len(e.Value.Entries) > 0)
	}))
}

// readKind reads all sheets of one kind of a layer.
func (st *stacked) readKind(layer, top string, kind kb.SheetKind, roots []*syntax.Node,
	out *diag.List) map[string]*sheet {
	own := map[string]*sheet{}
	for _, root := range roots {
		file := &sheet{Node: root, layer: layer, out: out}
		for _, n := range file.list(root.Get(top)) {
			if _, ok := n.Map(out); !ok {
				continue
			}
			s := &sheet{Node: n, layer: layer, out: out}
			idNode := n.Get(string(kind))
			if group := n.Get("group"); kind == "material" && group != nil {
				if idNode != nil {
					s.errorf(diag.GivenTwice, idNode, "a sheet is of a group or of a material")
				}
				idNode = group
			}
			if idNode == nil {
				s.noID(kind)
				continue
			}
			id, ok := idNode.Str(out)
			if !ok {
				continue
			}
			s.id = id
			s.place = kb.Place{Layer: layer, Span: idNode.Span, Replaces: s.text(n, "replaces"),
				Because: s.text(n, "because")}
			if kind == kb.DefineSheet && !nameShape.MatchString(id) {
				s.errorf(diag.BadID, idNode,
					"%q is no name of a definition: lower-case words joined by \"_\", as conditions name it", id)
				continue
			}
			if kind != kb.DefineSheet && !idShape.MatchString(id) {
				s.errorf(diag.BadID, idNode, "%q is no id: lower-case letters, digits and single hyphens", id)
				continue
			}
			if kind == "material" && id == kb.Unlisted {
				s.errorf(diag.BadID, idNode, "%q can't be the id of a material: it stands for what no sheet is of", id)
				continue
			}
			if old := own[id]; old != nil {
				s.errorf(diag.DuplicateID, idNode, "the %s %q is there twice", kind, id).
					Related = []diag.Related{{Span: old.place.Span, Says: "here first"}}
				continue
			}
			own[id] = s
		}
	}
	return own
}

// merge lays a layer's sheets of one kind over those below.
func (st *stacked) merge(kind kb.SheetKind, own map[string]*sheet) {
	below := st.sheets[kind]
	for _, id := range sortedKeys(own) {
		s := own[id]
		if !s.Get("amends").IsNull() {
			if !st.amend(s, kind, below[id]) {
				continue
			}
			below[id], st.ever[kind][id] = s, s.place
			continue
		}
		if because := s.Get("because"); s.place.Replaces == "" && because != nil &&
			!s.Misspells("replaces", sheetKeys[kind]...) {
			s.errorf(diag.MissingKey, because, "%q says why it stands in for another, and not for which", id).
				Detail = "Write replaces: and the id of a sheet of a lower layer. What else there is to say stands " +
				"under note."
		}
		switch old := s.place.Replaces; {
		case old == "" && below[id] != nil:
			d := s.errorf(diag.DuplicateID, s.Node, "the %s %q exists in the layer %s", kind, id, below[id].layer)
			d.Detail = "To stand in for it, write replaces: " + id + " and because: why."
			if kind == kb.MaterialSheet || kind == kb.TestSheet {
				d.Detail += " To change a part of it, write amends: why."
			}
			d.Related = append(d.Related, diag.Related{Span: below[id].place.Span, Says: "the lower layer's"})
			continue
		case old == "" && st.ever[kind][id].Layer != "":
			s.errorf(diag.DuplicateID, s.Node, "the id %q was used by the layer %s and is never given out again", id,
				st.ever[kind][id].Layer)
			continue
		case old != "" && (below[old] == nil || below[old].layer == s.layer):
			if d := st.noneBelow(s, s.Get("replaces"), kind, old); below[old] != nil {
				d.Nearest, d.Detail = "", "This layer writes it itself, and a sheet stands in for one of a layer below."
			}
			continue
		case old != "" && s.place.Because == "":
			s.errorf(diag.MissingKey, s.Node, "%q replaces %q: say because: why", id, old)
		case old != "" && kind == "rule":
			if !st.replaceRule(s, below[old]) {
				continue
			}
		case old != "":
			delete(below, old)
		}
		below[id] = s
		st.ever[kind][id] = s.place
	}
	for _, id := range sortedKeys(own) {
		s := own[id]
		for _, was := range s.texts(s.Node, "was") {
			if other := below[was]; other != nil {
				s.errorf(diag.DuplicateID, s.Get("was"), "%q is the id of another %s", was, kind).
					Related = []diag.Related{{Span: other.place.Span, Says: "this one"}}
			}
		}
	}
}

func (st *stacked) retire(layer string, root *syntax.Node, own map[kb.SheetKind]map[string]*sheet, out *diag.List) {
	s := &sheet{Node: root, layer: layer, out: out}
	for _, n := range s.list(root.Get("retires")) {
		if !n.Keys(out, "rule", "material", "test", "table", "define", "because", "since", "until") {
			continue
		}
		var kind kb.SheetKind
		for _, k := range kinds {
			if v := n.Get(string(k.kind)); v != nil {
				if kind != "" {
					s.errorf(diag.GivenTwice, v, "one entry retires one sheet")
				}
				kind = k.kind
			}
		}
		if kind == "" {
			s.errorf(diag.MissingKey, n, "what is retired: rule, material, test, table or define?")
			continue
		}
		id := s.text(n, string(kind))
		because := s.needText(n, "because")
		below := st.sheets[kind]
		if below[id] == nil || own[kind][id] != nil {
			st.retiresNothing(layer, kind, n.Get(string(kind)), own[kind][id] != nil)
			continue
		}
		if dated := (&sheet{Node: n}).dates(); dated != nil {
			st.retireForATime(below[id], kind, &sheet{Node: n, layer: layer, out: out}, dated)
			continue
		}
		if t := below[id].table; t != nil {
			st.dropRows(t)
		}
		if kind == "rule" {
			st.drop(below[id])
		}
		delete(below, id)
		st.retired = append(st.retired, kb.Retirement{Kind: kind, ID: id, Because: because, Layer: layer, Span: n.Span})
	}
}

// retireForATime retires a rule on some days only. It stays in the ruleset, in force on the days that are left to it.
func (st *stacked) retireForATime(old *sheet, kind kb.SheetKind, entry *sheet, dated *syntax.Node) {
	switch {
	case kind != kb.RuleSheet:
		entry.errorf(diag.NotAllowed, dated, "a %s is retired for good, and not for a time", kind).
			Detail = "Dates are for rules; materials, tests, tables and definitions have none. Leave them out, or " +
			"retire the rules."
	case old.away != nil:
		entry.errorf(diag.GivenTwice, entry.Node, "the rule %q is retired for a time already", old.id).
			Related = []diag.Related{{Span: old.away.Span, Says: "here"}}
	default:
		old.away = entry
	}
}

// retiresNothing says why a sheet can't be retired.
func (st *stacked) retiresNothing(layer string, kind kb.SheetKind, at *syntax.Node, own bool) {
	id, below := at.Text, st.sheets[kind]
	s := &sheet{Node: at, layer: layer, out: st.out}
	again := slices.IndexFunc(st.retired, func(r kb.Retirement) bool { return r.Kind == kind && r.ID == id })
	switch {
	case again >= 0:
		s.errorf(diag.GivenTwice, at, "the %s %q is retired already", kind, id).
			Related = []diag.Related{{Span: st.retired[again].Span, Says: "retired here"}}
	case own && st.ever[kind][id].Layer != "" && st.ever[kind][id].Layer != layer:
		s.errorf(diag.ReplacesNothing, at, "the %s %q is retired and written in one layer", kind, id).
			Detail = "To write it anew take it out of retires: and write replaces: " + id +
			" and because: in its sheet."
	case own:
		s.errorf(diag.ReplacesNothing, at, "no lower layer has a %s %q", kind,
			id).Detail = "This layer writes it itself: take the sheet out instead."
	case below[id] == nil && st.ever[kind][id].Layer != "":
		d := s.errorf(diag.ReplacesNothing, at, "the %s %q is there no more: a layer replaces it", kind, id)
		d.Related = []diag.Related{{Span: st.ever[kind][id].Span, Says: "it stood here"}}
		for _, g := range st.removed {
			if g.kind == kind && g.id == id {
				d.Related = append(d.Related, diag.Related{Span: g.at, Says: "and is replaced here"})
			}
		}
	default:
		_ = st.noneBelow(s, at, kind, id)
	}
}

// noneBelow reports that no layer below a sheet's has what it names.
func (st *stacked) noneBelow(s *sheet, at *syntax.Node, kind kb.SheetKind, id string) *diag.Diagnostic {
	d := s.errorf(diag.ReplacesNothing, at, "no lower layer has a %s %q", kind, id)
	if d.Nearest, d.Detail = nearestID(id, lowerIDs(st.sheets[kind], s.layer)); d.Nearest+d.Detail == "" {
		d.Detail = cmp.Or(st.otherKind(kind, id),
			"The layers below have no such id. Those that there are: 'whystone "+lister[kind]+"'.")
	}
	return d
}

// lister is the command that lists the sheets of a kind.
var lister = map[kb.SheetKind]string{kb.RuleSheet: "rule", kb.TableSheet: "rule", kb.MaterialSheet: "material",
	kb.TestSheet: "procedure"}

// otherKind says of an id that is none of one kind of which it is.
func (st *stacked) otherKind(kind kb.SheetKind, id string) string {
	for _, k := range kinds {
		if k.kind != kind && st.sheets[k.kind][id] != nil {
			return "There is a " + string(k.kind) + " of that id: write " + string(k.kind) + ": " + id + "."
		}
	}
	return ""
}

// lowerIDs lists the ids of sheets that are not of a layer itself.
func lowerIDs(sheets map[string]*sheet, layer string) []string {
	return slices.DeleteFunc(sortedKeys(sheets), func(id string) bool { return sheets[id].layer == layer })
}

// ordered lists the sheets of a kind by id.
func (st *stacked) ordered(kind kb.SheetKind) []*sheet { return inOrder(st.sheets[kind]) }
