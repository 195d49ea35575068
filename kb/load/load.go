// Package load makes a ruleset of the files of a house: YAML and CSV, stacked in layers.
//
// Loading has three stages. Files are read into sheets: a document tree with positions, its kind told by the top-level
// key, its keys checked. Layers are stacked: a sheet of a higher layer may replace or retire one of a lower. Then the
// sheets are built, in the order in which they need each other: tests (which declare the vocabulary), policy,
// materials (which answer in it), rules (whose conditions are checked against it). Everything that is wrong is
// collected on the way, and a ruleset with an error is not built at all.
package load

import (
	"context"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
)

// Load reads and builds a stack of layers. The list holds everything that was found, sorted; with an error in it the
// ruleset is nil.
func Load(ctx context.Context, layers []Layer) (*kb.Ruleset, diag.List) {
	var out diag.List
	files := ReadFiles(ctx, layers, &out)
	if out.HasErrors() {
		return nil, out
	}
	rs, found := Build(files)
	found = append(out, found...)
	found.Sort()
	return rs, found
}

// Build makes a ruleset of files that were read, in the order of their layers.
func Build(files []kb.File) (*kb.Ruleset, diag.List) { return build(files, func(*sheet) {}) }

// build makes a ruleset of files, as if they said something else in the sheets of rules.
func build(files []kb.File, change func(rule *sheet)) (*kb.Ruleset, diag.List) {
	var out diag.List
	st := stack(files, change, &out)
	rs := st.build(&out)
	out = st.unread.without(st.tellRemoved(out))
	out.Sort()
	out = slices.CompactFunc(out, sameFinding)
	if out.HasErrors() {
		return nil, out
	}
	return rs, out
}

// sameFinding tells whether two findings say the same of one place: what a table says for all its rows is read for
// each.
func sameFinding(a, b diag.Diagnostic) bool {
	return a.Span == b.Span && a.Code == b.Code && a.Severity == b.Severity && a.Summary == b.Summary
}
