package archive

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"whystone/kb/diag"
)

// drawer draws cases as people may write them, oddly as they will.
type drawer struct {
	*rand.Rand
	observables []string
}

func (d *drawer) often(part float64) bool { return d.Float64() < part }

var odd = []string{"true", "null", "1.50", "007", "-0", "1e400", "{", "[sic] as written", "{curly", `"quoted" text`,
	`"all"`, `""`, " spaced ", "\t", "a,b", "a;b", "line\nfeed", "line\r\nfeed", "lone\rreturn", "\r\n", "\uFEFFmark",
	"\u2028", "é\u0301", "\U0001F48E", "\x1b[31m", "\u0001", "=1+1", `\`, `\.`, "'", "--", "NaN", "Inf", "12,5",
	"1.250", "<b>&amp;</b>", "\u00a0"}

func (d *drawer) text() string {
	switch {
	case d.often(0.5):
		return odd[d.IntN(len(odd))]
	case d.often(0.3):
		return odd[d.IntN(len(odd))] + odd[d.IntN(len(odd))]
	}
	runes := []rune("abcXYZ019 .,;:'\"\\{}[]\n\r\té€")
	out := make([]rune, 1+d.IntN(12))
	for i := range out {
		out[i] = runes[d.IntN(len(runes))]
	}
	return string(out)
}

func (d *drawer) number() json.Number {
	return json.Number([]string{"0", "-0", "1.50", "1e3", "-2.5E-7", "3.14159265358979323846", "12345678901234567890",
		strconv.FormatFloat(d.NormFloat64(), 'g', -1, 64)}[d.IntN(8)])
}

// value is anything that JSON can say, but null.
func (d *drawer) value(depth int) any {
	switch n := d.IntN(6); {
	case depth > 0 && n == 0:
		return map[string]any{d.text(): d.value(depth - 1), "value": d.number()}
	case depth > 0 && n == 1:
		return []any{d.value(depth - 1), d.text(), map[string]any{"inconclusive": d.text(), "note": nil}}
	case n == 2:
		return d.often(0.5)
	case n == 3:
		return d.number()
	}
	return d.text()
}

func (d *drawer) record() map[string]any {
	r := map[string]any{"case": d.text()}
	for _, k := range []string{"claim", "taken", "desk", "by", "truth", "note"} {
		if d.often(0.5) {
			r[k] = d.text()
		}
	}
	if d.often(0.5) {
		r["format"] = 1
	}
	if d.often(0.5) {
		r["stake"] = d.number()
	}
	if d.often(0.1) {
		r["correlations"] = []any{d.value(2)}
	}
	inside := func(key string, part float64, of []string) {
		for _, k := range of {
			if d.often(part) {
				m, _ := r[key].(map[string]any)
				if m == nil {
					m = map[string]any{}
				}
				m[k], r[key] = d.value(3), m
			}
		}
	}
	inside("stone", 0.3, []string{"mounted", "carat", "cut", "setting", "colour"})
	inside("readings", 0.1, d.observables)
	inside("recorded", 0.2, []string{"verdict", "claim", "named", "nodes", "ruleset", "method"})
	return r
}

// TestDrawnCasesLoseNothing: drawn cases through every form, one from the other, come back as they were, to the last
// carriage return and the last digit: 20,000 where all is asked for, else fewer.
func TestDrawnCasesLoseNothing(t *testing.T) {
	cases := 2000
	if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
		cases = 20_000
	}
	names := ruleset(t).Vocabulary.Names()
	d := &drawer{rand.New(rand.NewPCG(20_000, 1)), names}
	var lines bytes.Buffer
	enc := json.NewEncoder(&lines)
	want := make([]any, cases)
	for i := range want {
		r := d.record()
		if err := enc.Encode(r); err != nil {
			t.Fatal(err)
		}
		text, _ := json.Marshal(r)
		want[i] = exact(t, text)
	}
	path := write(t, "drawn.jsonl", lines.String())
	for _, name := range []string{"a.csv", "b.parquet", "c.csv.gz", "d.jsonl.gz", "e.csv.zst", "f.jsonl.zst",
		"g.jsonl"} {
		from := path
		path = filepath.Join(t.TempDir(), name)
		rewrite(t, from, path, names)
		i := 0
		if err := Each(context.Background(), Input{Paths: []string{path}}, func(r *Raw) bool {
			var l diag.List
			n := r.Tree(&l)
			if err := l.Err(); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if got := exact(t, []byte(JSON(n))); i >= cases || !reflect.DeepEqual(got, want[i]) {
				t.Fatalf("%s, case %d:\n got %v\nwant %v", name, i, got, want[i])
			}
			i++
			return true
		}); err != nil || i != cases {
			t.Fatalf("%s: %d cases of %d, %v", name, i, cases, err)
		}
	}
}

// exact is a JSON text's value, its numbers as they are written.
func exact(t testing.TB, text []byte) (v any) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	if err := d.Decode(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

// rewrite writes an archive in another form.
func rewrite(t testing.TB, from, to string, observables []string) {
	t.Helper()
	f, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	w, err := NewWriter(to, f, observables)
	if err != nil {
		t.Fatal(err)
	}
	if err := Each(context.Background(), Input{Paths: []string{from}}, func(r *Raw) bool {
		if err := w.Write(r); err != nil {
			t.Fatalf("%s: %v", r.Place(), err)
		}
		return true
	}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestNothingIsWrittenThatReadsOtherwise: what a table can't say is refused; what says nothing may be left out.
func TestNothingIsWrittenThatReadsOtherwise(t *testing.T) {
	names := []string{"ri", "breath_fog"}
	put := func(line string) (string, error) {
		var out bytes.Buffer
		w, err := NewWriter("a.csv", &out, names)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(&Raw{Text: line}); err != nil {
			return "", err
		}
		return out.String(), w.Close()
	}
	for _, line := range []string{`{"case":"1","readings":{"ri":null}}`, `{"case":"1","format":null}`, `{"case":7}`,
		`{"case":"1","note":["a"]}`, `{"case":"1","taken":20310412}`, `{"case":"1","truth":""}`, `{"case":""}`,
		`{"case":"1","stone":"round"}`, `{"case":"1","shine":1}`, `{"case":"1","readings":{"shine":1}}`} {
		if text, err := put(line); err == nil {
			t.Errorf("%s was written as %q", line, text)
		}
	}
	for _, line := range []string{`{"case":"1","stone":null}`, `{"case":"1","readings":{},"recorded":null}`,
		`{"case":"1","stone":{"carat":null},"note":"","claim":null,"stake":null,"correlations":null}`} {
		if _, err := put(line); err != nil {
			t.Errorf("%s: %v", line, err)
		}
	}
	// What would be too long to be read again.
	for name, line := range map[string]string{
		"a.jsonl":   `{"case":"1","note":"` + strings.Repeat("\u2028", MaxLine/4) + `"}`,
		"a.csv":     `{"case":"1","note":"` + strings.Repeat(`\"`, MaxRow) + `"}`,
		"a.parquet": `{"case":"1","note":"` + strings.Repeat("x", MaxRow) + `"}`,
	} {
		w, err := NewWriter(name, &bytes.Buffer{}, names)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(&Raw{Text: line}); err == nil {
			t.Errorf("%s: a record was written that is too long to be read", name)
		}
	}
}

// TestLongNotesAreWrittenOnce: what a Parquet file says of its columns does not repeat them.
func TestLongNotesAreWrittenOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var lines strings.Builder
	for i := range 20 {
		note := make([]byte, 200<<10)
		for k := range note {
			note[k] = 'a' + byte(rng.IntN(26))
		}
		fmt.Fprintf(&lines, `{"case":"%d","note":"%s"}`+"\n", i, note)
	}
	to := filepath.Join(t.TempDir(), "a.parquet")
	rewrite(t, write(t, "a.jsonl", lines.String()), to, nil)
	if info, err := os.Stat(to); err != nil || info.Size() > int64(lines.Len())*3/2 {
		t.Errorf("%d bytes of %d, %v", info.Size(), lines.Len(), err)
	}
}

// FuzzRecord: a record that is written as a table reads as the same, and as what is written of it again.
func FuzzRecord(f *testing.F) {
	for _, seed := range []string{`{"case":"1","claim":"[x","readings":{"ri":[1.5,1.6],"breath_fog":"{"},"stake":1e3}`,
		`{"case":" ","note":"a\r\nb","stone":{"cut":"\"","carat":-0}}`,
		`{"case":"1","stone":null,"recorded":{"nodes":["a"]}}`} {
		f.Add(seed)
	}
	names := []string{"ri", "breath_fog", "inclusions"}
	f.Fuzz(func(t *testing.T, line string) {
		r := &Raw{File: "a.jsonl", Line: 1, Text: line}
		var l diag.List
		n := r.Tree(&l)
		if n == nil || l.HasErrors() {
			return
		}
		for _, name := range []string{"a.csv", "a.parquet"} {
			var out bytes.Buffer
			w, err := NewWriter(name, &out, names)
			if err != nil {
				t.Fatal(err)
			}
			if w.Write(r) != nil {
				continue // refused
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			path := write(t, name, out.String())
			back := asJSONLines(t, path, nil)
			if len(back) != 1 || !reflect.DeepEqual(spoken(exact(t, []byte(back[0]))),
				spoken(exact(t, []byte(JSON(n))))) {
				t.Fatalf("%s: %s came back as %s", name, line, back)
			}
		}
	})
}

// spoken leaves out what says nothing: nulls, empty texts, and groups that hold no more.
func spoken(v any) any {
	m, ok := v.(map[string]any)
	if !ok {
		return v
	}
	for _, k := range []string{"stone", "recorded", "readings"} {
		if in, ok := m[k].(map[string]any); ok {
			for key, v := range in {
				if v == nil {
					delete(in, key)
				}
			}
			if len(in) == 0 {
				delete(m, k)
			}
		}
	}
	for k, v := range m {
		if v == nil || v == "" {
			delete(m, k)
		}
	}
	return m
}
