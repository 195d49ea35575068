package archive

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// texts are all cells of a row.
func (r *row) texts() []string { return (&Raw{Cells: r.cells, Width: r.width}).Row() }

// rowOf is a row of a table.
func rowOf(h *Header, cells ...string) *Raw {
	r := &Raw{File: "a", Line: 1, Header: h, Width: len(cells)}
	for i, text := range cells {
		if text != "" {
			r.Cells = append(r.Cells, Cell{Column: int32(i), Text: text})
		}
	}
	return r
}

// cutAll cuts a table, each row as "first-last cells" or "first-last: error".
func cutAll(t *testing.T, text string, comma rune) []row {
	t.Helper()
	r := newRows(bufio.NewReaderSize(strings.NewReader(text), MaxRow), comma)
	var out []row
	for {
		next, err := r.next()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, next)
	}
}

func (r row) String() string {
	if r.err != nil {
		return fmt.Sprintf("%d-%d: %s", r.first, r.last, r.err)
	}
	return fmt.Sprintf("%d-%d %q", r.first, r.last, r.texts())
}

func TestRows(t *testing.T) {
	for text, want := range map[string][]string{
		"":                          nil,
		"a,b\n1,2\n":                {`1-1 ["a" "b"]`, `2-2 ["1" "2"]`},
		"a,b\r\n1,2":                {`1-1 ["a" "b"]`, `2-2 ["1" "2"]`},
		"\n\r\na\n\n\nb,\n":         {`3-3 ["a"]`, `6-6 ["b" ""]`},
		"\"\"\n,\n":                 {`1-1 [""]`, `2-2 ["" ""]`},
		"\"a,b\",\"c\"\"d\"\n":      {`1-1 ["a,b" "c\"d"]`},
		"\"a\r\nb\nc\rd\",e\r\nf\n": {`1-3 ["a\r\nb\nc\rd" "e"]`, `4-4 ["f"]`},
		"\"\"\"\"\"\"\n":            {`1-1 ["\"\""]`},
		// What is broken takes one line with it.
		"a\n\"b\"c,d\ne\n":       {`1-1 ["a"]`, `2-2: column 4: ` + stray, `3-3 ["e"]`},
		"5\" high\nb\nc\"\nd\n":  {`1-1: column 2: ` + stray, `2-2 ["b"]`, `3-3: column 2: ` + stray, `4-4 ["d"]`},
		"é,\"b\nc,d\ne,\"f\"\ng": {`1-1: column 3: ` + notClosed, `2-2 ["c" "d"]`, `3-3 ["e" "f"]`, `4-4 ["g"]`},
		"a,\"b\nc\n":             {`1-1: column 3: ` + notClosed, `2-2 ["c"]`},
		"a\rb\rc\r":              {`1-1: column 2: ` + loneCR},
		"a,b\n1\r,2\n3,4\n":      {`1-1 ["a" "b"]`, `2-2: column 2: ` + loneCR, `3-3 ["3" "4"]`},
		"\"a\"\r,b\n":            {`1-1: column 4: ` + loneCR},
	} {
		var got []string
		for _, r := range cutAll(t, text, 0) {
			got = append(got, r.String())
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q:\n got %s\nwant %s", text, strings.Join(got, "\n     "), strings.Join(want, "\n     "))
		}
	}
	if got := cutAll(t, "1€\"2€3\"€4\n", '€'); got[0].String() != `1-1 ["1" "2€3" "4"]` {
		t.Errorf("a delimiter of several bytes: %s", got)
	}
}

// TestRowsThatAreTooLong: a row that is longer than any may be, or a quote that nobody closes, takes one line with it;
// what stands behind is read, whether or not its quotes would go on.
func TestRowsThatAreTooLong(t *testing.T) {
	long := strings.Repeat("x", MaxRow)
	for name, x := range map[string]struct{ text, want string }{
		"one line":     {"a\n" + long + "\nb\n", "1-1 [\"a\"]; 2-2: " + errTooLongRow.Error() + "; 3-3 [\"b\"]"},
		"the last":     {"a\n" + long, "1-1 [\"a\"]; 2-2: " + errTooLongRow.Error()},
		"with a quote": {"a\n\"" + long + "\nb\n", "1-1 [\"a\"]; 2-2: " + errTooLongRow.Error() + "; 3-3 [\"b\"]"},
		"not closed": {"a\nb,\"c\n" + long[:MaxRow-8] + "\nd\n", "1-1 [\"a\"]; 2-2: column 3: " + notClosed +
			"; 3-3 [8]; 4-4 [\"d\"]"},
		"just not closed": {"\"" + long[:MaxRow-4] + "\n\"\n", "1-2 [8]"},
	} {
		var got []string
		for _, r := range cutAll(t, x.text, 0) {
			if r.err == nil && len(r.texts()[0]) > MaxRow/2 {
				got = append(got, fmt.Sprintf("%d-%d [8]", r.first, r.last))
				continue
			}
			got = append(got, r.String())
		}
		if s := strings.Join(got, "; "); s != x.want {
			t.Errorf("%s:\n got %.300s\nwant %s", name, s, x.want)
		}
	}
}

// TestQuotesNobodyCloses: each of many lines opens a quote, so that each begins a row with all that stand behind it. It
// is no more work than a few times the text.
func TestQuotesNobodyCloses(t *testing.T) {
	const lines = 200_000
	got := cutAll(t, strings.Repeat("\"a\"\"\n", lines), 0)
	if len(got) != lines {
		t.Fatalf("%d rows of %d", len(got), lines)
	}
	for i, r := range got {
		if r.err == nil || r.first != i+1 || r.last != i+1 {
			t.Fatalf("row %d: %s", i, r)
		}
	}
}

// FuzzRows: rows stand on lines of their own, in order, and none but empty lines are passed over. Where no carriage
// return is in the text, encoding/csv reads the same of it, or refuses the same.
func FuzzRows(f *testing.F) {
	for _, seed := range []string{"case,readings.ri\n1,1.5\n", "case,readings\n1,\"{\"\"ri\"\":1.5}\"\n",
		"a,\"b\nc\",d\n\n\"", "\"a\"\"\nb\"\"\"\n", "\"\r\n\"\r\n\r\r\n", "\"\"\"\n\"", "a\"b\n,,\n"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got := cutAll(t, text, 0)
		lines := strings.Split(text, "\n")
		at, whole := 0, true
		var cells [][]string
		for _, r := range got {
			if r.first <= at || r.last < r.first || r.last > len(lines) || r.err != nil && r.first != r.last {
				t.Fatalf("%q: %s after line %d", text, r, at)
			}
			passed(t, text, lines[at:r.first-1])
			at, whole = r.last, whole && r.err == nil
			cells = append(cells, r.texts())
		}
		passed(t, text, lines[at:])
		if strings.Contains(text, "\r") {
			return
		}
		c := csv.NewReader(strings.NewReader(text))
		c.FieldsPerRecord = -1
		want, err := c.ReadAll()
		if (err == nil) != whole {
			t.Fatalf("%q: encoding/csv: %v; got %s", text, err, got)
		}
		if whole && !reflect.DeepEqual(cells, want) {
			t.Fatalf("%q: %q; encoding/csv: %q", text, cells, want)
		}
	})
}

func passed(t *testing.T, text string, lines []string) {
	t.Helper()
	for _, l := range lines {
		if strings.TrimSuffix(l, "\r") != "" {
			t.Fatalf("%q: the line %q was passed over", text, l)
		}
	}
}
