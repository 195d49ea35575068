package syntax

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
)

func records(nodes []*Node) [][]string {
	var out [][]string
	for _, r := range nodes {
		var row []string
		for _, f := range r.Items {
			row = append(row, f.Text)
		}
		out = append(out, row)
	}
	return out
}

// The forms are those of RFC 4180, section 2, from memory; what encoding/csv makes of a text is the reference in the
// fuzz target below.
func TestCSVForms(t *testing.T) {
	for text, want := range map[string][][]string{
		"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n":        {{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}},
		"aaa,bbb\nzzz,yyy":                      {{"aaa", "bbb"}, {"zzz", "yyy"}},
		"\"aaa\",\"b \r\nbb\",ccc\r\nzzz,,\r\n": {{"aaa", "b \nbb", "ccc"}, {"zzz", "", ""}},
		"\"a\"\"a\",\"\"\"\",\"\"\n":            {{`a"a`, `"`, ""}},
		"\uFEFFé,ü\n\n\nx\n":                    {{"é", "ü"}, {"x"}},
		" a , b\n":                              {{" a ", " b"}},
		"":                                      nil,
	} {
		var out diag.List
		nodes := ParseCSV(diag.NewSource("f.csv", []byte(text)), &out)
		if nodes == nil || len(out) > 0 {
			t.Fatalf("%q: %v", text, out)
		}
		if d := cmp.Diff(want, records(nodes)); d != "" {
			t.Errorf("%q: %s", text, d)
		}
	}
}

// TestCSVPlaces: each byte of a field leads to where it stands.
func TestCSVPlaces(t *testing.T) {
	src := diag.NewSource("f.csv", []byte("\uFEFFrow,é\r\na,\"say \"\"x\"\"\r\nor ö\",z\r\n"))
	var out diag.List
	nodes := ParseCSV(src, &out)
	f := nodes[1].Items[1]
	if f.Text != "say \"x\"\nor ö" || f.Span.Text() != "\"say \"\"x\"\"\r\nor ö\"" || f.Span.String() != "f.csv:2:3" {
		t.Fatalf("%q at %s: %q", f.Text, f.Span, f.Span.Text())
	}
	if sp := nodes[0].Items[1].Span; sp.String() != "f.csv:1:5" || sp.Text() != "é" {
		t.Errorf("%s: %q", sp, sp.Text())
	}
	if sp := nodes[1].Items[2].Span; sp.String() != "f.csv:3:7" ||
		nodes[1].Span.Text() != "a,\"say \"\"x\"\"\r\nor ö\",z" {
		t.Errorf("%s in %q", sp, nodes[1].Span.Text())
	}
	for part, want := range map[string][2]string{"say": {"say", "f.csv:2:4"}, `"x"`: {`""x""`, "f.csv:2:8"},
		"\n": {"\r\n", "f.csv:2:13"}, "ö": {"ö", "f.csv:3:4"}, "or ö": {"or ö", "f.csv:3:1"}} {
		i := strings.Index(f.Text, part)
		if sp := f.At(i, i+len(part)); sp.Text() != want[0] || sp.String() != want[1] {
			t.Errorf("%q leads to %s: %q", part, sp, sp.Text())
		}
		if sp := f.Part(Field, i, i+len(part)).At(0, len(part)); sp.Text() != want[0] || sp.String() != want[1] {
			t.Errorf("the part %q leads to %s: %q", part, sp, sp.Text())
		}
	}
	if sp := f.At(3, 3); sp.Start != sp.End || sp.String() != "f.csv:2:7" {
		t.Errorf("an empty part leads to %s", sp)
	}
}

func TestCSVRefused(t *testing.T) {
	for text, want := range map[string]string{
		"a,b\nc,d\"e\n":      `f.csv:2:4: bad-syntax`,
		"a\n\"b\"c\n":        `f.csv:2:3: bad-syntax`,
		"a\nb,\"c\nd\n":      `f.csv:2:1: bad-syntax`,
		"a\nb,\"c\r\nd\r\n":  `f.csv:2:1: bad-syntax`,
		"a\nb,\"c\nd\"x\n":   `f.csv:3:2: bad-syntax`,
		"a,b\rc,d\r":         `f.csv:1:4: bad-encoding`,
		"a,\x00\n":           `f.csv:1:3: bad-encoding`,
		"a,\xff\n":           `f.csv:1:3: bad-encoding`,
		"a,b\n\uFEFFc\n":     `f.csv:2:1: bad-encoding`,
		"a" + "," + "\u2028": `f.csv:1:3: bad-encoding`,
	} {
		var out diag.List
		if nodes := ParseCSV(diag.NewSource("f.csv", []byte(text)), &out); nodes != nil || len(out) != 1 {
			t.Fatalf("%q: %v", text, out)
		}
		if got := out[0].Span.String() + ": " + string(out[0].Code); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
	}
	var out diag.List
	if ParseCSV(diag.NewSource("f.csv", bytes.Repeat([]byte(",\n"), MaxValues)), &out) != nil ||
		out[0].Code != "too-long" {
		t.Errorf("a text of too many fields: %v", out)
	}
}

// TestPieced: a place within a text that was put together leads to where its parts were written.
func TestPieced(t *testing.T) {
	src := diag.NewSource("f", []byte("above 2.6, 'it''s'"))
	at := func(start, end int) diag.Span { return diag.Span{Source: src, Start: start, End: end} }
	n := Pieced(Double, at(0, 18), Piece{"sg > ", at(0, 9)}, Piece{"2.6", at(6, 9)}, Piece{Text: " and "},
		Piece{"it's", at(11, 18)})
	if n.Text != "sg > 2.6 and it's" {
		t.Fatal(n.Text)
	}
	for _, tt := range []struct {
		start, end int
		want       string
	}{{5, 8, "2.6"}, {6, 8, ".6"}, {0, 2, "above 2.6"}, {0, 8, "above 2.6"}, {9, 12, "above 2.6, 'it''s'"},
		{13, 14, "'it''s'"}, {5, 17, "2.6, 'it''s'"},
		{6, 6, ""}, {17, 17, ""}, {-5, 99, "above 2.6, 'it''s'"}, {9, 9, ""}} {
		if sp := n.At(tt.start, tt.end); sp.Text() != tt.want && sp != n.Span {
			t.Errorf("%d to %d leads to %q, not %q", tt.start, tt.end, sp.Text(), tt.want)
		}
	}
	if sp := n.At(6, 6); sp.Start != 7 || sp.End != 7 {
		t.Errorf("an empty part leads to %+v", sp)
	}
	if _, ok := Unread(at(0, 5)).Str(&diag.List{}); ok || Unread(at(0, 5)).IsNull() {
		t.Error("what was reported already is read, or taken for nothing")
	}
}

// FuzzCSV: what is read is what encoding/csv reads, each field lies in its record and each byte of it in the field; and
// the bytes that lead to themselves are the text.
func FuzzCSV(f *testing.F) {
	for _, s := range []string{"a,b\r\n\"c\"\"\",\"\r\n\"\n", "\uFEFF\"\"\n", "a\n\n\n,\n", "\"", "a\"b", "\"a\nb\"c",
		"\"é\",ö\r\n\r\n", "\"\r\n\r\n\"\"\r\n", "x\r"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var out diag.List
		src := diag.NewSource("f", text)
		nodes := ParseCSV(src, &out)
		checkReports(t, text, out)
		r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\uFEFF"))))
		r.FieldsPerRecord = -1
		want, err := r.ReadAll()
		if nodes == nil {
			if len(out) != 1 || err == nil && out[0].Code == "bad-syntax" {
				t.Fatalf("refused with %v, and the library says %v", out, err)
			}
			return
		}
		if d := cmp.Diff(want, records(nodes)); d != "" || err != nil {
			t.Fatal(d, err)
		}
		at := 0
		for _, record := range nodes {
			for _, field := range record.Items {
				if field.Span.Start < at || field.Span.End > record.Span.End || field.Span.Start < record.Span.Start {
					t.Fatalf("%q lies at %+v in %+v, after %d", field.Text, field.Span, record.Span, at)
				}
				at = field.Span.End
				told := ""
				for i := range len(field.Text) {
					sp := field.At(i, i+1)
					if sp.Start < field.Span.Start || sp.End > field.Span.End || sp.End <= sp.Start {
						t.Fatalf("byte %d of %q leads to %+v, out of %+v", i, field.Text, sp, field.Span)
					}
					told += map[string]string{`""`: `"`, "\r\n": "\n"}[sp.Text()]
					if len(sp.Text()) == 1 {
						told += sp.Text()
					}
				}
				if told != field.Text {
					t.Fatalf("the bytes of %q lead to %q", field.Text, told)
				}
			}
		}
	})
}
