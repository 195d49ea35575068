package load

import (
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load/table"
	"whystone/kb/syntax"
)

// tables lays a layer's tables over those below, and adds their rows to the layer's own rules. It returns the tables
// below that are gone.
func (st *stacked) tables(layer string, own map[kb.SheetKind]map[string]*sheet, out *diag.List) (gone []*tableSheet) {
	below := st.sheets["table"]
	before := maps.Clone(below)
	st.merge("table", own["table"])
	for _, id := range sortedKeys(own["table"]) {
		s := own["table"][id]
		s.table = &tableSheet{sheet: s}
		if s.place.Replaces != "" && s.place.Because == "" {
			continue // told by the merge
		}
		over := before[s.place.Replaces]
		if below[id] != s || s.place.Replaces != "" && over == nil {
			st.claimFile(layer, s.Get("rows_from"))
			continue
		}
		if over != nil {
			gone = append(gone, over.table)
		}
		st.readTable(layer, s.table, out)
		if over != nil {
			s.table.refusePassing(over.id)
		}
		for _, row := range s.table.rows {
			if over != nil {
				standIn(row, s, over.table)
			}
			addRow(own["rule"], row)
		}
	}
	return gone
}

// standIn says of a row that has the id of one in the table that its own replaces, that it replaces that one.
func standIn(row, of *sheet, over *tableSheet) {
	same := slices.ContainsFunc(over.rows, func(old *sheet) bool { return old.id == row.id })
	if !same || row.place.Replaces != "" {
		return
	}
	row.Entries = append(row.Entries,
		table.Entry("replaces", syntax.Pieced(syntax.Double, of.Get("replaces").Span, syntax.Piece{Text: row.id})),
		table.Entry("because", of.Get("because")))
	row.place.Replaces, row.place.Because = row.id, of.place.Because
}

// addRow adds a row's rule to the layer's own, unless another has its id.
func addRow(rules map[string]*sheet, row *sheet) {
	old := rules[row.id]
	if old == nil {
		rules[row.id] = row
		return
	}
	row.out.Errorf(diag.DuplicateID, row.place.Span, "the rule %q, a row of the table %q, is there twice", row.id,
		row.row.table.id).
		Related = []diag.Related{{Span: old.place.Span, Says: "here first"}}
}

// dropRows takes the rules away that are rows of a table.
func (st *stacked) dropRows(t *tableSheet) {
	rules := st.sheets["rule"]
	for _, id := range sortedKeys(rules) {
		if r := rules[id]; r.row != nil && r.row.table == t {
			st.drop(r)
		}
	}
}

// tableIDs refuses a table that has a rule's id: both are looked up by the same word.
func (st *stacked) tableIDs() {
	for _, id := range sortedKeys(st.sheets["table"]) {
		if r := st.sheets["rule"][id]; r != nil {
			s := st.sheets["table"][id]
			s.out.Errorf(diag.DuplicateID, s.place.Span, "the table %q has the id of a rule", id).
				Related = []diag.Related{{Span: r.place.Span, Says: "the rule"}}
		}
	}
}

// claimFile finds the CSV file of the layer that rows_from names, from the folder of the table's file. One that is not
// there is reported, and nil.
func (st *stacked) claimFile(layer string, from *syntax.Node) *kb.File {
	if from.IsNull() {
		return nil
	}
	name, ok := from.Str(st.out)
	if !ok {
		return nil
	}
	folder := "."
	var known []string
	for _, f := range st.files {
		if f.Layer == layer && f.Source == from.Span.Source {
			folder = path.Dir(f.Path)
		}
	}
	want := path.Join(folder, name)
	for i := range st.files {
		f := &st.files[i]
		if f.Layer != layer || !IsTableFile(f.Path) {
			continue
		}
		if f.Path == want && !strings.HasPrefix(name, "/") {
			st.claimed[f.Source] = true
			return f
		}
		if there, err := filepath.Rel(folder, f.Path); err == nil {
			known = append(known, filepath.ToSlash(there))
		}
	}
	d := st.out.Errorf(diag.UnknownFile, from.Span, "the layer has no CSV file %q", name)
	d.Nearest = diag.Nearest(name, known)
	for _, f := range st.files {
		if d.Nearest != "" && f.Layer == layer && f.Path == path.Join(folder, d.Nearest) {
			st.claimed[f.Source] = true // it was perhaps meant: one word about it is enough
		}
	}
	if d.Detail = "The path begins at the folder of the file that names it, and stays within the layer."; len(known) == 0 {
		d.Detail += " This layer has no CSV file at all."
	}
	return nil
}

// unusedFiles warns of CSV files that no table of their layer names.
func (st *stacked) unusedFiles(layer string) {
	for _, f := range st.files {
		if f.Layer == layer && IsTableFile(f.Path) && !st.claimed[f.Source] {
			st.out.Warnf(diag.UnusedFile, diag.Span{Source: f.Source},
				"no table names this file under rows_from, so nothing of it is read")
		}
	}
}
