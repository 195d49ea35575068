package archive

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

func ruleset(t testing.TB) *kb.Ruleset {
	t.Helper()
	rs, l := load.Load(context.Background(), []load.Layer{{Name: "diamond-desk",
		FS: os.DirFS("../../rulesets/diamond-desk")}})
	if rs == nil {
		t.Fatal(l)
	}
	return rs
}

const lines = `{"format":1,"case":"A-1","claim":"diamond","taken":"2031-04-12T10:20:00+02:00","desk":"quay","stone":{"mounted":false,"carat":1.02},"stake":4200,"readings":{"colour":"colourless","specific_gravity":{"value":3.52,"uncertainty":0.02},"ri":{"above":1.81},"inclusions":["feather"],"breath_fog":{"inconclusive":"room too warm"}},"truth":"diamond","recorded":{"verdict":"narrowed","claim":"open"}}

{"format":1,"case":"007","claim":"true","readings":{"specific_gravity":3.5},"note":" spaced, \"quoted\" and é "}
{"case":"A-3","readings":{"ri":[1.544,1.553]}}
`

func records(t *testing.T, path string, m *Mapping) []*Raw {
	t.Helper()
	var out []*Raw
	if err := Each(context.Background(), Input{Paths: []string{path}, Mapping: m},
		func(r *Raw) bool { out = append(out, r); return true }); err != nil {
		t.Fatal(err)
	}
	return out
}

func write(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func parsed(t *testing.T, r *Raw) any {
	t.Helper()
	var l diag.List
	n := r.Tree(&l)
	if err := l.Err(); err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal([]byte(JSON(n)), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// TestConvertingLosesNothing writes JSON lines as every form, and that back as JSON lines.
func TestConvertingLosesNothing(t *testing.T) {
	rs := ruleset(t)
	from := records(t, write(t, "in.jsonl", lines), nil)
	for _, name := range []string{"a.csv", "a.csv.gz", "a.csv.zst", "a.jsonl.zst", "a.jsonl.gz", "a.parquet"} {
		t.Run(name, func(t *testing.T) {
			there := convert(t, rs, name, from)
			back := records(t, there, nil)
			if len(back) != len(from) {
				t.Fatalf("%d records of %d", len(back), len(from))
			}
			for i := range from {
				if got, want := parsed(t, back[i]), parsed(t, from[i]); !reflect.DeepEqual(got, want) {
					t.Errorf("record %d: %v, want %v", i, got, want)
				}
			}
		})
	}
}

func convert(t *testing.T, rs *kb.Ruleset, name string, records []*Raw) string {
	t.Helper()
	var buf bytes.Buffer
	w, err := NewWriter(name, &buf, rs.Vocabulary.Names())
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range records {
		if err := w.Write(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return write(t, name, buf.String())
}

// TestCellsKnowTheirColumn: what a cell says can be told by its column, whatever the file is called; what a line of
// JSON says has none.
func TestCellsKnowTheirColumn(t *testing.T) {
	for _, x := range []struct{ name, text, key string }{
		{"a, b.csv", "case,readings.ri\n1,1.5\n", "readings.ri"},
		{"a, b.csv", "case,readings.ri\n1,\"[1.5, 1.6]\"\n", "readings.ri"},
		{"a, b.jsonl", `{"case": "1", "readings": {"ri": 1.5}}` + "\n", ""},
	} {
		var l diag.List
		n := records(t, write(t, x.name, x.text), nil)[0].Tree(&l)
		if got := n.Get("readings").Get("ri").Span.Source.Key; got != x.key || len(l) > 0 {
			t.Errorf("%s: %q, %v", x.text, got, l)
		}
	}
}

// TestCellsRoundTrip: whatever text a case says, its cell reads as the same text.
func TestCellsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.OneOf(rapid.SampledFrom([]string{"true", "1.5", "{", "[x", "\"", " a", "1e5", "nan", "null",
			"\"a\"", "\r\n"}), rapid.StringN(1, -1, -1)).Draw(t, "text")
		path := rapid.SampledFrom([]string{"case", "note", "stone.cut", "readings.ri"}).Draw(t, "path")
		n := &syntax.Node{Kind: syntax.Scalar, Style: syntax.JSONString, Text: strings.ToValidUTF8(word, "?")}
		if strings.ContainsRune(n.Text, 0) {
			return // never in a case: refused where it is read
		}
		cell, err := cellText(path, n)
		if err != nil {
			t.Fatal(err)
		}
		h := &Header{columns: []column{newColumn(path, path, nil)}}
		var l diag.List
		back := h.node(rowOf(h, cell), &l)
		for range h.columns[0].path {
			if len(back.Entries) != 1 {
				t.Fatalf("%q became the cell %q and came back as %+v: %v", n.Text, cell, back, l)
			}
			back = back.Entries[0].Value
		}
		if back.Text != n.Text || back.Style != syntax.JSONString {
			t.Fatalf("%q became the cell %q and came back as %+v: %v", n.Text, cell, back, l)
		}
	})
}

func TestForeignSpreadsheet(t *testing.T) {
	rs := ruleset(t)
	var l diag.List
	m := ReadMapping(diag.NewSource("map.yaml", []byte(`format: 1
mapping:
  delimiter: ";"
  decimal_comma: true
  columns:
    No.: case
    said to be: claim
    grams: {to: stone.carat, factor: 5}
    density: readings.specific_gravity
    probe: {to: readings.thermal_probe, words: {D: diamond range, N: below diamond range}}
`)), rs.Vocabulary, &l)
	if m == nil {
		t.Fatal(l)
	}
	rows := records(t, write(t, "old.csv",
		"No.;said to be;grams;density;probe;drawer\n17;diamond;0,2;3,52;D;left\n18;;x;3,5;N;\n"), m)
	d := &Decoder{Reader: eval.CaseReader(rs)}
	c, found := d.Decode(rows[0])
	if c == nil {
		t.Fatal(found)
	}
	if c.ID != "17" || c.Claim != "diamond" || *c.Stone.Carat != 1 || len(c.Readings) < 2 {
		t.Errorf("got %+v", c)
	}
	if c, found := d.Decode(rows[1]); c != nil || !strings.Contains(found.Error(), "old.csv:3") {
		t.Errorf("a weight of x: %+v, %v", c, found)
	}
}

func TestMappingsThatCantBeUsed(t *testing.T) {
	v := ruleset(t).Vocabulary
	for _, text := range []string{"", "format: 2\nmapping: {columns: {}}", "format: 1\nmapping: {}",
		"format: 1\nmapping: {columns: {a: {factor: 2}}}", "format: 1\nmapping: {delimiter: ab, columns: {a: case}}",
		"format: 1\nmapping: {colums: {a: case}}"} {
		var l diag.List
		if m := ReadMapping(diag.NewSource("m", []byte(text)), v, &l); m != nil || !l.HasErrors() {
			t.Errorf("%q was accepted", text)
		}
	}
}

func TestRecordsThatCantBeReadStopNothing(t *testing.T) {
	rs := ruleset(t)
	d := &Decoder{Reader: eval.CaseReader(rs)}
	long := `{"case":"` + strings.Repeat("x", MaxLine) + `"}`
	text := "{\"case\":\"1\"}\nnonsense\n" + long + "\n{\"case\":\"2\",\"reedings\":{}}\n{\"case\":\"3\"}"
	var good, bad []int
	for _, r := range records(t, write(t, "a.jsonl", text), nil) {
		if c, l := d.Decode(r); c == nil {
			if !l.HasErrors() {
				t.Errorf("line %d: no reason", r.Line)
			}
			bad = append(bad, r.Line)
		} else {
			good = append(good, r.Line)
		}
	}
	if !reflect.DeepEqual(good, []int{1, 5}) || !reflect.DeepEqual(bad, []int{2, 3, 4}) {
		t.Errorf("good %v, bad %v", good, bad)
	}
	rows := records(t, write(t, "a.csv", "case,readings.ri\n1,1.5\n2\n3,\"a\"b\n4,1.5,9\n5,above\n6,1.6\n"), nil)
	good = nil
	for _, r := range rows {
		if c, _ := d.Decode(r); c != nil {
			good = append(good, r.Line)
		}
	}
	if !reflect.DeepEqual(good, []int{2, 7}) {
		t.Errorf("good rows %v", good)
	}
}

func TestArchivesThatCantBeRead(t *testing.T) {
	for _, path := range []string{write(t, "a.csv", "claim\ndiamond\n"), write(t, "a.csv", "case,x,x\n"),
		write(t, "a.parquet", "no"), write(t, "a.jsonl.gz", "no"), filepath.Join(t.TempDir(), "none.jsonl")} {
		if err := Each(context.Background(), Input{Paths: []string{path}},
			func(*Raw) bool { return true }); err == nil {
			t.Errorf("%s was read", filepath.Base(path))
		}
	}
	if _, err := Paths([]string{filepath.Join(t.TempDir(), "*.jsonl")}, nil); err == nil {
		t.Error("a pattern without matches was accepted")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := Each(ctx, Input{Paths: []string{write(t, "a.jsonl", lines)}},
		func(*Raw) bool { return true }); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
