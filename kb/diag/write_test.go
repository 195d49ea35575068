package diag

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// at returns the span of the first occurrence of part in the source.
func at(s *Source, part string) Span {
	i := strings.Index(string(s.Text), part)
	return Span{s, i, i + len(part)}
}

func TestWriteText(t *testing.T) {
	rules := NewSource("rules/a.yaml", []byte("format: 1\r\nrules:\r\n  - if: colur == \"red\"\r\n"))
	wide := NewSource("w.yaml", []byte("k: 日本語 x é\u0301y\n\tk:\tbad\tvalue\n"))
	long := NewSource("l.json", []byte(strings.Repeat("abcdefghi ", 40)+"HERE"+strings.Repeat(" klmnopqrs", 40)))
	evil := NewSource("e\x1b.yaml", []byte("a: \x1b[31mred\u202e x\xff y"))
	many := NewSource("m.yaml", []byte("a: [1,\n  2]\n"))
	tests := []struct {
		name string
		list List
		want string
	}{
		{"everything", List{{
			Code: "unknown-name", Summary: `there is no observable "colur"`, Span: at(rules, "colur"),
			Nearest: "colour", Detail: "A condition may name observables, facts and stone properties. This one is " +
				"spelt like none of them.",
			Related: []Related{{at(rules, "rules"), "in this list of rules"}, {Span{}, "and in no lower layer"}},
			Values:  []Value{{"colour", "red"}, {"ri", "1.760 ± 0.002"}},
		}}, `
error: there is no observable "colur" [unknown-name]
  at rules/a.yaml:3:9
     3    - if: colur == "red"
                ^^^^^
  A condition may name observables, facts and stone properties.
    This one is spelt like none of them.
  did you mean "colour"?
  at rules/a.yaml:2:1: in this list of rules
     2  rules:
        ^^^^^
  and in no lower layer
    colour = red
    ri = 1.760 ± 0.002
`},
		{"wide runes", List{{Severity: Warning, Summary: "s", Span: at(wide, "本語 x")}}, `
warning: s
  at w.yaml:1:5
     1  k: 日本語 x é` + "\u0301" + `y
             ^^^^^^
`},
		{"a combining mark takes no cell", List{{Severity: Note, Summary: "s", Span: at(wide, "y\n")}}, `
note: s
  at w.yaml:1:12
     1  k: 日本語 x é` + "\u0301" + `y
                     ^
`},
		{"tabs", List{{Summary: "s", Span: at(wide, "bad\tvalue")}}, `
error: s
  at w.yaml:2:5
     2      k:  bad value
                ^^^^^^^^^
`},
		{"end of a line and of the text", List{{Summary: "s", Span: Span{rules, 9, 9}}, {Summary: "s", Span: Span{rules, 99, 99}}}, `
error: s
  at rules/a.yaml:1:10
     1  format: 1
                 ^

error: s
  at rules/a.yaml:4:1
     4
        ^
`},
		{"more than one line", List{{Summary: "s", Span: at(many, "[1,\n  2]")}}, `
error: s
  at m.yaml:1:4
     1  a: [1,
           ^^^
`},
		{"a long line", List{{Summary: "s", Span: at(long, "HERE")}}, `
error: s
  at l.json:1:401
     1  …defghi abcdefghi HERE klmnopqrs klmnopqrs klmnopqrs kl…
                          ^^^^
`},
		{"nothing reaches the terminal raw", List{{Summary: "a\x1b[2J", Detail: "x\x07y", Span: at(evil, "x\xff"), Values: []Value{{"v", "\u202e"}}}}, `
error: a�[2J
  at e�.yaml:1:14
     1  a: �[31mred� x� y
                     ^^
  x�y
    v = �
`},
		{"no position", List{{Code: "bad-policy", Summary: "s"}}, `
error: s [bad-policy]
`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var b strings.Builder
			if err := WriteText(&b, tt.list, TextOptions{Width: 64}); err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(strings.TrimPrefix(tt.want, "\n"), b.String()); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestWriteTextCountsWhatItLeavesOut(t *testing.T) {
	list := make(List, 23)
	for i := range list {
		list[i].Summary = "s" + itoa(i)
	}
	for limit, more := range map[int]string{0: "\n3 more\n", 22: "\n1 more\n", 23: "error: s22\n", 99: "error: s22\n"} {
		var b strings.Builder
		if err := WriteText(&b, list, TextOptions{Max: limit}); err != nil || !strings.HasSuffix(b.String(), more) {
			t.Errorf("Max %d: %v, ends with %q", limit, err, b.String()[max(0, b.Len()-30):])
		}
	}
}

func TestWriteTextInColour(t *testing.T) {
	s := NewSource("a", []byte("xyz"))
	var b strings.Builder
	if err := WriteText(&b, List{{Summary: "s", Span: Span{s, 1, 2}}}, TextOptions{Colour: true}); err != nil {
		t.Fatal(err)
	}
	want := "\x1b[1merror: s\x1b[0m\n  at a:1:2\n     1  xyz\n\x1b[1m         ^\x1b[0m\n"
	if b.String() != want {
		t.Errorf("got %q", b.String())
	}
}

// Whatever the text and span: lines fit the width, nothing commands the terminal, and a marker stands under the line.
func TestExcerptFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := texts().Draw(t, "text")
		start := rapid.IntRange(-1, len(text)+1).Draw(t, "start")
		end := rapid.IntRange(start, len(text)+1).Draw(t, "end")
		width := rapid.IntRange(narrowest, 120).Draw(t, "width")
		var b strings.Builder
		list := List{{Summary: "s", Span: Span{NewSource("n", []byte(text)), start, end}}}
		if err := WriteText(&b, list, TextOptions{Width: width}); err != nil {
			t.Fatal(err)
		}
		out := b.String()
		lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
		if len(lines) != 4 || strings.Trim(lines[3], " ^") != "" || !strings.Contains(lines[3], "^") {
			t.Fatalf("text %q: %q", text, lines)
		}
		for _, line := range lines {
			if !utf8.ValidString(line) || Cells(line) > width+1 || strings.ContainsAny(line, "\r\t\x1b") {
				t.Fatalf("text %q: line %q of %d cells", text, line, Cells(line))
			}
		}
	})
}

func TestExcerptOfAVeryLongLineIsCheap(t *testing.T) {
	s := NewSource("x", []byte(strings.Repeat("日", 1<<20)))
	list := make(List, 2000)
	for i := range list {
		list[i].Span = Span{s, 3 * i * 500, 3*i*500 + 3}
	}
	var b strings.Builder
	if err := WriteText(&b, list, TextOptions{Max: len(list)}); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "^^\n"); n != len(list) {
		t.Errorf("%d markers of %d", n, len(list))
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestWritersPassOnErrors(t *testing.T) {
	if WriteText(failing{}, List{{}}, TextOptions{}) == nil || WriteJSON(failing{}, List{{}}) == nil {
		t.Error("an error of the writer must come back")
	}
}

func TestWriteJSON(t *testing.T) {
	s := NewSource("a.yaml", []byte("é: <𝛼>\n"))
	list := List{
		{Code: "bad-id", Severity: Warning, Summary: "s", Detail: "d", Span: at(s, "𝛼>"), Nearest: "n",
			Related: []Related{{at(s, "é"), "r"}, {Span{}, "t"}}, Values: []Value{{"a", "b"}}},
		{Summary: "<bare>"},
		{Summary: "start", Span: Span{s, 0, 0}},
	}
	var b strings.Builder
	if err := WriteJSON(&b, list); err != nil {
		t.Fatal(err)
	}
	want := `{"format":1,"diagnostics":[` +
		`{"code":"bad-id","severity":"warning","summary":"s","detail":"d","file":"a.yaml","line":1,"column":5,"length":2,` +
		`"byte_offset":5,"byte_length":5,"utf16_column":5,"utf16_length":3,"nearest":"n",` +
		`"related":[{"file":"a.yaml","line":1,"column":1,"length":1,"byte_offset":0,"byte_length":2,"utf16_column":1,` +
		`"utf16_length":1,"says":"r"},{"says":"t"}],"values":[{"name":"a","value":"b"}]},` +
		`{"severity":"error","summary":"<bare>"},` +
		`{"severity":"error","summary":"start","file":"a.yaml","line":1,"column":1,"length":0,"byte_offset":0,` +
		`"byte_length":0,"utf16_column":1,"utf16_length":0}],"more":0}` + "\n"
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

func TestWriteJSONCountsWhatItLeavesOut(t *testing.T) {
	for _, n := range []int{0, maxJSON, maxJSON + 7} {
		var b strings.Builder
		if err := WriteJSON(&b, make(List, n)); err != nil {
			t.Fatal(err)
		}
		var got struct {
			Diagnostics []json.RawMessage
			More        int
		}
		if err := json.Unmarshal([]byte(b.String()), &got); err != nil {
			t.Fatal(err)
		}
		if got.Diagnostics == nil || len(got.Diagnostics)+got.More != n || got.More != max(0, n-maxJSON) {
			t.Errorf("of %d: %d and %d more", n, len(got.Diagnostics), got.More)
		}
	}
}
