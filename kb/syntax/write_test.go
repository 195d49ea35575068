package syntax

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb/diag"
)

// TestWriteText: how some texts are written.
func TestWriteText(t *testing.T) {
	for text, want := range map[string]string{
		"round brilliant":  "round brilliant",
		"A-0412":           "A-0412",
		"no":               `"no"`,
		"True":             `"True"`,
		"1.77":             `"1.77"`,
		"2031-04-12":       `"2031-04-12"`,
		"":                 `""`,
		"a: b # c":         `"a: b # c"`,
		`say "no" \ yes`:   `"say \"no\" \\ yes"`,
		"two\nlines":       `"two\nlines"`,
		"Größe 7 €":        `"Größe 7 €"`,
		"\u2028\x01\ufeff": `"\U00002028\U00000001\U0000FEFF"`,
	} {
		if got := WriteText(text); got != want {
			t.Errorf("%q is written %s, want %s", text, got, want)
		}
	}
}

// FuzzWriteText: whatever a text holds, it is read back as text and the same, as a value, as a key and in a list.
func FuzzWriteText(f *testing.F) {
	for _, s := range []string{"", "round brilliant", "no", "~", "<<", "1e3", "0x1f", "1:30", "2031-04-12", "- a",
		"a: b", "a #b", " a", "a ", "'", `"`, `\`, "\n", "\t", "\r", "\u0085", "\u2028", "\ufeff", "\ufffd", "é", "💎",
		"{a}", "[a]", "&a", "*a", "!a", "|", ">", "%", "@", "`", "? a"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		s = strings.ReplaceAll(strings.ToValidUTF8(s, "\ufffd"), "\x00", "") // no text that is read has one
		if len(s) > 1000 {                                                   // YAML ends a key after 1024 characters
			return
		}
		for _, text := range []string{"k: " + WriteText(s), "k: {" + "k: " + WriteText(s) + "}",
			"k: [" + WriteText(s) + "]", "k: {" + WriteText(s) + ": 1}", "- " + WriteText(s)} {
			var out diag.List
			docs := ParseYAML(diag.NewSource("t.yaml", []byte(text+"\n")), &out)
			if len(docs) != 1 {
				t.Fatalf("%s\n%s", text, out.Error())
			}
			if found := deepest(docs[0]); found.Text != s {
				t.Fatalf("%s is read as %q, want %q", text, found.Text, s)
			} else if got, ok := found.Str(&out); !ok || got != s {
				t.Fatalf("%s is not read as a text: %s", text, out.Error())
			}
		}
	})
}

// deepest is the last scalar that is no 1.
func deepest(n *Node) *Node {
	switch {
	case n.Kind == List:
		return deepest(n.Items[0])
	case n.Kind == Map && n.Entries[0].Value.Text == "1" && n.Entries[0].Value.Style == Plain:
		return n.Entries[0].Key
	case n.Kind == Map:
		return deepest(n.Entries[0].Value)
	}
	return n
}

// TestWrite: a tree is read back as it was, however wide and deep it is; a number as a number, a text as a text. No
// line is longer than a line should be but for one long text.
func TestWrite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := tree(t, 3)
		if n.Kind == Scalar {
			return
		}
		open := rapid.SliceOfN(rapid.SampledFrom(append(keysOf(n), "a")), 0, 2).Draw(t, "open")
		text := Write(NewMap(Keyed("top", NewMap(Keyed("value", n)))), open...)
		var out diag.List
		docs := ParseYAML(diag.NewSource("t.yaml", []byte(text)), &out)
		if len(docs) != 1 || len(out) > 0 {
			t.Fatalf("%s\n%s", text, out.Error())
		}
		if d := cmp.Diff(shape(n), shape(docs[0].Get("top").Get("value"))); d != "" {
			t.Fatalf("%s\n%s", text, d)
		}
		for _, line := range strings.Split(text, "\n") {
			if len([]rune(line)) > Width && strings.Count(line, ", ") > 1 && !strings.Contains(line, `"`) {
				t.Fatalf("this line is too long: %s", line)
			}
		}
	})
}

// keysOf are the keys within a tree.
func keysOf(n *Node) (out []string) {
	for _, e := range n.Entries {
		out = append(append(out, e.Key.Text), keysOf(e.Value)...)
	}
	for _, it := range n.Items {
		out = append(out, keysOf(it)...)
	}
	return out
}

// tree draws a tree as a case may be given: its texts in quotes, in JSON or plain.
func tree(t *rapid.T, depth int) *Node {
	kind := rapid.IntRange(0, 5).Draw(t, "kind")
	if depth == 0 {
		kind = rapid.IntRange(2, 5).Draw(t, "scalar")
	}
	switch kind {
	case 0:
		n := &Node{Kind: Map}
		for _, key := range rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z_]{1,12}|[^\x00]{1,8}`), 0, 6,
			rapid.ID[string]).Draw(t, "keys") {
			n.Entries = append(n.Entries, Keyed(key, tree(t, depth-1)))
		}
		return n
	case 1:
		n := &Node{Kind: List}
		for range rapid.IntRange(0, 6).Draw(t, "items") {
			n.Items = append(n.Items, tree(t, depth-1))
		}
		return n
	case 2:
		return &Node{Kind: Scalar, Style: rapid.SampledFrom([]Style{Plain, JSONNumber}).Draw(t, "style"),
			Text: rapid.SampledFrom([]string{"0", "-1.50", "3.52", "1e-3", "2E+5", "1234567.125"}).Draw(t, "number")}
	case 3:
		return &Node{Kind: Scalar, Style: rapid.SampledFrom([]Style{Plain, JSONWord}).Draw(t, "style"),
			Text: rapid.SampledFrom([]string{"true", "false", "null"}).Draw(t, "word")}
	case 4:
		return &Node{Kind: Scalar, Style: Plain, Text: rapid.SampledFrom([]string{"round brilliant", "2031-04-12",
			"2031-04-12T10:20:00+02:00", "diamond range", "a-b"}).Draw(t, "plain")}
	}
	return &Node{Kind: Scalar, Style: rapid.SampledFrom([]Style{Single, Double, JSONString, Literal}).Draw(t, "style"),
		Text: strings.ReplaceAll(rapid.String().Draw(t, "text"), "\x00", "")}
}

// shape is what a tree says, its numbers and truths told apart from texts.
func shape(n *Node) any {
	switch n.Kind {
	case Map:
		out := map[string]any{}
		for _, e := range n.Entries {
			out[e.Key.Text] = shape(e.Value)
		}
		return out
	case List:
		out := []any{}
		for _, it := range n.Items {
			out = append(out, shape(it))
		}
		return out
	}
	var none diag.List
	if x, ok := n.Num(&none); ok {
		return x
	}
	if is, ok := n.Bool(&none); ok {
		return is
	}
	if n.IsNull() {
		return nil
	}
	return n.Text
}

// TestLayout: what stands on one line, and what doesn't.
func TestLayout(t *testing.T) {
	long := NewTexts("the first of three long texts", "the second of three long texts", "the third of three long texts")
	inner := NewMap(Keyed("stone", NewList(NewWord("1"), NewTexts("2"))))
	nest := NewMap(Keyed("b", NewMap(Keyed("stone", NewMap(Keyed("c", NewWord("2")))))))
	n := NewMap(Keyed("case", NewText("A-1")), Keyed("stone", NewMap(Keyed("carat", NewWord("1.20")))),
		Keyed("none", NewMap()), Keyed("nest", nest), Keyed("list", long),
		Keyed("deep", NewList(NewMap(Keyed("a", long), Keyed("b", inner)),
			NewWord("true"))))
	for _, c := range []struct {
		open []string
		want string
	}{
		{nil, `case: A-1
stone: {carat: 1.20}
none: {}
nest: {b: {stone: {c: 2}}}
list: [the first of three long texts, the second of three long texts,
  the third of three long texts]
deep:
  - a: [the first of three long texts, the second of three long texts,
      the third of three long texts]
    b: {stone: [1, ["2"]]}
  - true
`},
		{[]string{"stone", "none"}, `case: A-1
stone:
  carat: 1.20
none: {}
nest:
  b:
    stone:
      c: 2
list: [the first of three long texts, the second of three long texts,
  the third of three long texts]
deep:
  - a: [the first of three long texts, the second of three long texts,
      the third of three long texts]
    b:
      stone:
        - 1
        - ["2"]
  - true
`},
	} {
		if d := cmp.Diff(c.want, Write(n, c.open...)); d != "" {
			t.Errorf("open %q:\n%s", c.open, d)
		}
	}
	if got := WriteItem(2, n.Get("stone")); got != "  - {carat: 1.20}\n" {
		t.Errorf("an item is %q", got)
	}
}

// FuzzWrite: whatever YAML can be read is the same when it is written and read again, on lines as long as they are or
// on one.
func FuzzWrite(f *testing.F) {
	for _, s := range []string{"a: {b: [1, x, ~], c: \"1\"}", "- a\n- b: c\n  d: [e]", "? a\n: - - b",
		"a: >\n  b\n\n  c", "\"\": ''", "a: [[], {}, [[1]]]"} {
		f.Add(s, "b")
	}
	f.Fuzz(func(t *testing.T, text, open string) {
		n, out := parseYAML(text)
		// YAML ends a key after 1024 characters
		if len(n) != 1 || out.HasErrors() || longestKey(n[0]) > 1000 || depthOf(n[0]) > MaxDepth-3 {
			return
		}
		for written, item := range map[string]bool{Write(NewMap(Keyed("k", n[0])), open): false,
			"k: " + WriteLine(n[0]): false, "k:\n" + WriteItem(1, NewMap(Keyed("i", n[0])), open): true} {
			again, refused := parseYAML(written)
			if len(again) != 1 || len(refused) > 0 {
				t.Fatalf("%q: %s", written, refused.Error())
			}
			got := again[0].Get("k")
			if item {
				got = got.Items[0].Get("i")
			}
			if d := cmp.Diff(shape(n[0]), shape(got)); d != "" {
				t.Fatalf("%q\n%s", written, d)
			}
		}
	})
}

func longestKey(n *Node) (longest int) {
	for _, k := range keysOf(n) {
		longest = max(longest, len(k))
	}
	return longest
}

func depthOf(n *Node) (deepest int) {
	for _, e := range n.Entries {
		deepest = max(deepest, depthOf(e.Value))
	}
	for _, it := range n.Items {
		deepest = max(deepest, depthOf(it))
	}
	return deepest + 1
}
