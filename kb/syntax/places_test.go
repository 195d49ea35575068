package syntax

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"
	"pgregory.net/rapid"

	"whystone/kb/diag"
)

func TestAt(t *testing.T) {
	tests := []struct {
		name, text, part, want string // part of the scalar's text, and the source it must come from
		line, column           int
	}{
		{"plain", "k: a and bee", "bee", "bee", 1, 10},
		{"plain after wide runes", "日本: é bee", "bee", "bee", 1, 7},
		{"plain over lines", "k: a and\n   bee\n\n   c", "bee", "bee", 2, 4},
		{"plain across a fold", "k: a and\n   bee", "and bee", "and\n   bee", 1, 6},
		{"a fold itself", "k: a \r\n  b", " ", "\r\n", 1, 6},
		{"a kept line break", "k: a\n\n  b", "\n", "\n", 2, 1},
		{"single quotes", "k: 'a ''b'' bee'", "bee", "bee", 1, 13},
		{"doubled quote", "k: 'a ''b'", "'", "''", 1, 7},
		{"single quotes over lines", "k: 'a\n  bee'", "bee", "bee", 2, 3},
		{"double quotes", `k: "a \"é\" bee"`, "bee", "bee", 1, 13},
		{"escape of eight digits", `k: "\U0001D6fC b"`, "𝛼", `\U0001D6fC`, 1, 5},
		{"escape", `k: "\u00e9\x41 b"`, "A", `\x41`, 1, 11},
		{"escaped line break", "k: \"a \\\n   bee\"", "bee", "bee", 2, 4},
		{"double quotes, blank line", "k: \"a\n\n\n  bee\"", "\n\nbee", "\n\n  bee", 2, 1},
		{"literal", "k: |\n  a\n\n  日 bee\n", "bee", "bee", 4, 5},
		{"literal with CRLF", "k: |\r\n  a\r\n  bee\r\n", "bee\n", "bee\r\n", 3, 3},
		{"literal with tabs", "k: |\n  a\n  \tbee\n", "bee", "bee", 3, 4},
		{"literal with digit", "k: |2-\n    a\n   bee\n", "bee", "bee", 3, 4},
		{"literal over lines", "k: |\n  a and\n  bee\n", "and\nbee", "and\n  bee", 2, 5},
		{"literal, comment on its header", "k: |- # bee\n  bee\n", "bee", "bee", 2, 3},
		{"literal, blank lines kept", "k: |+\n  a\n\n\n", "a\n\n\n", "a\n\n\n", 2, 3},
		{"literal, no line end", "k: |\n  bee", "bee", "bee", 2, 3},
		{"literal, last line of blanks", "k: |\n  bee\n    ", "  \n", "  ", 3, 3},
		{"literal of blanks", "k: |2-\n      \n", "    ", "    ", 2, 3},
		{"literal that begins with blanks", "k: |2-\n     \n\n   bee\n", "bee", "bee", 4, 4},
		{"in a list", "k: [a, 'b', c bee]", "bee", "bee", 1, 15},
		{"folded is its whole", "k: >\n  a\n  bee\n", "bee", ">\n  a\n  bee", 1, 4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			nodes, out := parseYAML(tt.text)
			if len(nodes) != 1 || len(out) > 0 {
				t.Fatalf("%v", out)
			}
			n := nodes[0].Entries[0].Value
			if n.Kind == List {
				n = n.Items[len(n.Items)-1]
			}
			i := strings.LastIndex(n.Text, tt.part)
			if i < 0 {
				t.Fatalf("%q is not in %q", tt.part, n.Text)
			}
			sp := n.At(i, i+len(tt.part))
			if p := sp.Position(); sp.Text() != tt.want || p.Line != tt.line || p.Column != tt.column {
				t.Errorf("%q lies at %d:%d %q, want %d:%d %q", tt.part, p.Line, p.Column, sp.Text(), tt.line, tt.column,
					tt.want)
			}
		})
	}
}

func TestAtOutsideTheText(t *testing.T) {
	n := value(t, "'abc'")
	for _, tt := range []struct {
		start, end int
		want       string
		at         int
	}{{0, 3, "abc", 4}, {-5, 99, "abc", 4}, {3, 3, "", 7}, {2, 1, "", 6}, {99, 99, "", 7}} {
		if sp := n.At(tt.start, tt.end); sp.Text() != tt.want || sp.Start != tt.at {
			t.Errorf("At(%d, %d) = %q at %d", tt.start, tt.end, sp.Text(), sp.Start)
		}
	}
	list := value(t, "[a, b]")
	if sp := list.At(0, 1); sp != list.Span {
		t.Errorf("a list is shown whole, got %v", sp)
	}
	made := &Node{Kind: Scalar, Text: "x"}
	if sp := made.At(0, 1); !sp.IsZero() {
		t.Errorf("a node without a place has none, got %v", sp)
	}
}

// What does not follow from the source is never pointed at exactly.
func TestAtIsTheWholeScalarWhenUnsure(t *testing.T) {
	src := diag.NewSource("f", []byte(`"a\qb" 'c' |`))
	for _, n := range []*Node{
		{Style: Double, Text: "aqb", Span: diag.Span{Source: src, Start: 0, End: 6}},
		{Style: Double, Text: "a", Span: diag.Span{Source: src, Start: 7, End: 10}},
		{Style: Single, Text: "cc", Span: diag.Span{Source: src, Start: 7, End: 10}},
		{Style: Single, Text: "", Span: diag.Span{Source: src, Start: 7, End: 10}},
		{Style: Plain, Text: "b", Span: diag.Span{Source: src, Start: 0, End: 6}},
		{Style: Literal, Text: "c", Span: diag.Span{Source: src, Start: 11, End: 12}},
		{Style: JSONString, Text: "aqb", Span: diag.Span{Source: src, Start: 0, End: 6}},
	} {
		n.Kind = Scalar
		if sp := n.At(0, 1); sp != n.Span {
			t.Errorf("style %d: got %q", n.Style, sp.Text())
		}
	}
}

// lines draws the lines of a text that a literal block can hold.
func lines() *rapid.Generator[[]string] {
	word := rapid.SampledFrom([]string{"a", "ri > 1.81", "é日本", "\t", " ", "#", "'", `"`, `\`, ": ", "- ", "𝛼", ""})
	line := rapid.Map(rapid.SliceOfN(word, 0, 4), func(w []string) string { return strings.Join(w, "") })
	return rapid.SliceOfN(line, 1, 6)
}

// In a literal block each byte of the text is one of the source: the same, in rising order, line breaks being the first
// byte of theirs.
func TestAtInLiterals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := "x\n" + strings.Join(lines().Draw(t, "lines"), "\n") + "\nend\n"
		end := rapid.SampledFrom([]string{"\n", "\r\n", "\r"}).Draw(t, "line end")
		indent := strings.Repeat(" ", rapid.IntRange(1, 5).Draw(t, "indent"))
		source := "- k: |" + end + "   " + indent + strings.ReplaceAll(strings.TrimSuffix(text, "\n"), "\n",
			end+"   "+indent) + end + "  z: 1" + end
		nodes, out := parseYAML(source)
		if len(nodes) != 1 || len(out) > 0 {
			t.Fatalf("%q: %v", source, out)
		}
		n := nodes[0].Items[0].Get("k")
		if n.Text != text {
			t.Fatalf("the text is %q, want %q", n.Text, text)
		}
		last := -1
		for i := range len(text) {
			sp := n.At(i, i+1)
			if got := sp.Text(); got != text[i:i+1] && (text[i] != '\n' || got != end) || sp.Start <= last {
				t.Fatalf("byte %d of %q comes from %q at %d", i, text, got, sp.Start)
			}
			last = sp.Start
		}
	})
}

// In plain scalars each byte but a fold is one of the source, the same and in rising order.
func TestAtInPlainScalars(t *testing.T) {
	word := rapid.SampledFrom([]string{"a", "ri", "1.81", "é日本", "x#", "b:c", "𝛼\t\tz", "'"})
	gap := rapid.SampledFrom([]string{" ", "  ", "\n  ", " \t\n\n   ", "\r\n  ", "\r\n\r\n\r\n  "})
	rapid.Check(t, func(t *rapid.T) {
		source := "k: start"
		for range rapid.IntRange(0, 6).Draw(t, "words") {
			source += gap.Draw(t, "gap") + word.Draw(t, "word")
		}
		nodes, out := parseYAML(source)
		if len(nodes) != 1 || len(out) > 0 {
			t.Fatalf("%q: %v", source, out)
		}
		n := nodes[0].Get("k")
		if n.Span.End != len(source) {
			t.Fatalf("%q ends at %d", source, n.Span.End)
		}
		last := -1
		for i := range len(n.Text) {
			sp := n.At(i, i+1)
			same := sp.Text() == n.Text[i:i+1]
			folded := (n.Text[i] == ' ' || n.Text[i] == '\n') && strings.Trim(sp.Text(), "\r\n") == ""
			if !same && !folded || sp.Start <= last {
				t.Fatalf("byte %d of %q comes from %q at %d of %q", i, n.Text, sp.Text(), sp.Start, source)
			}
			last = sp.Start
		}
	})
}

// In quotes the source of each rune, put in quotes by itself, is read as that rune: by the YAML library and by
// encoding/json.
func TestAtInQuotes(t *testing.T) {
	runes := rapid.SampledFrom([]rune("aé日𝛼 '\"\\\t\n\u00a0/\x07\x1b#:"))
	rapid.Check(t, func(t *rapid.T) {
		text := string(rapid.SliceOfN(runes, 0, 12).Draw(t, "text"))
		asJSON, err := json.Marshal(text)
		if err != nil {
			t.Fatal(err)
		}
		forms := []string{string(asJSON), strconv.QuoteToASCII(text)}
		if !strings.ContainsAny(text, "\n\x07\x1b") {
			forms = append(forms, "'"+strings.ReplaceAll(text, "'", "''")+"'")
		}
		for i, form := range forms {
			nodes, out := parseYAML(form)
			if len(nodes) != 1 || len(out) > 0 || nodes[0].Text != text {
				t.Fatalf("%s: %v", form, out)
			}
			checkQuoted(t, nodes[0], form[:1], func(s string, v *string) error { return yaml.Unmarshal([]byte(s), v) })
			if i > 0 {
				continue
			}
			n, out := parseJSON(form)
			if len(out) > 0 || n.Text != text {
				t.Fatalf("JSON %s: %v", form, out)
			}
			checkQuoted(t, n, `"`, func(s string, v *string) error { return json.Unmarshal([]byte(s), v) })
		}
	})
}

func checkQuoted(t *rapid.T, n *Node, quote string, read func(s string, v *string) error) {
	for i, r := range n.Text {
		piece := n.At(i, i+len(string(r))).Text()
		var got string
		if err := read(quote+piece+quote, &got); err != nil || got != string(r) {
			t.Fatalf("%q of %q comes from %q, which reads %q (%v)", r, n.Text, piece, got, err)
		}
	}
	if end := n.At(len(n.Text), len(n.Text)); end.Start != n.Span.End-1 {
		t.Fatalf("the end of %q lies at %d of %d", n.Text, end.Start, n.Span.End)
	}
}

func TestYAMLEscapesAreTheLibrarys(t *testing.T) {
	for c := range 256 {
		var want string
		text := fmt.Sprintf("\"\\%s\"", string([]byte{byte(c)}))
		err := yaml.Unmarshal([]byte(text), &want)
		got, ours := yamlEscapes[byte(c)]
		isBreak, isHex := c == '\n' || c == '\r', c == 'x' || c == 'u' || c == 'U'
		if !isBreak && !isHex && (ours != (err == nil) || ours && got != want) {
			t.Errorf("escape %q: %q, the library reads %q (%v)", rune(c), got, want, err)
		}
	}
}
