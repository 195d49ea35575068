package doc

import (
	"strings"
	"testing"

	"whystone/kb/diag"
)

// A comma for a point is told where YAML makes two things of a number, and nowhere else.
func TestDecimalCommas(t *testing.T) {
	for _, tt := range []struct{ text, span, advice string }{
		{"{value: 3,52}", "3,52", "3.52, not 3,52."},
		{"{a: x, value: -3,52 , b: 1}", "-3,52", "-3.52, not -3,52."},
		{"{value: 0,052,\n by: x}", "0,052", "0.052, not 0,052."},
		{"{value: 3, 52}", "52", ""},   // two entries, the second of which is no key
		{"{value: x3,52}", "52", ""},   // no number before the comma
		{"{value: 3,52: x}", "52", ""}, // a key that has a value
	} {
		_, out := parseYAML(tt.text)
		if len(out) != 1 || out[0].Span.Text() != tt.span || !strings.Contains(out[0].Detail, tt.advice) ||
			(out[0].Code == "bad-number") != (tt.advice != "") {
			t.Errorf("%s: %v, %q", tt.text, out, out[0].Detail)
		}
	}
	for text, advice := range map[string]string{
		"[1,544, 1,553]": "1.544, not 1,544.", "[-3,52]": "-3.52, not -3,52.", "[1, 544]": "", "[1.5,2]": "", "[a,2]": "", "[]": "",
		"[1,'5']": "", "[1,5.2]": "",
	} {
		nodes, _ := parseYAML(text)
		if got := nodes[0].CommaHint(); advice != "" && !strings.Contains(got, advice) || advice == "" && got != "" {
			t.Errorf("%s: %q", text, got)
		}
	}
}

func TestMisspells(t *testing.T) {
	nodes, _ := parseYAML("{rul: x, says: y, lain: z}")
	n := nodes[0]
	for key, want := range map[string]bool{"rule": true, "says": false, "lane": true, "source": false} {
		if got := n.Misspells(key, "rule", "says", "lane", "source"); got != want {
			t.Errorf("%s: %v", key, got)
		}
	}
	if n.Misspells("run", "rul", "run") {
		t.Error("a known key misspells no other")
	}
	var none *Node
	if none.Misspells("x") {
		t.Error("nothing misspells nothing")
	}
}

func TestTrueAndFalseMisspelt(t *testing.T) {
	for text, near := range map[string]string{"ture": "true", "flase": "false", "yes": "", "'ture'": ""} {
		nodes, _ := parseYAML(text)
		var out diag.List
		if _, ok := nodes[0].Bool(&out); ok || len(out) != 1 || out[0].Nearest != near {
			t.Errorf("%s: %v", text, out)
		}
	}
}
