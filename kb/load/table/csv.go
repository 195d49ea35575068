package table

import (
	"slices"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// What a column of a CSV file may be besides a column of the table: lists of words separated by ";", and texts.
var (
	csvWeights = []string{"supports", "weakens"}
	csvLists   = []string{"excludes", "sets_aside", "calls_for", "forbids", "tags"}
	csvTexts   = []string{"cautions", "sends_on", "says", "unless", "family", "backed_by", "source", "status", "since",
		"until", "author", "reviewed_by", "note"}
)

// csvReader reads the rows of one table.
type csvReader struct {
	columns []string
	out     *diag.List
}

func (t *csvReader) headerKeys() []string {
	return slices.Concat([]string{"row"}, t.columns, csvWeights, []string{"strength", "ratio"}, csvLists,
		[]string{"establishes"}, csvTexts)
}

// Rows turns the records of a CSV file into rows as a table with these columns has them in YAML. It is not ok when not
// all of them can be read, which was told.
func Rows(src *diag.Source, columns []string, out *diag.List) (rows []*syntax.Node, ok bool) {
	t := &csvReader{columns, out}
	if t.partedOtherwise(src) {
		return nil, false
	}
	records := syntax.ParseCSV(src, t.out)
	if records == nil {
		return nil, false
	}
	if len(records) == 0 {
		t.out.Errorf(diag.MissingKey, diag.Span{Source: src},
			"the file is empty").Detail = "Its first line names the columns: row, " + strings.Join(t.columns, ", ") +
			", and what follows."
		return nil, false
	}
	header := records[0]
	if !t.checkHeader(header) {
		return nil, false
	}
	ok = true
	for _, r := range records[1:] {
		switch {
		case !slices.ContainsFunc(r.Items, func(f *syntax.Node) bool { return strings.TrimSpace(f.Text) != "" }):
		case len(r.Items) != len(header.Items):
			d := t.out.Errorf(diag.WrongKind, r.Span, "this row has %d fields, and the first line of the file names %d",
				len(r.Items), len(header.Items))
			d.Detail = "A field that has a comma in it stands in double quotes; the items of a list are separated by " +
				"\";\"."
			d.Related = append(d.Related, diag.Related{Span: header.Span, Says: "the columns"})
			ok = false
		default:
			rows = append(rows, t.fieldRow(header, r))
		}
	}
	return rows, ok
}

// partedOtherwise reports a file whose first line has another sign than the comma between its columns, as spreadsheets
// of many countries write: the rest of it can only be misread.
func (t *csvReader) partedOtherwise(src *diag.Source) bool {
	first := src.Line(1)
	i := strings.IndexAny(first, ";\t|")
	if i < 0 || strings.Contains(first, ",") {
		return false
	}
	sign := map[byte]string{';': "semicolons", '\t': "tabs", '|': "bars"}[first[i]]
	start := strings.Index(string(src.Text), first)
	d := t.out.Errorf(diag.BadSyntax, diag.Span{Source: src, Start: start, End: start + len(first)},
		"the columns of this file are separated by %s", sign)
	d.Detail = "Fields are separated by commas, and the items of a list within a field by \";\". A spreadsheet asks " +
		"for the sign when it saves a CSV file."
	return true
}

// checkHeader sees that the first line names each column of the table once, and nothing that is not known.
func (t *csvReader) checkHeader(header *syntax.Node) bool {
	known, good := t.headerKeys(), true
	first := map[string]*syntax.Node{}
	for _, f := range header.Items {
		name := strings.TrimSpace(f.Text)
		switch {
		case first[name] != nil:
			t.out.Errorf(diag.DuplicateKey, f.Span, "the column %q is there twice", name).
				Related = []diag.Related{{Span: first[name].Span, Says: "here first"}}
			good = false
		case !slices.Contains(known, name):
			d := t.out.Errorf(diag.UnknownKey, f.Span, "the column %q is not known here", name)
			d.Nearest = diag.Nearest(name, known)
			d.Detail = "Known columns: " + strings.Join(known, ", ") + "."
			good = false
		}
		first[name] = f
	}
	for _, name := range append([]string{"row"}, t.columns...) {
		if good && first[name] == nil {
			t.out.Errorf(diag.MissingKey, header.Span, "the column %q is missing", name)
			good = false
		}
	}
	return good
}

// fieldRow turns one record into a row.
func (t *csvReader) fieldRow(header, record *syntax.Node) *syntax.Node {
	row := &syntax.Node{Kind: syntax.Map, Span: record.Span}
	at := map[string]*syntax.Node{}
	add := func(key *syntax.Node, value *syntax.Node) {
		row.Entries = append(row.Entries, syntax.Entry{Key: key, Value: value})
	}
	for i, h := range header.Items {
		name, field := strings.TrimSpace(h.Text), trimmed(record.Items[i], syntax.Field)
		if field == nil {
			continue
		}
		key := trimmed(h, syntax.Field)
		at[name] = field
		switch {
		case slices.Contains(csvWeights, name) || name == "strength" || name == "ratio":
		case slices.Contains(csvLists, name):
			add(key, t.fieldList(field))
		case name == "establishes":
			add(key, t.fieldFacts(field))
		case !slices.Contains(csvTexts, name) && name != "row" && strings.Contains(field.Text, ";"):
			add(key, t.fieldList(field))
		default:
			add(key, field)
		}
	}
	t.fieldWeights(row, at)
	return row
}

// fieldWeights joins the materials of supports and weakens with the strength that stands in a column of its own.
func (t *csvReader) fieldWeights(row *syntax.Node, at map[string]*syntax.Node) {
	weighs := false
	for _, key := range csvWeights {
		field := at[key]
		if field == nil {
			continue
		}
		weighs = true
		weight := &syntax.Node{Kind: syntax.Map, Span: field.Span, Entries: []syntax.Entry{Entry("materials",
			t.fieldList(field))}}
		if v := at["strength"]; v != nil {
			weight.Entries = append(weight.Entries, Entry("strength", v))
		}
		if v := at["ratio"]; v != nil {
			weight.Entries = append(weight.Entries, Entry("ratio", trimmed(v, syntax.Plain)))
		}
		row.Entries = append(row.Entries, Entry(key, weight))
	}
	for _, key := range []string{"strength", "ratio"} {
		if v := at[key]; v != nil && !weighs {
			t.out.Errorf(diag.MissingKey, v.Span, "there is a %q, but nothing under supports or weakens", key)
		}
	}
}

// fieldList is the items of a field, which ";" parts.
func (t *csvReader) fieldList(field *syntax.Node) *syntax.Node {
	list := &syntax.Node{Kind: syntax.List, Span: field.Span}
	from := 0
	for part := range strings.SplitSeq(field.Text, ";") {
		item := trimmed(field.Part(syntax.Field, from, from+len(part)), syntax.Field)
		from += len(part) + 1
		if item == nil {
			t.out.Errorf(diag.BadText, field.Span,
				"an item of this list is empty").Detail = "Items are separated by \";\", and none stands at the end."
			return syntax.Unread(field.Span)
		}
		list.Items = append(list.Items, item)
	}
	return list
}

// fieldFacts is what a field establishes: names of truths, or name = word.
func (t *csvReader) fieldFacts(field *syntax.Node) *syntax.Node {
	facts := &syntax.Node{Kind: syntax.Map, Span: field.Span}
	list := t.fieldList(field)
	if list.Kind != syntax.List {
		return list
	}
	for _, it := range list.Items {
		before, after, chosen := strings.Cut(it.Text, "=")
		name := trimmed(it.Part(syntax.Field, 0, len(before)), syntax.Field)
		value := syntax.Pieced(syntax.Plain, it.Span, syntax.Piece{Text: "true", Span: it.Span})
		if chosen {
			value = trimmed(it.Part(syntax.Field, len(it.Text)-len(after), len(it.Text)), syntax.Field)
		}
		switch {
		case name == nil || value == nil:
			t.out.Errorf(diag.BadText, it.Span, "a fact is written as its name, or as name = word")
			return syntax.Unread(field.Span)
		case facts.Get(name.Text) != nil:
			t.out.Errorf(diag.GivenTwice, name.Span, "the fact %q is there twice", name.Text)
			return syntax.Unread(field.Span)
		}
		facts.Entries = append(facts.Entries, syntax.Entry{Key: name, Value: value})
	}
	return facts
}

// trimmed is a scalar without the blanks about its text, or nil when nothing is left.
func trimmed(n *syntax.Node, style syntax.Style) *syntax.Node {
	start := len(n.Text) - len(strings.TrimLeft(n.Text, " \t\r\n"))
	end := len(strings.TrimRight(n.Text, " \t\r\n"))
	if start >= end {
		return nil
	}
	return n.Part(style, start, end)
}

// Entry is a key that nobody wrote, with a value that somebody did.
func Entry(key string, value *syntax.Node) syntax.Entry {
	return syntax.Entry{Key: syntax.Pieced(syntax.Double, value.Span, syntax.Piece{Text: key}), Value: value}
}
