package syntax

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
)

func parseJSON(text string) (*Node, diag.List) {
	var out diag.List
	n := ParseJSON(diag.NewSource("f", []byte(text)), &out)
	return n, out
}

func TestParseJSON(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"object", ` {"a": [1, -2.5e3], "b": {}, "c": []} `,
			`map@1-37{string@2-5 "a": list@7-18[number@8-9 "1", number@11-17 "-2.5e3"], string@20-23 "b": map@25-27{}, string@29-32 "c": list@34-36[]}`},
		{"words", `[true,false,null]`, `list@0-17[word@1-5 "true", word@6-11 "false", word@12-16 "null"]`},
		{"escapes", `"\u0041\ud83d\ude00\n\/é\\\""`, `string@0-30 "A😀\n/é\\\""`},
		{"number alone", "12\r\n", `number@0-2 "12"`},
		{"big exponent is kept as written", `1e999`, `number@0-5 "1e999"`},
		{"byte order mark", "\uFEFF1", `number@3-4 "1"`},
		{"digits of escapes in both cases", `"\u00eF\uD83d\uDe00"`, `string@0-20 "ï😀"`},
		{"empty string", `""`, `string@0-2 ""`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n, out := parseJSON(tt.text)
			if n == nil || len(out) > 0 {
				t.Fatalf("not read: %v", out)
			}
			if d := cmp.Diff(tt.want, outline(n)); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestJSONRefusals(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"nothing", "", `1:1 bad-syntax ""`},
		{"trailing text", `{"a":1} x`, `1:9 bad-syntax "x"`},
		{"two values", "1\n2", `2:1 bad-syntax "2"`},
		{"cut off", `{"a":`, `1:6 bad-syntax ""`},
		{"comma at the end", `[1,]`, `1:4 bad-syntax "]"`},
		{"single quotes", `{'a':1}`, `1:2 bad-syntax "'"`},
		{"after wide runes", `["é" 1]`, `1:6 bad-syntax "1"`},
		{"comment", "1 // x", `1:3 bad-syntax "/"`},
		{"leading zero", "[01]", `1:3 bad-syntax "1"`},
		{"not a number", "NaN", `1:1 bad-syntax "N"`},
		{"raw control character", "\"a\nb\"", `1:3 bad-syntax "\n"`},
		{"key given twice", `{"a":1,"b":{"x":1,"x":2},"\u0061":3}`,
			"1:19 duplicate-key \"\\\"x\\\"\"\n1:26 duplicate-key \"\\\"\\\\u0061\\\"\""},
		{"lone high surrogate", `["\ud83d", "\ud83d\u0041"]`,
			"1:3 bad-encoding \"\\\\ud83d\"\n1:13 bad-encoding \"\\\\ud83d\""},
		{"lone low surrogate", `"\ude00"`, `1:2 bad-encoding "\\ude00"`},
		{"surrogate at the end", `"\ud83d\ud83d"`, "1:2 bad-encoding \"\\\\ud83d\"\n1:8 bad-encoding \"\\\\ud83d\""},
		{"NUL", `"a\u0000"`, `1:3 bad-encoding "\\u0000"`},
		{"raw NUL", "\"\x00\"", `1:2 bad-encoding "\x00"`},
		{"invalid UTF-8", "\"\xff\"", `1:2 bad-encoding "\xff"`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, out := parseJSON(tt.text)
			if d := cmp.Diff(tt.want, refusals(out)); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestManyKeysGivenTwice(t *testing.T) {
	var b strings.Builder
	for i := range 40 {
		b.WriteString(`"k` + strings.Repeat("x", i) + `":1,`)
	}
	_, out := parseJSON("{" + b.String() + b.String() + `"z":1}`)
	if len(out) != 40 {
		t.Errorf("%d keys reported of 40", len(out))
	}
	for _, d := range out {
		if len(d.Related) != 1 || d.Related[0].Span.Text() != d.Span.Text() || d.Related[0].Span.Start >= d.Span.Start {
			t.Errorf("the first place is wrong: %+v", d)
		}
	}
}

func TestParseJSONAt(t *testing.T) {
	src := diag.NewSource("f", []byte("{\"a\":1}\n{\"é\":x}\n{\"c\":[2]}\n"))
	var out diag.List
	if n := ParseJSONAt(src, 0, 7, &out); outline(n) != `map@0-7{string@1-4 "a": number@5-6 "1"}` {
		t.Errorf("first line: %s", outline(n))
	}
	if n := ParseJSONAt(src, 17, 27, &out); outline(n) != `map@17-26{string@18-21 "c": list@22-25[number@23-24 "2"]}` {
		t.Errorf("third line: %s", outline(n))
	}
	if len(out) > 0 {
		t.Fatalf("%v", out)
	}
	if n := ParseJSONAt(src, 8, 16, &out); n != nil || refusals(out) != `2:6 bad-syntax "x"` {
		t.Errorf("second line: %s", refusals(out))
	}
	out = nil
	if n := ParseJSONAt(src, -5, 999, &out); n != nil || refusals(out) != `2:1 bad-syntax "{"` {
		t.Errorf("offsets outside the text: %s", refusals(out))
	}
	out = nil
	if n := ParseJSONAt(src, 23, 24, &out); n == nil || n.Text != "2" {
		t.Errorf("a window inside a line: %v", out)
	}
}
