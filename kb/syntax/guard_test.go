package syntax

import (
	"strings"
	"testing"
	"time"

	"go.yaml.in/yaml/v4"

	"whystone/kb/diag"
)

func codes(out diag.List) string {
	var all []string
	for _, d := range out {
		all = append(all, string(d.Code))
	}
	return strings.Join(all, " ")
}

func TestDepthLimit(t *testing.T) {
	nest := func(open, shut string, n int) string { return strings.Repeat(open, n) + strings.Repeat(shut, n) }
	indented := func(n int) string {
		var b strings.Builder
		for i := range n {
			b.WriteString(strings.Repeat(" ", i) + "a:\n")
		}
		return b.String()
	}
	mixed := strings.Repeat("- ", 40) + nest("[", "]", 40)
	for _, tt := range []struct {
		name, text string
		deep       bool
	}{
		{"lists", nest("[", "]", MaxDepth), false},
		{"lists too deep", nest("[", "]", MaxDepth+1), true},
		{"dashes", strings.Repeat("- ", MaxDepth) + "a", false},
		{"dashes too deep", strings.Repeat("- ", MaxDepth+1) + "a", true},
		{"indented", indented(MaxDepth), false},
		{"indented too deep", indented(MaxDepth + 1), true},
		{"dashes and brackets", mixed, true},
	} {
		nodes, out := parseYAML(tt.text)
		if got := codes(out); tt.deep != (got == "too-deep") || tt.deep == (len(out) == 0) || !tt.deep && nodes == nil {
			t.Errorf("YAML, %s: %v", tt.name, out)
		}
	}
	for n, want := range map[int]string{MaxDepth: "", MaxDepth + 1: "too-deep", MaxBytes / 2: "too-deep"} {
		if _, out := parseJSON(nest("[", "]", n)); codes(out) != want {
			t.Errorf("JSON, %d deep: %v", n, out)
		}
	}
	if _, out := parseJSON(`["[[[[` + strings.Repeat(`[\"[`, 200) + `"]`); len(out) > 0 {
		t.Errorf("brackets in a string are no nesting: %v", out)
	}
}

func TestSizeLimits(t *testing.T) {
	fits := "# " + strings.Repeat("x", MaxBytes-2)
	if _, out := parseYAML(fits); len(out) > 0 {
		t.Errorf("a text of the longest length: %v", out)
	}
	if _, out := parseYAML(fits + "x"); codes(out) != "too-long" {
		t.Errorf("a text too long: %v", out)
	}
	if _, out := parseJSON(`"` + strings.Repeat("x", MaxBytes-1) + `"`); codes(out) != "too-long" {
		t.Errorf("JSON too long: %v", out)
	}
	many := "[" + strings.Repeat("1,", MaxValues) + "1]"
	if _, out := parseYAML(many); codes(out) != "too-long" {
		t.Errorf("too many values: %v", out)
	}
	if _, out := parseJSON(many); codes(out) != "too-long" {
		t.Errorf("too many values in JSON: %v", out)
	}
	if n, out := parseJSON("[" + strings.Repeat("1,", MaxValues-2) + "1]"); len(out) > 0 ||
		len(n.Items) != MaxValues-1 {
		t.Errorf("as many values as may be: %v", out)
	}
}

func TestReportsAreCapped(t *testing.T) {
	_, out := parseYAML("{" + strings.Repeat("a: 1,", 3*maxReports) + "}")
	if len(out) != maxReports {
		t.Errorf("%d reports", len(out))
	}
	_, out = parseJSON(`{"a":1` + strings.Repeat(`,"a":1`, 3*maxReports) + `}`)
	if len(out) != maxReports {
		t.Errorf("%d reports of JSON", len(out))
	}
}

// Texts made to be slow or deep are read or refused in about the time that a plain one of the length takes. The bound
// is wide: it is to catch what grows with the square of the length, which takes thousands of times as long.
func TestHostileTexts(t *testing.T) {
	fill := func(s string) string { return strings.Repeat(s, (MaxBytes/16)/len(s)) }
	plain := max(timed(func() { parseYAML(fill("- a\n")) }), timed(func() { parseYAML(fill("- a\n")) }))
	for _, s := range []string{"[", "{", "- ", "? ", "a: ", "&a ", "*a ", "!a ", "{a: ", "[a: ", "#\n", "\n", " ", "\t",
		"a,", "- a\n", "---\n", "'", "\"", "\\", "|\n", ">\n", "a ", "a\n", "a: 1\n", "- a # x\n", "# x\n\n", "%A\n",
		"é", "a: |\n x\n", "\r", "?\n", ":\n", "-\n", "...\n", "a:\n  ", "[],", "'' "} {
		for _, text := range []string{fill(s), "[" + fill(s)[1:], "a: |\n  " + fill(s)[8:], "\"" + fill(s)[2:] + "\""} {
			var nodes []*Node
			var out diag.List
			spent := timed(func() { nodes, out = parseYAML(text) })
			if nodes == nil && !out.HasErrors() {
				t.Errorf("%.8q: neither read nor refused", text)
			}
			if spent > 200*plain {
				t.Errorf("%.8q took %v, a plain text %v", text, spent, plain)
			}
		}
	}
}

func timed(f func()) time.Duration {
	start := time.Now()
	f()
	return time.Since(start)
}

func TestPanicOfTheLibraryBecomesADiagnostic(t *testing.T) {
	kept := newLoader
	defer func() { newLoader = kept }()
	newLoader = func([]byte) (*yaml.Loader, error) { panic("made for the test") }
	nodes, out := parseYAML("a: 1")
	if nodes != nil || codes(out) != "bad-syntax" || !strings.Contains(out[0].Summary, "made for the test") {
		t.Errorf("got %v", out)
	}
}

// A library that stops before the end of the text must not go unnoticed.
func TestTheEndOfTheTextIsAccountedFor(t *testing.T) {
	kept := newLoader
	defer func() { newLoader = kept }()
	newLoader = func(text []byte) (*yaml.Loader, error) { return kept(text[:4]) }
	if _, out := parseYAML("a: 1\n# c\nb: 2\n"); refusals(out) != `3:1 bad-syntax "b: 2"` {
		t.Errorf("got %v", out)
	}
}

// What the YAML library passes over must not be passed over here: the check of the gaps is given a tree that lacks a
// value of the text.
func TestEveryByteIsAccountedFor(t *testing.T) {
	const text = "a: 1\nb: 2\n"
	src := diag.NewSource("f", []byte(text))
	var out diag.List
	convert(src, src.Text, []*yaml.Node{{Kind: yaml.DocumentNode,
		Content: []*yaml.Node{{Kind: yaml.ScalarNode, Value: "a", Line: 1, Column: 1}}}}, &out)
	if want := "1:4 bad-syntax \"1\"\n2:1 bad-syntax \"b: 2\""; refusals(out) != want {
		t.Errorf("got %s, want %s", refusals(out), want)
	}
}
