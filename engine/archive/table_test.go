package archive

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/deprecated"

	"whystone/kb/diag"
	"whystone/kb/eval"
)

// asJSONLines is each record of an archive as JSON, or why it can't be read.
func asJSONLines(t *testing.T, path string, m *Mapping) []string {
	t.Helper()
	var out []string
	for _, r := range records(t, path, m) {
		var l diag.List
		n := r.Tree(&l)
		if l.HasErrors() {
			sp := l[0].Span
			where := ""
			if sp.Source != nil {
				where = strings.TrimPrefix(sp.Source.Name, path+":") +
					fmt.Sprintf(" at %d:%d: ", sp.Position().Line, sp.Position().Column)
			}
			out = append(out, where+l[0].Summary)
			continue
		}
		out = append(out, JSON(n))
	}
	return out
}

func refusal(t *testing.T, path string, m *Mapping) string {
	t.Helper()
	err := Each(context.Background(), Input{Paths: []string{path}, Mapping: m}, func(*Raw) bool { return true })
	if err == nil {
		t.Errorf("%s was read", filepath.Base(path))
		return ""
	}
	return strings.ReplaceAll(err.Error(), path, filepath.Base(path))
}

// TestColumnsThatOverlap: what one column gives another may not give again, in part or in whole, by whatever name.
func TestColumnsThatOverlap(t *testing.T) {
	both := mapping(t, "format: 1\nmapping: {columns: {'No': case, a: readings.ri, b: readings}}")
	for head, want := range map[string]string{
		"case,readings.ri,readings":    `the columns "readings" and "readings.ri" both give readings`,
		"case,readings,readings.ri":    `the columns "readings" and "readings.ri" both give readings`,
		"stone.carat,case,stone":       `the columns "stone" and "stone.carat" both give stone`,
		"case,readings.ri,readings.ri": `the columns "readings.ri" and "readings.ri" both give readings.ri`,
		"case,recorded,recorded.claim": `the columns "recorded" and "recorded.claim" both give recorded`,
	} {
		if got := refusal(t, write(t, "a.csv", head+"\n"), nil); !strings.Contains(got, want) {
			t.Errorf("%s: %s", head, got)
		}
	}
	if got := refusal(t, write(t, "a.csv", "No,a,b\n"), both); !strings.Contains(got,
		`the columns "b" and "a" both give readings`) {
		t.Error(got)
	}
	type row struct {
		Case string  `parquet:"case"`
		RI   float64 `parquet:"readings.ri"`
		All  string  `parquet:"readings"`
	}
	path := write(t, "a.parquet", "")
	if err := parquet.WriteFile(path, []row{{"1", 1.5, "{}"}}); err != nil {
		t.Fatal(err)
	}
	if got := refusal(t, path, nil); !strings.Contains(got,
		`the columns "readings" and "readings.ri" both give readings`) {
		t.Error(got)
	}
}

// TestTextsOfATable: a byte that JSON lines refuse is refused, where it stands; nothing is put in its place. A column
// that nobody asked for may hold what it likes.
func TestTextsOfATable(t *testing.T) {
	text := "case,desk,readings.ri,note\n1,Z\xfcrich,1.544,\n2,quay,1.544,a\x00b\n3,quay,1.5\xff,\n4,quay,1.544,\"é\n\"\n5,\uFFFD,1.544,\n"
	want := []string{
		`2, column "desk" at 1:2: the text is not valid UTF-8 here: save the file as UTF-8`,
		`3, column "note" at 1:2: the text has a NUL character here`,
		`4, column "readings.ri" at 1:4: the text is not valid UTF-8 here: save the file as UTF-8`,
		`{"case":"4","desk":"quay","readings":{"ri":1.544},"note":"é\n"}`,
		"{\"case\":\"5\",\"desk\":\"\uFFFD\",\"readings\":{\"ri\":1.544}}",
	}
	same(t, asJSONLines(t, write(t, "a.csv", text), nil), want)
	m := mapping(t, "format: 1\nmapping: {columns: {case: case, readings.ri: readings.ri}}")
	same(t, asJSONLines(t, write(t, "a.csv", text), m)[:2], []string{`{"case":"1","readings":{"ri":1.544}}`,
		`{"case":"2","readings":{"ri":1.544}}`})
	if got := refusal(t, write(t, "a.csv", "case,gr\xf6\xdfe\n"),
		nil); got != "a.csv can't be read: the name of its column 2 is not valid UTF-8: save the file as UTF-8" {
		t.Error(got)
	}
	type row struct {
		Case string `parquet:"case"`
		Desk string `parquet:"desk"`
	}
	path := write(t, "a.parquet", "")
	if err := parquet.WriteFile(path, []row{{"1", "Z\xfcrich"}, {"2", "a\x00"}}); err != nil {
		t.Fatal(err)
	}
	same(t, asJSONLines(t, path, nil), []string{`1, column "desk" at 1:2: the text is not valid UTF-8 here: save the file as UTF-8`, `2, column "desk" at 1:2: the text has a NUL character here`})
}

func same(t *testing.T, got, want []string) {
	t.Helper()
	for i := range max(len(got), len(want)) {
		a, b := "nothing", "nothing"
		if i < len(got) {
			a = got[i]
		}
		if i < len(want) {
			b = want[i]
		}
		if a != b {
			t.Errorf("record %d:\n got %.300s\nwant %s", i+1, a, b)
		}
	}
}

// TestTextIsTextWhateverItLooksLike: a note is no JSON, and keeps its spaces; a reading is read.
func TestTextIsTextWhateverItLooksLike(t *testing.T) {
	text := "case,claim,note,readings.ri,stone.cut\n" +
		"007,[sic] as written,{curly,\"{\"\"value\"\":1.5}\",\"\"\"round\"\"\"\n" +
		" 8 ,\"\"\"quoted\"\" text\", spaced ,null,null\n" +
		"true,null,1.50,,\n"
	same(t, asJSONLines(t, write(t, "a.csv", text), nil), []string{
		`{"case":"007","claim":"[sic] as written","note":"{curly","readings":{"ri":{"value":1.5}},"stone":{"cut":"round"}}`,
		`{"case":" 8 ","claim":"\"quoted\" text","note":" spaced "}`,
		`{"case":"true","claim":"null","note":"1.50"}`,
	})
	// In a foreign table the spaces are padding.
	m := mapping(t, "format: 1\nmapping: {columns: {case: {to: case, words: {x: y}}, note: note}}")
	same(t, asJSONLines(t, write(t, "a.csv", "case,note\n x , {padded \n"), m),
		[]string{`{"case":"y","note":"{padded"}`})
}

// TestBeginningsOfFiles: a byte order mark is no part of a name, quoted or not; other encodings are named; a table has
// a header, all of it on lines that end as lines do.
func TestBeginningsOfFiles(t *testing.T) {
	same(t, asJSONLines(t, write(t, "a.csv", "\uFEFF\"case\",note\n1,x\n"), nil), []string{`{"case":"1","note":"x"}`})
	same(t, asJSONLines(t, write(t, "a.csv", "\uFEFFcase,note\r\n1,x\r\n"), nil), []string{`{"case":"1","note":"x"}`})
	same(t, asJSONLines(t, write(t, "a.jsonl", "\uFEFF{\"case\":\"1\"}\n"), nil), []string{`{"case":"1"}`})
	for _, x := range [][3]string{
		{"a.csv", "\xff\xfec\x00", "a.csv can't be read: it is written in UTF-16: save it as UTF-8"},
		{"a.jsonl", "\xfe\xff\x00{", "a.jsonl can't be read: it is written in UTF-16: save it as UTF-8"},
		{"a.csv", "case,note\r1,x\r2,y\r", "a.csv can't be read: its header can't be read: line 1, column 10: " +
			loneCR},
		{"a.csv", "\n\"case\"x,note\n", "a.csv can't be read: its header can't be read: line 2, column 7: " + stray},
		{"a.csv", "", "a.csv can't be read: it is empty; a table has a header line, which names its columns"},
		{"a.csv", "case;ri\n1;1,5\n", `a.csv can't be read: no column gives "case", the case's number or name; its ` +
			`header is parted by ";" and not by commas: a mapping (--mapping FILE) says so, with delimiter: ";", and ` +
			`what each column gives`},
		{"a.csv", "claim\ndiamond\n", `a.csv can't be read: no column gives "case", the case's number or name`},
	} {
		if got := refusal(t, write(t, x[0], x[1]), nil); got != x[2] {
			t.Errorf("%q: %s", x[1], got)
		}
	}
}

// TestRowsStopNothing: a row that is broken, and one that others are swallowed by, are told with their place; what
// stands behind them is read.
func TestRowsStopNothing(t *testing.T) {
	long := strings.Repeat("x", MaxRow)
	text := "case,note\n1,a\n2,\"b\n3,c\n4," + long + "\n5,d\n6,\"e\nf\",g\n7,h\n8\r,i\n9,j\n"
	same(t, asJSONLines(t, write(t, "a.csv", text), nil), []string{
		`{"case":"1","note":"a"}`, "column 3: " + notClosed, `{"case":"3","note":"c"}`, errTooLongRow.Error(),
		`{"case":"5","note":"d"}`, "the row, lines 7 to 8, has 3 cells; the header names 2 columns",
		`{"case":"7","note":"h"}`, "column 2: " + loneCR, `{"case":"9","note":"j"}`,
	})
}

// TestValuesAreBounded: a record with more values than any case has is refused before a tree is made of it.
func TestValuesAreBounded(t *testing.T) {
	many := "[" + strings.Repeat("1,", MaxValues) + "1]"
	commas := strings.Repeat("so, ", MaxValues)
	same(t, asJSONLines(t, write(t, "a.jsonl", `{"case":"1","readings":{"ri":`+many+"}}\n"+`{"case":"2","note":"`+
		commas+"\"}\n"), nil), []string{
		"1 at 1:1: the record holds more than the 10000 values that are read", `{"case":"2","note":"` + commas + `"}`})
	same(t, asJSONLines(t, write(t, "a.csv", "case,note,readings.ri\n1,,\""+many+"\"\n2,\""+commas+"\",\n"), nil),
		[]string{
			`2, column "readings.ri" at 1:1: the record holds more than the 10000 values that are read`,
			`{"case":"2","note":"` + commas + `"}`})
	// Readings that nobody knows are told one by one, up to a point.
	d := &Decoder{Reader: eval.CaseReader(ruleset(t))}
	for n, want := range map[int]int{100: 100, 9000: 1} {
		unknown := make([]string, n)
		for i := range unknown {
			unknown[i] = fmt.Sprintf(`"r%d":1`, i)
		}
		c, found := d.Decode(&Raw{Text: `{"case":"1","readings":{` + strings.Join(unknown, ",") + `}}`})
		if c != nil || len(found) != want {
			t.Errorf("%d unknown readings: %d told, %v", n, len(found), found[0])
		}
	}
	r := &Raw{Text: `{"case":"A-1","readings":{"no":"`}
	if id := r.ID(); id != "" {
		t.Errorf("the case %q in a text that is no JSON", id)
	}
	if r.Text = `{"case":"A-1"}`; r.ID() != "A-1" {
		t.Errorf("the case %q", r.ID())
	}
}

// TestNumbersThatCanBeReadTwoWays: where commas are decimal, a single point may part thousands or be a slip.
func TestNumbersThatCanBeReadTwoWays(t *testing.T) {
	c := &Column{To: "stone.carat", Factor: 5, DecimalComma: true}
	for cell, want := range map[string]string{"1.250": "", "0.125": "", "-12.500": "", "1.250e3": "", "1.250,0": "6250",
		"1.250.000": "6250000", "1250": "6250", "1,25": "6.25", "1.25": "", "1.2500": ""} {
		got, err := c.apply(cell, false)
		if (err == nil) != (want != "") || got != want {
			t.Errorf("%s: %q, %v; want %q", cell, got, err, want)
		}
	}
}

// TestParquetOfOtherPrograms: times are read as a case writes them, whatever unit and age they are of; unsigned numbers
// aren't negative. A column that the mapping doesn't name may be of any kind; one that counts is refused by name.
func TestParquetOfOtherPrograms(t *testing.T) {
	at := time.Date(2031, 4, 12, 8, 20, 0, 500_000_000, time.UTC)
	type row struct {
		No      string    `parquet:"No"`
		Stake   uint64    `parquet:"stake"`
		Nanos   time.Time `parquet:"nanos,timestamp(nanosecond)"`
		Millis  time.Time `parquet:"millis,timestamp(millisecond:local)"`
		Day     int32     `parquet:"day,date"`
		Old     deprecated.Int96
		Drawers []string `parquet:"drawers,list"`
		Weight  int64    `parquet:"weight,decimal(2:18)"`
	}
	path := write(t, "a.parquet", "")
	// 2031-04-12 is day 22,381 since 1970-01-01, and Julian day 2,462,969.
	old := deprecated.Int96{uint32(int64(8*3600+20*60) * 1e9 % (1 << 32)), uint32(int64(8*3600+20*60) * 1e9 >> 32),
		2_462_969}
	if err := parquet.WriteFile(path, []row{{"1", 1 << 63, at, at, 22_381, old, []string{"a", "b"}, 102},
		{"2", 0, time.Unix(-1, 5).UTC(), at, -1, old, nil, 0}}); err != nil {
		t.Fatal(err)
	}
	for to, want := range map[string][2]string{
		"nanos":  {"2031-04-12T08:20:00.5Z", "1969-12-31T23:59:59.000000005Z"},
		"millis": {"2031-04-12T08:20:00.5", "2031-04-12T08:20:00.5"},
		"day":    {"2031-04-12", "1969-12-31"},
		"Old":    {"2031-04-12T08:20:00Z", "2031-04-12T08:20:00Z"},
	} {
		m := mapping(t, "format: 1\nmapping: {columns: {'No': case, stake: stake, "+to+": taken}}")
		// the columns of the file are in its own order
		got := asJSONLines(t, path, m)
		for i, stake := range []string{"9223372036854775808", "0"} {
			for _, part := range []string{`"case":"` + []string{"1", "2"}[i] + `"`, `"stake":` + stake,
				`"taken":"` + want[i] + `"`} {
				if !strings.Contains(got[i], part) {
					t.Errorf("%s: %s; want %s", to, got[i], part)
				}
			}
		}
	}
	for _, name := range []string{"drawers", "weight"} {
		m := mapping(t, "format: 1\nmapping: {columns: {'No': case, "+name+": note}}")
		if got := refusal(t, path, m); got != `a.parquet can't be read: its column "`+name+
			`" holds neither text nor plain numbers, truths or times` {
			t.Error(got)
		}
	}
	if got := refusal(t, path, nil); !strings.Contains(got, `no column gives "case"`) {
		t.Error(got)
	}
}

// TestArchivesAreNamedOnce: an archive by two names would be counted twice.
func TestArchivesAreNamedOnce(t *testing.T) {
	a := write(t, "a.jsonl", lines)
	link := filepath.Join(t.TempDir(), "b.jsonl")
	if err := os.Symlink(a, link); err != nil {
		t.Fatal(err)
	}
	for _, twice := range [][]string{{a, a}, {a, filepath.Dir(a) + "/./a.jsonl"}, {a, link}, {Stdin, Stdin},
		{a, filepath.Dir(a) + "/*"}} {
		if _, err := Paths(twice, nil); err == nil || !strings.Contains(err.Error(), "would be counted twice") {
			t.Errorf("%v: %v", twice, err)
		}
	}
	if got, err := Paths([]string{a, Stdin}, nil); err != nil || len(got) != 2 {
		t.Errorf("%v, %v", got, err)
	}
}

// TestHowFarItCame: where an archive breaks off is told.
func TestHowFarItCame(t *testing.T) {
	text, _ := drawnArchive(t, "a.jsonl.gz", 300)
	got := refusal(t, write(t, "a.jsonl.gz", string(text[:len(text)-50])), nil)
	if !strings.HasPrefix(got, "a.jsonl.gz can't be read any further than a.jsonl.gz:") ||
		!strings.HasSuffix(got, "unexpected EOF") {
		t.Error(got)
	}
}
