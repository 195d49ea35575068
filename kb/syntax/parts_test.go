package syntax

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/diag"
)

// TestParts: of a text with slips each item that has one is told and left out, and all others are read, at their
// places.
func TestParts(t *testing.T) {
	for _, tt := range []struct{ name, text, errors, read string }{
		{"none", "format: 1\nrules:\n  - rule: a\n  - rule: b\n", "", "a b"},
		{"two items", "format: 1\nrules:\n  - rule: a\n    if: \"x\n  - rule: b\n  - rule: c\n    d: [1, 2\n  - " +
			"rule: e\n", "4:9 7:8", "b e"},
		{"no indent", "format: 1\nrules:\n- rule: a\n  x: y: z\n- rule: b\n", "4:7", "b"},
		{"a conflict", "format: 1\nrules:\n<<<<<<< a\n  - rule: a\n=======\n  - rule: b\n>>>>>>> b\n", "3:1", ""},
		{"a key", "format: 1\npolicy:\n  a: b: c\nrules:\n  - rule: a\n", "3:7", "a"},
		{"CRLF and wide letters", "format: 1\r\nrules:\r\n  - rule: é\r\n    x: \"y\r\n  - rule: b\r\n", "4:8", "b"},
		{"a tab", "format: 1\nrules:\n  - rule: a\n\tif: x\n  - rule: b\n", "4:1", "b"},
		{"nothing to tell apart", "a b\nc: d\n e\n", "2:2", ""},
		{"UTF-16", "\xff\xfea\x00", "1:1", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var out diag.List
			src := diag.NewSource("f", []byte(tt.text))
			docs, unread := ParseYAMLParts(src, &out)
			var read, errors []string
			for _, d := range docs {
				for _, it := range d.Get("rules").list() {
					id := it.Get("rule")
					if id.Span.Text() != id.Text {
						t.Errorf("%s is said to stand at %q", id.Text, id.Span.Text())
					}
					read = append(read, id.Text)
				}
			}
			for _, d := range out {
				errors = append(errors, strings.TrimPrefix(d.Span.String(), "f:"))
			}
			if got := strings.Join(read, " "); got != tt.read {
				t.Errorf("read %q, want %q", got, tt.read)
			}
			if strings.Join(errors, " ") != tt.errors || (len(unread) > 0) != (len(errors) > 0) {
				t.Errorf("%v, %d unread\n%s", errors, len(unread), out.Error())
			}
		})
	}
}

func (n *Node) list() []*Node {
	if n == nil {
		return nil
	}
	return n.Items
}

// Whatever the text: it is read whole, or something is told, and places stay within it.
func TestPartsOfAnyText(t *testing.T) {
	line := rapid.SampledFrom([]string{"format: 1", "rules:", "  - rule: a", "- rule: b", "    if: \"x", "    c: [1,",
		"    d: |", "      e: f: g", "tests:", "\tx", "---", "  - {", "}", "'", ""})
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(line, 0, 20).Draw(t, "lines"), "\n")
		var out, whole diag.List
		src := diag.NewSource("f", []byte(text))
		docs, unread := ParseYAMLParts(src, &out)
		if ParseYAML(src, &whole) != nil && len(unread) > 0 || len(unread) > 0 && !out.HasErrors() || docs == nil &&
			len(unread) == 0 {
			t.Fatalf("%d documents, %d unread, %v", len(docs), len(unread), out)
		}
		for _, at := range unread {
			if at.Start < 0 || at.End > len(text) || at.Start > at.End {
				t.Fatalf("%d to %d of %d", at.Start, at.End, len(text))
			}
		}
	})
}
