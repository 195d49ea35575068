package syntax

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
)

func parseYAML(text string) ([]*Node, diag.List) {
	var out diag.List
	nodes := ParseYAML(diag.NewSource("f", []byte(text)), &out)
	return nodes, out
}

// outline writes a tree on one line: kind or style, source bytes and, of a scalar, its text.
func outline(n *Node) string {
	sp := fmt.Sprintf("%d-%d", n.Span.Start, n.Span.End)
	var parts []string
	switch n.Kind {
	case Map:
		for _, e := range n.Entries {
			parts = append(parts, outline(e.Key)+": "+outline(e.Value))
		}
		return "map@" + sp + "{" + strings.Join(parts, ", ") + "}"
	case List:
		for _, item := range n.Items {
			parts = append(parts, outline(item))
		}
		return "list@" + sp + "[" + strings.Join(parts, ", ") + "]"
	}
	style := [...]string{"plain", "single", "double", "literal", "folded", "string", "number", "word"}[n.Style]
	return fmt.Sprintf("%s@%s %q", style, sp, n.Text)
}

func TestParseYAML(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"block", "a: 1\nb:\n  - x\n  - 'y'\n",
			`map@0-21{plain@0-1 "a": plain@3-4 "1", plain@5-6 "b": list@10-21[plain@12-13 "x", single@18-21 "y"]}`},
		{"flow", "{a: [1, \"b\"], c: {} }\n",
			`map@0-21{plain@1-2 "a": list@4-12[plain@5-6 "1", double@8-11 "b"], plain@14-15 "c": map@17-19{}}`},
		{"bracket in a comment", "a: [1, # ]\n 2 # ]\n ] # ]",
			`map@0-20{plain@0-1 "a": list@3-20[plain@4-5 "1", plain@12-13 "2"]}`},
		{"pair in a list", "[a: b, c]", `list@0-9[map@1-5{plain@1-2 "a": plain@4-5 "b"}, plain@7-8 "c"]`},
		{"values left out", "a:\nb: ", `map@0-5{plain@0-1 "a": plain@2-2 "", plain@3-4 "b": plain@5-5 ""}`},
		{"folded plain", "a: b\n  c\n\n  d # x", `map@0-13{plain@0-1 "a": plain@3-13 "b c\nd"}`},
		{"quotes over lines", "'x\n  y''z'", `single@0-10 "x y'z"`},
		{"escapes", `"\x41\u00e9\U0001d6fc\t\"\/"`, `double@0-28 "Aé𝛼\t\"/"`},
		{"escaped line break", "\"a \\\n  b\"", `double@0-9 "a b"`},
		{"literal", "a: |\n  x\n\n   y\n\nb: 1",
			`map@0-20{plain@0-1 "a": literal@3-14 "x\n\n y\n", plain@16-17 "b": plain@19-20 "1"}`},
		{"literal with digit", "a: |2-\n    x\n   y\n", `map@0-17{plain@0-1 "a": literal@3-17 "  x\n y"}`},
		{"folded block", "- >-\n q\n r\n# c\n- s", `list@0-18[folded@2-10 "q r", plain@17-18 "s"]`},
		{"literal at the top", "|\n x\n", `literal@0-4 "x\n"`},
		{"CRLF", "a: |\r\n  x\r\n  y\r\nb: 1\r\n",
			`map@0-20{plain@0-1 "a": literal@3-14 "x\ny\n", plain@16-17 "b": plain@19-20 "1"}`},
		{"byte order mark", "\uFEFFa: 1", `map@3-7{plain@3-4 "a": plain@6-7 "1"}`},
		{"wide runes", "é: [日本, 'ü']", `map@0-18{plain@0-2 "é": list@4-18[plain@5-11 "日本", single@13-17 "ü"]}`},
		{"documents", "a\n---\n# c\nb\n...\n---\n- c\n",
			`plain@0-1 "a" | plain@10-11 "b" | list@20-23[plain@22-23 "c"]`},
		{"empty documents", "---\n---\n", `plain@4-4 "" | plain@8-8 ""`},
		{"nothing", "", ``},
		{"only a comment", "# x\n", ``},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			nodes, out := parseYAML(tt.text)
			if nodes == nil || len(out) > 0 {
				t.Fatalf("not read: %v", out)
			}
			var docs []string
			for _, n := range nodes {
				docs = append(docs, outline(n))
			}
			if d := cmp.Diff(tt.want, strings.Join(docs, " | ")); d != "" {
				t.Error(d)
			}
		})
	}
}

// refusals lists, one a line, what is reported of a text: place, code and what the span covers.
func refusals(out diag.List) string {
	var lines []string
	for _, d := range out {
		p := d.Span.Position()
		lines = append(lines, fmt.Sprintf("%d:%d %s %q", p.Line, p.Column, d.Code, d.Span.Text()))
	}
	return strings.Join(lines, "\n")
}

func TestYAMLRefusals(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"key given twice", "a: 1\nb: 2\n\"a\": 3\na: 4", "3:1 duplicate-key \"\\\"a\\\"\"\n4:1 duplicate-key \"a\""},
		{"key given twice in flow", "x: {é: 1, é: 2}", `1:11 duplicate-key "é"`},
		{"anchor and alias", "a: &x 1\nb: *x\n", "1:4 alias-refused \"&x\"\n2:4 alias-refused \"*x\""},
		{"alias in flow", "[&x a, *x]", "1:2 alias-refused \"&x\"\n1:8 alias-refused \"*x\""},
		{"unknown alias", "a: *x\n", `1:4 alias-refused "*"`},
		{"merge key", "<<: {a: 1}\n", `1:1 alias-refused "<<"`},
		{"tag", "a: !!str 1\nb: ! x\nc: !y [1]\n",
			"1:4 not-allowed \"!!str\"\n2:4 not-allowed \"!\"\n3:4 not-allowed \"!y\""},
		{"tag that does not fit", "a: !!int x\n", `1:4 not-allowed "!!int"`},
		{"directive", "%YAML 1.2\n---\na: 1\n", `1:1 not-allowed "%"`},
		{"known directive", "%YAML 1.1\n---\na: 1\n", `1:1 not-allowed "%YAML 1.1"`},
		{"question mark key", "? a\n: b\n", `1:1 not-allowed "? "`},
		{"list as key", "[a, b]: 1\n", `1:1 wrong-kind "[a, b]"`},
		{"number, date and truth as key", "010: 1\n2024-01-02: 1\nyes: 1\n~: 1\n'no': 1",
			"1:1 quote-it \"010\"\n2:1 quote-it \"2024-01-02\"\n3:1 quote-it \"yes\"\n4:1 quote-it \"~\""},
		{"no space after a colon", "{a:1, b:2}", "1:2 bad-syntax \"a:1\"\n1:7 bad-syntax \"b:2\""},
		{"no key", ": 1\n", `1:1 wrong-kind ""`},
		{"NUL as an escape", `a: "x\0"`, `1:4 bad-encoding "\"x\\0\""`},
		{"NUL", "a: \x00", `1:4 bad-encoding "\x00"`},
		{"invalid UTF-8", "a: é\xe9", `1:5 bad-encoding "\xe9"`},
		{"control character", "a: \x1b[", `1:4 bad-encoding "\x1b"`},
		{"line separator", "a: x\u2028b: 1", "1:5 bad-encoding \"\\u2028\""},
		{"next line", "a: x\u0085b: 1", "1:5 bad-encoding \"\\u0085\""},
		{"byte order mark inside", "a: \uFEFFb", "1:4 bad-encoding \"\\ufeff\""},
		{"UTF-16", "\xff\xfea\x00", `1:1 bad-encoding "\xff\xfe"`},
		{"colon in a text", "a: b: c", `1:5 bad-syntax ":"`},
		{"text between keys", "a: 1\nb\nc: 2", `2:1 bad-syntax "b"`},
		{"list not closed", "a: [1, 2\nb: 3", `2:2 bad-syntax ":"`},
		{"quotes not closed", "é: \"x\ny: 1\n", `1:4 bad-syntax "\""`},
		{"tab", "a:\n\tb: 2", `2:1 bad-syntax "\t"`},
		{"at sign", "a: @x", `1:4 bad-syntax "@"`},
		{"after quotes", "a: \"x\" y", `1:8 bad-syntax "y"`},
		{"after a bracket", "- [a]b", `1:6 bad-syntax "b"`},
		{"after a document", "a: 1\n... b\n", `2:5 bad-syntax "b"`},
		{"unknown escape", `a: "\q"`, `1:5 bad-syntax "\\"`},
		{"surrogates", `a: "\ud83d\ude00"`, `1:7 bad-syntax "d"`},
		{"block text that is not indented", "|\nab\n\n---\nc: 1\n", `1:1 bad-syntax "|"`},
		{"folded text that is not indented", ">\nab\n", `1:1 bad-syntax ">"`},
		{"text ends", "a: [", `1:5 bad-syntax ""`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, out := parseYAML(tt.text)
			if d := cmp.Diff(tt.want, refusals(out)); d != "" {
				t.Error(d)
			}
			for _, d := range out {
				if !diag.Known(d.Code) {
					t.Errorf("the code %q is not in the table", d.Code)
				}
			}
		})
	}
}

func TestYAMLDiagnosticsAsShown(t *testing.T) {
	const text = "first: \"日本\"\r\n\"日本\": 1\r\nfirst:\r\n  - &x [a]\r\n"
	_, out := parseYAML(text)
	var b strings.Builder
	if err := diag.WriteText(&b, out, diag.TextOptions{}); err != nil {
		t.Fatal(err)
	}
	want := `error: the key "first" is given twice [duplicate-key]
  at f:3:1
     3  first:
        ^^^^^
  If something new begins here, it is parted from what is above: a case by a
    line of three dashes, ---, what stands in a list by a dash.
  at f:1:1: it is given here first
     1  first: "日本"
        ^^^^^

error: an anchor stands here; only plain values are read [alias-refused]
  at f:4:5
     4    - &x [a]
            ^^
  Write the value out where it is meant.
`
	out.Sort()
	b.Reset()
	_ = diag.WriteText(&b, out, diag.TextOptions{})
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

func TestYAMLSyntaxErrorAsShown(t *testing.T) {
	_, out := parseYAML("k:\n  é: [日, 本\n  b: 1\n")
	var b strings.Builder
	if err := diag.WriteText(&b, out, diag.TextOptions{}); err != nil {
		t.Fatal(err)
	}
	want := `error: a comma or the closing bracket of a list is missing before this
  [bad-syntax]
  at f:3:4
     3    b: 1
           ^
  at f:2:6: the list starts here
     2    é: [日, 本
             ^
`
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

// Two slips are told by their line, whatever the library makes of them.
func TestYAMLSlipsOfALine(t *testing.T) {
	const goesOn, allIn = "the quotes end here, and the text goes on", "Put all of it in quotes, a condition too: "
	for _, tt := range []struct{ name, text, span, says, detail string }{
		{"a condition", "- rule: a\n  if: \"red ring\" in assembly # x\n", "i", goesOn,
			allIn + `'"red ring" in assembly'`},
		{"a condition between brackets", "needs:\n  - {if: \"a\" in [\"b\", \"c\"], says: x}\n", "i", goesOn,
			allIn + `'"a" in ["b", "c"]'`},
		{"an item of a list", "- \"a\" or b\n", "o", goesOn, allIn + `'"a" or b'`},
		{"single quotes", "if: 'a' in b\r\n", "i", goesOn, allIn + `"'a' in b"`},
		{"both quotes", "if: 'a' in b and \"c\" in b\n", "i", goesOn,
			"Quotes go about all of a text. A condition with quotes in it stands in single quotes, with words in " +
				"double ones."},
		{"too far out in a list", "- rule: a\n  says: b\n c: d\n", "c",
			"this key is indented by 1, and its neighbours by 2", "The keys of one mapping are indented alike."},
		{"too far in", "- rule: a\n  says: b\n    c: d\n", "c", "this key is indented by 4, and its neighbours by 2",
			"The keys of one mapping are indented alike."},
		{"too far in behind brackets", "a:\n  b: [c]\n   d: e\n", "d",
			"this key is indented by 3, and its neighbours by 2", "The keys of one mapping are indented alike."},
		{"a colon in a text", "- rule: a\n  says: b: c\n", ":", "a colon makes this a key, which can't stand here",
			"A text with a colon and a space in it must be in quotes; keys of one mapping are indented alike."},
	} {
		_, out := parseYAML(tt.text)
		if len(out) != 1 || out[0].Span.Text() != tt.span || out[0].Summary != tt.says || out[0].Detail != tt.detail {
			t.Errorf("%s: %v %q %q", tt.name, out, out[0].Span.Text(), out[0].Detail)
		}
	}
}

// A refusal does not end the reading: later ones are reported too, and the other values are there.
func TestYAMLGoesOnAfterARefusal(t *testing.T) {
	nodes, out := parseYAML("a: *x0\n")
	if nodes != nil || len(out) != 1 {
		t.Errorf("an alias to nothing is an error of syntax: %v", out)
	}
	nodes, out = parseYAML("a: &x 1\na: 2\nc: !t d\ne: f\n")
	if len(out) != 3 || len(nodes) != 1 || nodes[0].Get("e").Text != "f" {
		t.Fatalf("%v", out)
	}
	before := len(out)
	if _, ok := nodes[0].Get("a").Str(&out); ok || len(out) != before {
		t.Errorf("a value that was refused must be silent: %v", out[before:])
	}
}
