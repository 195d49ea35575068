package syntax

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
		{"{stake: 26,000}", "26,000", "write 26000, without a separator; if decimals are, 26.0,"},
		{"{stake: 1,234,567, by: x}", "1,234,567", "1234567."},
		{"{ri: 1,54 to 1.56}", "1,54", "1.54, not 1,54."},
		{"{ri: above 1,540}", "1,540", "1540, without a separator; if decimals are, 1.54,"},
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
		"[1,544, 1,553]": "write 1544, without a separator; if decimals are, 1.544,", "[1,54, 1,55]": "1.54, not 1,54.",
		"[1,234,567]": "1234567.", "[-3,52]": "-3.52, not -3,52.", "[1, 544]": "", "[1.5,2]": "", "[a,2]": "", "[]": "",
		"[1,'5']": "", "[1,5.2]": "",
	} {
		nodes, _ := parseYAML(text)
		if got := nodes[0].CommaHint(); advice != "" && !strings.Contains(got, advice) || advice == "" && got != "" {
			t.Errorf("%s: %q", text, got)
		}
	}
}

func TestNoDecimalComma(t *testing.T) {
	for _, text := range []string{"{a: 1,54th}", "{a: 1, 5 to 6}", "{a: b1,5 to 6}", "{a: '1',5 to 6}"} {
		if _, out := parseYAML(text); len(out) > 0 {
			t.Errorf("%s: %v", text, out)
		}
	}
}

func TestSeparatorAdvice(t *testing.T) {
	for text, want := range map[string]string{
		"3,52": "3.52", "-3,52": "-3.52", "0,052": "0.052", "1234,567": "1234.567", "26,000": "26000", "1,544": "1.544",
		"1,234,567": "1234567", "26 000": "26000", "26'000": "26000", "26\u00A0000": "26000",
		"26\u202F000,5": "26000.5", "26’000": "26000", "26,000.50": "26000.50", "26.000,50": "26000.50",
		"1.234.567": "1234567", "1.234.567,8": "1234567.8", "26.000": "", "26000": "", "26 00": "", "a,000": "",
		"1,2,3": "", "": "",
	} {
		got := SeparatorAdvice(text)
		if (got == "") != (want == "") || !strings.Contains(got, want) {
			t.Errorf("%q: %q", text, got)
		}
	}
	for text, want := range map[string]string{"above 26 000": "26000", "stake > 5,000 and ri > 1": "5000",
		"1.5 to 1.6": "", "x": ""} {
		if got := SeparatorAdviceAt(text, -1); (got == "") != (want == "") || !strings.Contains(got, want) {
			t.Errorf("%q: %q", text, got)
		}
	}
	if got := SeparatorAdviceAt("1,77 and 2,88", 9); !strings.Contains(got, "2.88") {
		t.Errorf("the second: %q", got)
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
