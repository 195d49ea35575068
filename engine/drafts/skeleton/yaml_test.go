package skeleton

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb/diag"
	"whystone/kb/doc"
)

// TestScalar: how some texts are written.
func TestScalar(t *testing.T) {
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
		if got := scalar(text); got != want {
			t.Errorf("%q is written %s, want %s", text, got, want)
		}
	}
}

// FuzzScalar: whatever a text holds, it is read back as text and the same, as a value, as a key and in a list.
func FuzzScalar(f *testing.F) {
	for _, s := range []string{"", "round brilliant", "no", "~", "<<", "1e3", "0x1f", "1:30", "2031-04-12", "- a", "a: b", "a #b", " a", "a ", "'", `"`, `\`, "\n", "\t", "\r",
		"\u0085", "\u2028", "\ufeff", "\ufffd", "é", "💎", "{a}", "[a]", "&a", "*a", "!a", "|", ">", "%", "@", "`", "? a"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		s = strings.ReplaceAll(strings.ToValidUTF8(s, "\ufffd"), "\x00", "") // no text that is read has one
		if len(s) > 1000 {                                                   // YAML ends a key after 1024 characters
			return
		}
		for _, text := range []string{"k: " + scalar(s), "k: {" + "k: " + scalar(s) + "}", "k: [" + scalar(s) + "]", "k: {" + scalar(s) + ": 1}", "- " + scalar(s)} {
			var out diag.List
			docs := doc.ParseYAML(diag.NewSource("t.yaml", []byte(text+"\n")), &out)
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
func deepest(n *doc.Node) *doc.Node {
	switch {
	case n.Kind == doc.List:
		return deepest(n.Items[0])
	case n.Kind == doc.Map && n.Entries[0].Value.Text == "1" && n.Entries[0].Value.Style == doc.Plain:
		return n.Entries[0].Key
	case n.Kind == doc.Map:
		return deepest(n.Entries[0].Value)
	}
	return n
}

// TestBlock: a tree is read back as it was, however wide and deep it is; a number as a number, a text as a text. No line is
// longer than a line should be but for one long text.
func TestBlock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := tree(t, 3)
		if n.Kind == doc.Scalar {
			return
		}
		var b strings.Builder
		b.WriteString("top:\n")
		block(&b, 2, "value:", n)
		var out diag.List
		docs := doc.ParseYAML(diag.NewSource("t.yaml", []byte(b.String())), &out)
		if len(docs) != 1 || len(out) > 0 {
			t.Fatalf("%s\n%s", b.String(), out.Error())
		}
		if d := cmp.Diff(shape(n), shape(docs[0].Get("top").Get("value"))); d != "" {
			t.Fatalf("%s\n%s", b.String(), d)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if len([]rune(line)) > width && strings.Count(line, ", ") > 1 && !strings.Contains(line, `"`) {
				t.Fatalf("this line is too long: %s", line)
			}
		}
	})
}

// tree draws a tree as a case may be given: its texts in quotes, in JSON or plain.
func tree(t *rapid.T, depth int) *doc.Node {
	kind := rapid.IntRange(0, 5).Draw(t, "kind")
	if depth == 0 {
		kind = rapid.IntRange(2, 5).Draw(t, "scalar")
	}
	switch kind {
	case 0:
		n := &doc.Node{Kind: doc.Map}
		for _, key := range rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z_]{1,12}|[^\x00]{1,8}`), 0, 6, rapid.ID[string]).Draw(t, "keys") {
			n.Entries = append(n.Entries, entry(key, tree(t, depth-1)))
		}
		return n
	case 1:
		n := &doc.Node{Kind: doc.List}
		for range rapid.IntRange(0, 6).Draw(t, "items") {
			n.Items = append(n.Items, tree(t, depth-1))
		}
		return n
	case 2:
		return &doc.Node{Kind: doc.Scalar, Style: rapid.SampledFrom([]doc.Style{doc.Plain, doc.JSONNumber}).Draw(t, "style"),
			Text: rapid.SampledFrom([]string{"0", "-1.50", "3.52", "1e-3", "2E+5", "1234567.125"}).Draw(t, "number")}
	case 3:
		return &doc.Node{Kind: doc.Scalar, Style: rapid.SampledFrom([]doc.Style{doc.Plain, doc.JSONWord}).Draw(t, "style"),
			Text: rapid.SampledFrom([]string{"true", "false", "null"}).Draw(t, "word")}
	case 4:
		return &doc.Node{Kind: doc.Scalar, Style: doc.Plain, Text: rapid.SampledFrom([]string{"round brilliant", "2031-04-12", "2031-04-12T10:20:00+02:00", "diamond range", "a-b"}).Draw(t, "plain")}
	}
	return &doc.Node{Kind: doc.Scalar, Style: rapid.SampledFrom([]doc.Style{doc.Single, doc.Double, doc.JSONString, doc.Literal}).Draw(t, "style"), Text: strings.ReplaceAll(rapid.String().Draw(t, "text"), "\x00", "")}
}

// shape is what a tree says, its numbers and truths told apart from texts.
func shape(n *doc.Node) any {
	switch n.Kind {
	case doc.Map:
		out := map[string]any{}
		for _, e := range n.Entries {
			out[e.Key.Text] = shape(e.Value)
		}
		return out
	case doc.List:
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
