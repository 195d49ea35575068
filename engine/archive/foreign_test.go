package archive

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

func mapping(t *testing.T, text string) *Mapping {
	t.Helper()
	var l diag.List
	m := ReadMapping(diag.NewSource("map.yaml", []byte(text)), ruleset(t).Vocabulary, &l)
	if m == nil {
		t.Fatal(l)
	}
	return m
}

// TestDecimalCommaLeavesTextAlone: only numbers have a comma to turn.
func TestDecimalCommaLeavesTextAlone(t *testing.T) {
	m := mapping(t, `format: 1
mapping:
  delimiter: ";"
  decimal_comma: true
  columns: {case: case, claim: claim, note: note, taken: taken, sg: readings.specific_gravity, carat: stone.carat, cut: stone.cut}
`)
	rows := records(t, write(t, "a.csv",
		"case;claim;note;taken;sg;carat;cut\nA.12;natural, red;p. 4, 5;2031-04-12;3,52;1.234,5;old, cut\n"), m)
	var l diag.List
	if got, want := JSON(rows[0].Tree(&l)),
		`{"case":"A.12","claim":"natural, red","note":"p. 4, 5","taken":"2031-04-12","readings":{"specific_gravity":3.52},"stone":{"carat":1234.5,"cut":"old, cut"}}`; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	rows = records(t, write(t, "a.csv", "case;claim;note;taken;sg;carat;cut\n1;;;;3.52;;\n"), m)
	if rows[0].Tree(&l); !l.HasErrors() || !strings.Contains(l.Error(), "decimal point") {
		t.Errorf("a decimal point: %v", l)
	}
}

// TestNumbersOfSpreadsheets: what JSON has no form for becomes what it has, and what is no number stays text.
func TestNumbersOfSpreadsheets(t *testing.T) {
	for cell, want := range map[string]string{"1.50": "1.50", "-2e3": "-2e3", ".5": "0.5", "+1.54": "1.54", "5.": "5",
		"007": "7", "NaN": "", "Inf": "", "0x1p-2": "", "1_000": "", "1,5": "", "": ""} {
		if got, ok := jsonNumber(cell); got != want || ok != (want != "") {
			t.Errorf("%q: %q, %v; want %q", cell, got, ok, want)
		}
	}
}

// TestParquetIsMapped: a mapping counts for a foreign Parquet file too.
func TestParquetIsMapped(t *testing.T) {
	var b strings.Builder
	w := newParquet(&b, []string{"No", "density"})
	n := &syntax.Node{Kind: syntax.Map}
	for _, kv := range [][2]string{{"No", "7"}, {"density", "3.5"}} {
		src := diag.NewSource("x", []byte(kv[1]))
		v := text(src, kv[1])
		v.Style = syntax.JSONNumber
		n.Entries = append(n.Entries, syntax.Entry{Key: text(src, kv[0]), Value: v})
	}
	if err := errors.Join(w.write(n), w.close()); err != nil {
		t.Fatal(err)
	}
	rows := records(t, write(t, "a.parquet", b.String()),
		mapping(t, "format: 1\nmapping: {columns: {\"No\": case, density: {to: readings.specific_gravity, factor: 2}}}"))
	var l diag.List
	if got, want := JSON(rows[0].Tree(&l)), `{"case":"7","readings":{"specific_gravity":7}}`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// TestParquetWithNumbers: what other programs write has columns of numbers.
func TestParquetWithNumbers(t *testing.T) {
	type row struct {
		Case    string  `parquet:"case"`
		SG      float64 `parquet:"readings.specific_gravity,optional"`
		Mounted bool    `parquet:"stone.mounted"`
		Stake   int64   `parquet:"stake"`
	}
	path := write(t, "a.parquet", "")
	if err := parquet.WriteFile(path, []row{{"7", 3.525, true, 4200}, {"8", 0, false, -1}}); err != nil {
		t.Fatal(err)
	}
	rows := records(t, path, nil)
	for i, want := range []string{`{"case":"7","readings":{"specific_gravity":3.525},"stone":{"mounted":true},"stake":4200}`, `{"case":"8","stone":{"mounted":false},"stake":-1}`} {
		var l diag.List
		if got := JSON(rows[i].Tree(&l)); got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
}

// TestStandardInputCanBeLeft: a read that nothing comes of does not hold up who has had enough.
func TestStandardInputCanBeLeft(t *testing.T) {
	in, feed := io.Pipe()
	defer func() { _ = feed.Close() }()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	got := make(chan *Raw, 1)
	go func() {
		ended <- Each(ctx, Input{Paths: []string{Stdin}, Stdin: in}, func(r *Raw) bool { got <- r; return true })
	}()
	if _, err := io.WriteString(feed, "{\"case\":\"1\"}\n"); err != nil {
		t.Fatal(err)
	}
	<-got
	cancel()
	select {
	case err := <-ended:
		if !errors.Is(err, context.Canceled) {
			t.Errorf("err %v", err)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("still waiting")
	}
}
