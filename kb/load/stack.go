package load

import (
	"cmp"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

var topKeys = []string{"format", "rules", "tables", "retires", "materials", "tests", "policy"}

// kinds are the sheets that a file may list, with the key that holds a sheet's id. A group is a material sheet.
var kinds = []struct {
	top  string
	kind kb.SheetKind
}{{"rules", kb.RuleSheet}, {"materials", kb.MaterialSheet}, {"tests", kb.TestSheet}, {"tables", kb.TableSheet}}

// stacked is what is left of all layers after replacing and retiring.
type stacked struct {
	files   []kb.File
	layers  []string
	sheets  map[kb.SheetKind]map[string]*sheet // kind, id
	policy  *policyNode
	retired []kb.Retirement
	ever    map[kb.SheetKind]map[string]kb.Place // every id of each kind that was ever given out in the stack
	unread  bool                                 // a file can't be read as a whole
	claimed map[*diag.Source]bool                // the CSV files that tables name
	removed []removed
	written []kb.Sheet        // by all layers
	change  func(rule *sheet) // what is done to a rule's sheet before it is laid over those below
	out     *diag.List
}

func stack(files []kb.File, change func(rule *sheet), out *diag.List) *stacked {
	st := &stacked{files: files, sheets: map[kb.SheetKind]map[string]*sheet{}, policy: &policyNode{}, ever: map[kb.SheetKind]map[string]kb.Place{},
		claimed: map[*diag.Source]bool{}, change: change, out: out}
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
	wrong := out.Errors()
	for _, f := range st.files {
		if f.Layer != layer || IsTableFile(f.Path) {
			continue
		}
		for _, root := range syntax.ParseYAML(f.Source, out) {
			if root.IsNull() {
				continue
			}
			if root.Keys(out, topKeys...) && root.NeedFormat(1, out) {
				roots = append(roots, root)
			}
		}
	}
	st.unread = st.unread || out.Errors() > wrong
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
	slices.SortFunc(st.retired, func(a, b kb.Retirement) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID)) })
	st.policy.merge(policy)
}

// readKind reads all sheets of one kind of a layer.
func (st *stacked) readKind(layer, top string, kind kb.SheetKind, roots []*syntax.Node, out *diag.List) map[string]*sheet {
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
			s.place = kb.Place{Layer: layer, Span: idNode.Span, Replaces: s.text(n, "replaces"), Because: s.text(n, "because")}
			if !idShape.MatchString(id) {
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
		switch old := s.place.Replaces; {
		case old == "" && below[id] != nil:
			d := s.errorf(diag.DuplicateID, s.Node, "the %s %q exists in the layer %s", kind, id, below[id].layer)
			d.Detail = "To stand in for it, write replaces: " + id + " and because: why."
			d.Related = append(d.Related, diag.Related{Span: below[id].place.Span, Says: "the lower layer's"})
			continue
		case old == "" && st.ever[kind][id].Layer != "":
			s.errorf(diag.DuplicateID, s.Node, "the id %q was used by the layer %s and is never given out again", id, st.ever[kind][id].Layer)
			continue
		case old != "" && (below[old] == nil || below[old].layer == s.layer):
			d := s.errorf(diag.ReplacesNothing, s.Get("replaces"), "no lower layer has a %s %q", kind, old)
			d.Nearest = diag.Nearest(old, lowerIDs(below, s.layer))
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
		if !n.Keys(out, "rule", "material", "test", "table", "because") {
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
			s.errorf(diag.MissingKey, n, "what is retired: rule, material, test or table?")
			continue
		}
		id := s.text(n, string(kind))
		because := s.needText(n, "because")
		below := st.sheets[kind]
		if below[id] == nil || own[kind][id] != nil {
			d := s.errorf(diag.ReplacesNothing, n.Get(string(kind)), "no lower layer has a %s %q", kind, id)
			if d.Nearest = diag.Nearest(id, lowerIDs(below, layer)); d.Nearest == id {
				d.Nearest, d.Detail = "", "A lower layer has it, but this layer writes it too: an id that is retired is never given out again."
			}
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

// lowerIDs lists the ids of sheets that are not of a layer itself.
func lowerIDs(sheets map[string]*sheet, layer string) []string {
	return slices.DeleteFunc(sortedKeys(sheets), func(id string) bool { return sheets[id].layer == layer })
}

// ordered lists the sheets of a kind by id.
func (st *stacked) ordered(kind kb.SheetKind) []*sheet {
	var out []*sheet
	for _, id := range sortedKeys(st.sheets[kind]) {
		out = append(out, st.sheets[kind][id])
	}
	return out
}
