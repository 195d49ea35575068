package intake

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// reader reads cases in the vocabulary of the tests' small ruleset.
var reader = sync.OnceValues(func() (*casefile.Reader, error) {
	rs, found := load.Load(context.Background(), []load.Layer{{Name: "desk",
		FS: os.DirFS(filepath.Join("..", "testdata", "desk"))}})
	if rs == nil {
		return nil, found
	}
	return eval.CaseReader(rs), nil
})

func readAll(t testing.TB, name, text string) []Item {
	t.Helper()
	rd, err := reader()
	if err != nil {
		t.Fatal(err)
	}
	return slices.Collect(Read(strings.NewReader(text), name, rd))
}

// summary is "ID" of a case, "ID!code@line:column" of one that can't be read.
func summary(items []Item) string {
	var out []string
	for _, it := range items {
		s := it.ID
		if it.Case == nil {
			d := it.Found[0]
			p := d.Span.Position()
			s += fmt.Sprintf("!%s@%d:%d", d.Code, p.Line, p.Column)
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

func TestForms(t *testing.T) {
	for _, c := range []struct{ says, name, text, want string }{
		{"one document", "a.yaml", "case: A\nreadings: {}\n", "A"},
		{"several documents", "a.yml", "---\ncase: A\n---\n# nothing here\n---\ncase: B\n...\n", "A B"},
		{"a list of cases in YAML", "a.yaml", "- {case: A}\n- {case: B}\n", "A B"},
		{"one broken document between good ones", "a.yaml", "case: A\n---\ncase: B\nreadings: {\n---\ncase: C\n",
			"A B!bad-syntax@5:1 C"},
		{"a wrong key, with its place in the file", "a.yaml", "case: A\n---\ncase: B\nclaims: ruby\n",
			"A B!unknown-key@4:1"},
		{"JSON", "a.json", "{\n  \"case\": \"A\"\n}\n", "A"},
		{"JSON of one line", "a.json", `{"case": "A"}`, "A"},
		{"a list of cases in JSON", "a.json", `[{"case": "A"}, {"case": "B", "x": 1}, {"case": "C"}]`,
			"A B!unknown-key@1:31 C"},
		{"a key twice in one of a list", "a.json",
			"[{\"case\": \"A\"},\n{\"case\": \"B\", \"case\": \"C\"},\n{\"case\": \"D\"}]", "A B!duplicate-key@2:15 D"},
		{"JSON lines by name", "a.jsonl", "{\"case\": \"A\"}\r\n\r\n{\"case\": \"B\"}", "A B"},
		{"JSON lines that are named JSON", "a.json", "{\"case\": \"A\"}\n{\"case\": \"B\"}\n", "A B"},
		{"JSON lines by the first byte", "", "\n {\"case\": \"A\"}\n{\"case\": \"B\"}\n", "A B"},
		{"JSON lines whose first is broken", "", "{\"case\": \"A\"\n{\"case\": \"B\"}\n", "!bad-syntax@1:13 B"},
		{"a byte order mark", "a.jsonl", "\uFEFF{\"case\": \"A\"}\n", "A"},
		{"pretty JSON by the first byte", "", "{\n \"case\": \"A\",\n \"readings\": {}\n}", "A"},
		{"a list by the first byte", "", "[{\"case\": \"A\"}]", "A"},
		{"a flow mapping is YAML", "", "{case: A, readings: {}}\n", "A"},
		{"YAML by the first byte", "", "case: A\n", "A"},
		{"a bad line, with its number", "a.jsonl",
			"{\"case\": \"A\"}\n{\"case\": \"B\", \"claim\": 3}\n{\"case\": \"C\"}\n", "A B!wrong-kind@2:24 C"},
		{"no JSON at all on a line", "a.jsonl", "{\"case\": \"A\"}\nhello\n{\"case\": \"C\"}\n", "A !bad-syntax@2:1 C"},
		{"a number is no case", "a.jsonl", "7\n", "!wrong-kind@1:1"},
		{"a list of no case", "a.json", "[]", "!missing-key@0:0"},
		{"nothing", "a.yaml", "", "!missing-key@0:0"},
		{"only a comment", "a.yaml", "# later\n", "!missing-key@0:0"},
		{"blank lines", "a.jsonl", "\n\n", "!missing-key@0:0"},
		{"not text", "a.yaml", "case: \xff\xfe\n", "\uFFFD!bad-encoding@1:7"},
	} {
		got := summary(readAll(t, c.name, c.text))
		if strings.ToValidUTF8(got, "") != strings.ReplaceAll(c.want, "\uFFFD", "") {
			t.Errorf("%s: got %q, want %q", c.says, got, c.want)
		}
	}
}

// TestFiles opens files, one of which is not there and one of which is a folder.
func TestFiles(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.yaml")
	if err := os.WriteFile(path, []byte("case: A\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	rd, err := reader()
	if err != nil {
		t.Fatal(err)
	}
	items := slices.Collect(All([]string{filepath.Join(dir, "b.yaml"), dir, path, Stdin},
		strings.NewReader(`{"case": "S"}`), rd))
	if got := summary(items); got != "!file-unreadable@0:0 !file-unreadable@0:0 A S" {
		t.Errorf("got %q", got)
	}
	if items[3].File != StdinName {
		t.Errorf("standard input is called %q", items[3].File)
	}
}

// TestStopsWhenAsked takes the first case and no more, from each form.
func TestStopsWhenAsked(t *testing.T) {
	for name, text := range map[string]string{"a.yaml": "case: A\n---\ncase: B\n",
		"a.json": `[{"case": "A"}, {"case": "B"}]`, "a.jsonl": "{\"case\": \"A\"}\n{\"case\": \"B\"}\n"} {
		rd, err := reader()
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for range Read(strings.NewReader(text), name, rd) {
			n++
			break
		}
		if n != 1 {
			t.Errorf("%s: %d cases", name, n)
		}
	}
}

// endless gives so many JSON lines without holding them.
type endless struct {
	line string
	left int
	at   int
}

func (e *endless) Read(b []byte) (int, error) {
	if e.left == 0 {
		return 0, io.EOF
	}
	n := copy(b, e.line[e.at:])
	if e.at += n; e.at == len(e.line) {
		e.at, e.left = 0, e.left-1
	}
	return n, nil
}

// TestLinesAreNotHeld reads 64 MiB of JSON lines and never has more than a small part of it in memory.
func TestLinesAreNotHeld(t *testing.T) {
	rd, err := reader()
	if err != nil {
		t.Fatal(err)
	}
	const each, count = 64 << 10, 1024
	line := `{"case": "A", "note": "` + strings.Repeat("x", each) + "\"}\n"
	var most, before runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	n := 0
	for it := range Read(&endless{line: line, left: count}, "a.jsonl", rd) {
		if it.Case == nil {
			t.Fatal(it.Found)
		}
		if n++; n%128 == 0 {
			runtime.GC()
			runtime.ReadMemStats(&most)
			if held := int64(most.HeapAlloc) - int64(before.HeapAlloc); held > 8<<20 {
				t.Fatalf("after %d lines %d MiB are held", n, held>>20)
			}
		}
	}
	if n != count {
		t.Errorf("read %d of %d lines", n, count)
	}
}

// TestTooLong gives a line, and a file, that are longer than is read. The line after is read all the same.
func TestTooLong(t *testing.T) {
	long := strings.Repeat("x", syntax.MaxBytes)
	if got := summary(readAll(t, "a.jsonl", `{"case": "A"}`+"\n{\"case\": \""+long+
		"\"}\n{\"case\": \"B\"}\n")); got != "A !too-long@2:1 B" {
		t.Errorf("a long line: %q", got)
	}
	if got := summary(readAll(t, "a.yaml", "case: A\nnote: "+long+"\n")); got != "!too-long@0:0" {
		t.Errorf("a long file: %q", got)
	}
}

// TestEndlessLineIsNotHeld gives 128 MiB without a line end. All that is ever made room for stays near the bound.
func TestEndlessLineIsNotHeld(t *testing.T) {
	rd, err := reader()
	if err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	items := slices.Collect(Read(&endless{line: strings.Repeat("x", 64<<10), left: 2048}, "a.jsonl", rd))
	runtime.ReadMemStats(&after)
	if made := after.TotalAlloc - before.TotalAlloc; made > 10*syntax.MaxBytes {
		t.Errorf("%d MiB were made room for", made>>20)
	}
	if got := summary(items); got != "!too-long@1:1" {
		t.Errorf("got %q", got)
	}
}

// TestLateLine breaks a line far into a stream, beyond what is spent on giving it its place: its number is in the name.
func TestLateLine(t *testing.T) {
	rd, err := reader()
	if err != nil {
		t.Fatal(err)
	}
	good := `{"case": "A", "note": "` + strings.Repeat("x", 1<<20) + "\"}\n"
	lines := io.MultiReader(&endless{line: good, left: 20}, strings.NewReader("{\"case\": 1}\n"))
	items := slices.Collect(Read(lines, "a.jsonl", rd))
	d := items[20].Found[0]
	if got := d.Span.String(); got != "a.jsonl, line 21:1:10" {
		t.Errorf("place of the late line: %q", got)
	}
}

// TestGuessID: the number of a case that can't be parsed is the word after "case:", unless that is too long for one.
func TestGuessID(t *testing.T) {
	long := strings.Repeat("9", 100)
	for text, want := range map[string]string{"case: A-0412 # of the desk\nreadings: [": "A-0412",
		"x: [\ncase: \"B 7\"\n": "B 7", "  case: indented": "", "case: " + long: long,
		"case: " + long + "9\ncase: next": "next", "": ""} {
		if got := guessID([]byte(text)); got != want {
			t.Errorf("%.40q: %q, want %q", text, got, want)
		}
	}
}
