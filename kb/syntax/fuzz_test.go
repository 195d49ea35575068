package syntax

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
)

// checkTree checks that spans lie in the text, in each other and in order, and that every scalar's text follows from
// the source byte by byte.
func checkTree(t *testing.T, n *Node, start, end int) {
	t.Helper()
	if n.Span.Start < start || n.Span.End < n.Span.Start || n.Span.End > end {
		t.Fatalf("%d-%d lies outside %d-%d: %q", n.Span.Start, n.Span.End, start, end, n.Span.Text())
	}
	if n.bad {
		return
	}
	if n.Kind == Scalar && n.Style != Folded {
		if _, _, ok := n.places(); !ok {
			t.Fatalf("%q does not follow from %q", n.Text, n.Span.Text())
		}
	}
	at := n.Span.Start
	for _, e := range n.Entries {
		checkTree(t, e.Key, at, n.Span.End)
		checkTree(t, e.Value, e.Key.Span.End, n.Span.End)
		at = e.Value.Span.End
	}
	for _, item := range n.Items {
		checkTree(t, item, at, n.Span.End)
		at = item.Span.End
	}
}

func checkReports(t *testing.T, text []byte, out diag.List) {
	t.Helper()
	for _, d := range out {
		if d.Span.Start < 0 || d.Span.End < d.Span.Start || d.Span.End > len(text) || !diag.Known(d.Code) ||
			d.Summary == "" {
			t.Fatalf("%+v", d)
		}
	}
	if err := diag.WriteText(&bytes.Buffer{}, out, diag.TextOptions{}); err != nil {
		t.Fatal(err)
	}
}

func FuzzYAML(f *testing.F) {
	for _, s := range []string{"", "a: 1\n", "- 'x''y'\n- \"\\u00e9\\\n  z\"\n", "k: |2-\n    a\n\n   b\n",
		">+\n a\n\n", "{a: [b, c], d: }", "a: b\n  c\n\n  d # e\n---\n...\n", "\uFEFF# c\r\nx:\r\n- é\r\n",
		"a: &b !c d\ne: *b\n<<: {}\n", "? a\n: b\n", "%YAML 1.1\n---\n[", "a: |\n  x\n y", "?  \"\r# ?  q?\"\r# q? \r",
		">\n00", " \n  |  \n  x\n     "} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var out diag.List
		nodes := ParseYAML(diag.NewSource("f", text), &out)
		checkReports(t, text, out)
		if nodes == nil {
			if !out.HasErrors() {
				t.Fatal("neither read nor refused")
			}
			return
		}
		at := 0
		for _, n := range nodes {
			if !out.HasErrors() {
				checkTree(t, n, at, len(text))
				at = n.Span.End
			}
		}
		for _, d := range out {
			if strings.Contains(d.Summary, "belongs to no value") {
				t.Fatalf("the library passed over text, or its end was misjudged: %v %q", d, d.Span.Text())
			}
		}
	})
}

func FuzzJSON(f *testing.F) {
	for _, s := range []string{`{"a":[1,-2.5e+3,true,null],"b":{"c":"\u00e9\ud83d\ude00\n"}}`, "[]", `"\ud800"`,
		`{"a":1,"a":2}`, "1 2", `[1,]`, "\uFEFF0", `{"\u0000":1}`, " \r\n\t1e999 ", `["\\\"", "\/"]`, "nul", "[[[[",
		"\"\xff\""} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var out diag.List
		n := ParseJSON(diag.NewSource("f", text), &out)
		checkReports(t, text, out)
		bare := bytes.TrimPrefix(text, []byte("\uFEFF"))
		extra := !utf8.Valid(bare) || bytes.IndexByte(bare, 0) >= 0 || len(bare) > MaxBytes ||
			strings.Contains(codes(out), "too-")
		if accepted := n != nil; accepted != (json.Valid(bare) && !extra) {
			t.Fatalf("accepted: %t; encoding/json: %t; refused besides: %t; %v", accepted, json.Valid(bare), extra, out)
		}
		if n == nil {
			if !out.HasErrors() {
				t.Fatal("neither read nor refused")
			}
			return
		}
		if len(out) > 0 {
			for _, d := range out {
				if d.Code != "duplicate-key" && d.Code != "bad-encoding" {
					t.Fatalf("a text that is read has %v", d)
				}
			}
			return
		}
		checkTree(t, n, 0, len(text))
		dec := json.NewDecoder(bytes.NewReader(bare))
		dec.UseNumber()
		var want any
		if err := dec.Decode(&want); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, plainValue(n)); d != "" {
			t.Fatal(d)
		}
	})
}

// plainValue turns JSON nodes into what encoding/json makes of the text.
func plainValue(n *Node) any {
	switch {
	case n.Kind == Map:
		m := map[string]any{}
		for _, e := range n.Entries {
			m[e.Key.Text] = plainValue(e.Value)
		}
		return m
	case n.Kind == List:
		l := []any{}
		for _, item := range n.Items {
			l = append(l, plainValue(item))
		}
		return l
	case n.Style == JSONString:
		return n.Text
	case n.Style == JSONNumber:
		return json.Number(n.Text)
	case n.Text == "null":
		return nil
	}
	return n.Text == "true"
}
