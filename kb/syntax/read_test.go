package syntax

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.yaml.in/yaml/v4"
	"pgregory.net/rapid"

	"whystone/kb/diag"
)

// value parses one YAML value.
func value(t *testing.T, text string) *Node {
	t.Helper()
	nodes, out := parseYAML("k: " + text)
	if len(nodes) != 1 || len(out) > 0 {
		t.Fatalf("%q is not read: %v", text, out)
	}
	return nodes[0].Get("k")
}

// say writes what a reader returned or reported.
func say(v any, ok bool, out diag.List) string {
	if ok && len(out) == 0 {
		return fmt.Sprintf("%v", v)
	}
	if ok || len(out) != 1 {
		return fmt.Sprintf("ok %t with %d diagnostics", ok, len(out))
	}
	return string(out[0].Code) + ": " + out[0].Summary + strings.TrimRight(" | "+out[0].Detail, " |")
}

func TestStr(t *testing.T) {
	const quote = "quote-it: text is expected, but %s without quotes can be read as %s | If the text is meant, put " +
		"it in quotes: %q."
	for text, want := range map[string]string{
		"word": "word", "two words": "two words", "'12'": "12", `"yes"`: "yes", "|\n  1\n": "1\n",
		">\n  a\n  b\n": "a b\n", "''": "", "1.2.3": "1.2.3", "3D": "3D", "a1": "a1", "-": "", "-x": "-x",
		"1 to 2": "1 to 2", "nOn": "nOn", "y": "y", "tRue": "tRue", "+-1": "+-1", "...x": "...x", "0x": "0x",
		"12-13": "12-13", "2024-01-02x": "2024-01-02x", "01:2x": "01:2x",
		"[a]": "wrong-kind: text is expected here, but there is a list",
		"{}":  "wrong-kind: text is expected here, but there is a mapping",
		"":    "wrong-kind: text is expected here, but there is nothing",
	} {
		if text == "-" {
			continue // a dash alone is a list entry
		}
		var out diag.List
		got, ok := value(t, text).Str(&out)
		if s := say(got, ok, out); s != want {
			t.Errorf("%q: got %s, want %s", text, s, want)
		}
	}
	kinds := map[string][]string{
		plainNumber: {"1", "010", "1.10", "-3", "+4", ".5", "1.", "1e3", "1_000", "-_0", "1._5", "0x_1F", "0o17",
			"0b11", "12:30", "1:30:15.5", ".inf", "-.INF", ".nan", "1.5E-3"},
		plainTruth: {"true", "False", "TRUE", "yes", "No", "ON", "off"},
		plainNull:  {"~", "null", "Null", "NULL"},
		plainDate:  {"2024-01-02", "2024-1-2", "2024-01-02T10:20:30Z", "2024-01-02 10:20:30"},
	}
	for kind, words := range kinds {
		for _, w := range words {
			var out diag.List
			got, ok := value(t, w).Str(&out)
			if s := say(got, ok, out); s != fmt.Sprintf(quote, w, kind, w) {
				t.Errorf("%q: got %s", w, s)
			}
		}
	}
}

// Whatever the YAML library itself resolves to something other than a string must not be taken for text unquoted.
func TestStrRefusesWhatTheLibraryDoesNotReadAsText(t *testing.T) {
	words := rapid.StringOfN(rapid.SampledFrom([]rune("0123456789.:-+_eExobTZ~nulNULtrefasyo ")), 1, 12, -1)
	rapid.Check(t, func(t *rapid.T) {
		text := strings.TrimSpace(words.Draw(t, "text"))
		var kind struct{ K yaml.Node }
		if yaml.Unmarshal([]byte("k: "+text), &kind) != nil || kind.K.Kind != yaml.ScalarNode || kind.K.Value != text {
			t.Skip()
		}
		nodes, out := parseYAML("k: " + text)
		if len(nodes) != 1 {
			t.Fatalf("%q: %v", text, out)
		}
		_, ok := nodes[0].Get("k").Str(&out)
		if ok && kind.K.Tag != "!!str" {
			t.Fatalf("%q is taken for text, but reads as %s", text, kind.K.Tag)
		}
	})
}

func TestStrOfJSON(t *testing.T) {
	for text, want := range map[string]string{
		`"12"`: "12", `"yes"`: "yes", `""`: "",
		"12":   "wrong-kind: text in quotes is expected here, but there is 12",
		"true": "wrong-kind: text in quotes is expected here, but there is true",
		"null": "wrong-kind: text in quotes is expected here, but there is null",
		"[]":   "wrong-kind: text is expected here, but there is a list",
	} {
		n, out := parseJSON(text)
		got, ok := n.Str(&out)
		if s := say(got, ok, out); s != want {
			t.Errorf("%s: got %s, want %s", text, s, want)
		}
	}
}

func TestNum(t *testing.T) {
	for text, want := range map[string]string{
		"1.77": "1.77", "-0.5": "-0.5", "0": "0", "3e-4": "0.0003", "12E+2": "1200", "0e9": "0", "1e308": "1e+308",
		"1,77": "bad-number: a number is expected, but 1,77 is not written as one | Numbers are written " +
			"with a point: 1.77, not 1,77.",
		"26,000": "bad-number: a number is expected, but 26,000 is not written as one | If thousands are " +
			"meant, write 26000, without a separator; if decimals are, 26.0, with a point.",
		"26 000": "bad-number: a number is expected, but 26 000 is not written as one | Write the number " +
			"without separators: 26000.",
		"1%": "bad-number: a number is expected, but 1% is not written as one | Write a plain number: " +
			"an uncertainty in the unit of its observable, a share as 0.98 for 98%.",
		"'1.77'": `bad-number: a number is expected, but the text "1.77" is not written as one | Write the number without quotes.`,
		"010":    "bad-number: a number is expected, but 010 is not written as one | Write 10.",
		"00.5":   "bad-number: a number is expected, but 00.5 is not written as one | Write 0.5.",
		".5":     "bad-number: a number is expected, but .5 is not written as one | Write 0.5.",
		"+1.5":   "bad-number: a number is expected, but +1.5 is not written as one | Write 1.5.",
		"1_000": "bad-number: a number is expected, but 1_000 is not written as one | Write the digits " +
			"without underscores.",
		"0x10": "bad-number: a number is expected, but 0x10 is not written as one | Write digits with a " +
			"point, such as 1.77, -0.5 or 3e-4.",
		".inf": "bad-number: a number is expected, but .inf is not written as one | Write digits with a " +
			"point, such as 1.77, -0.5 or 3e-4.",
		"NaN": "bad-number: a number is expected, but NaN is not written as one | Write digits with a " +
			"point, such as 1.77, -0.5 or 3e-4.",
		"1.": "bad-number: a number is expected, but 1. is not written as one | Write digits with a " +
			"point, such as 1.77, -0.5 or 3e-4.",
		"word": "bad-number: a number is expected, but word is not written as one | Write digits with a " +
			"point, such as 1.77, -0.5 or 3e-4.",
		"1e999":           "bad-number: the number 1e999 is too large",
		"-1e999":          "bad-number: the number -1e999 is too large",
		"1e-999":          "bad-number: the number 1e-999 is too small to be told from 0",
		"1e9999999999999": "bad-number: the number 1e9999999999999 is too large",
		"yes":             "wrong-kind: a number is expected here, but there is yes",
		"~":               "wrong-kind: a number is expected here, but there is ~",
		"":                "wrong-kind: a number is expected here, but there is nothing",
		"'1,77'": `wrong-kind: a number is expected here, but there is the text "1,77" | ` +
			"Numbers are written with a point: 1.77, not 1,77.",
		"'word'": `wrong-kind: a number is expected here, but there is the text "word"`,
		"[1]":    "wrong-kind: a number is expected here, but there is a list",
	} {
		var out diag.List
		got, ok := value(t, text).Num(&out)
		if s := say(got, ok, out); s != want {
			t.Errorf("%q:\n got %s\nwant %s", text, s, want)
		}
	}
}

// Numbers are JSON's: encoding/json is the judge, for both kinds of text.
func TestNumAgreesWithEncodingJSON(t *testing.T) {
	texts := rapid.StringOfN(rapid.SampledFrom([]rune("0123456789.-+eE_,x")), 1, 10, -1)
	rapid.Check(t, func(t *rapid.T) {
		text := texts.Draw(t, "text")
		var want float64
		err := json.Unmarshal([]byte(text), &want)
		nodes, out := parseYAML("k: " + text)
		if len(nodes) != 1 {
			t.Skip() // a dash alone
		}
		got, ok := nodes[0].Get("k").Num(&out)
		tiny := err == nil && want == 0 &&
			strings.ContainsAny(strings.FieldsFunc(text, func(r rune) bool { return r == 'e' || r == 'E' })[0],
				"123456789")
		if ok != (err == nil && !tiny) || ok && math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%q: %v %t, encoding/json %v %v", text, got, ok, want, err)
		}
	})
}

func TestIntAndBool(t *testing.T) {
	for text, want := range map[string]string{
		"12": "12", "-3": "-3", "0": "0",
		"1.0":                  "bad-number: a whole number is expected, but 1.0 has a point or exponent",
		"1e3":                  "bad-number: a whole number is expected, but 1e3 has a point or exponent",
		"99999999999999999999": "bad-number: the number 99999999999999999999 is too large",
		"007":                  "bad-number: a whole number is expected, but 007 is not written as one | Write 7.",
		"true":                 "wrong-kind: a whole number is expected here, but there is true",
	} {
		var out diag.List
		got, ok := value(t, text).Int(&out)
		if s := say(got, ok, out); s != want {
			t.Errorf("Int %q: got %s, want %s", text, s, want)
		}
	}
	for text, want := range map[string]string{
		"true": "true", "false": "false",
		"yes":    "wrong-kind: true or false is expected here, but there is yes | Write true, without quotes.",
		"No":     "wrong-kind: true or false is expected here, but there is No | Write false, without quotes.",
		"nope":   "wrong-kind: true or false is expected here, but there is nope",
		"True":   "wrong-kind: true or false is expected here, but there is True | Write true, without quotes.",
		"'true'": `wrong-kind: true or false is expected here, but there is the text "true" | Write true, without quotes.`,
		"1":      "wrong-kind: true or false is expected here, but there is 1 | Write true, without quotes.",
		"{}":     "wrong-kind: true or false is expected here, but there is a mapping",
	} {
		var out diag.List
		got, ok := value(t, text).Bool(&out)
		if s := say(got, ok, out); s != want {
			t.Errorf("Bool %q: got %s, want %s", text, s, want)
		}
	}
	n, out := parseJSON(`[true, "true"]`)
	if got, ok := n.Items[0].Bool(&out); !got || !ok {
		t.Error("JSON's true must be true")
	}
	if _, ok := n.Items[1].Bool(&out); ok || len(out) != 1 {
		t.Error("a JSON string is no truth")
	}
}

func TestCollections(t *testing.T) {
	nodes, out := parseYAML("l: [a, b]\no: a\nm: {k: 1}\nn:\n")
	root := nodes[0]
	if items, ok := root.Get("l").List(&out); !ok || len(items) != 2 {
		t.Errorf("List: %v", items)
	}
	if items, ok := root.Get("l").ListOrOne(&out); !ok || len(items) != 2 {
		t.Errorf("ListOrOne of a list: %v", items)
	}
	if items, ok := root.Get("o").ListOrOne(&out); !ok || len(items) != 1 || items[0] != root.Get("o") {
		t.Errorf("ListOrOne of one: %v", items)
	}
	if entries, ok := root.Get("m").Map(&out); !ok || len(entries) != 1 || entries[0].Key.Text != "k" {
		t.Errorf("Map: %v", entries)
	}
	if len(out) > 0 {
		t.Fatalf("%v", out)
	}
	for _, refused := range []func() bool{
		func() bool { _, ok := root.Get("o").List(&out); return ok },
		func() bool { _, ok := root.Get("l").Map(&out); return ok },
		func() bool { _, ok := root.Get("n").ListOrOne(&out); return ok },
	} {
		before := len(out)
		if refused() || len(out) != before+1 || out[before].Code != "wrong-kind" {
			t.Errorf("got %v", out[before:])
		}
	}
}

func TestKeys(t *testing.T) {
	nodes, _ := parseYAML("says: x\nexclude: [y]\nif: z\nzzz: 1\n010: 2\n")
	var out diag.List
	if nodes[0].Keys(&out, "says", "if", "excludes", "supports") {
		t.Error("unknown keys must be refused")
	}
	want := "2:1 unknown-key \"exclude\"\n4:1 unknown-key \"zzz\""
	if d := cmp.Diff(want, refusals(out)); d != "" {
		t.Error(d)
	}
	if out[0].Nearest != "excludes" || out[1].Nearest != "" ||
		out[0].Detail != "Known keys: says, if, excludes, supports." {
		t.Errorf("got %+v", out)
	}
	out = nil
	if nodes[0].Get("says").Keys(&out, "x") || codes(out) != "wrong-kind" {
		t.Errorf("of a text: %v", out)
	}
	if n := value(t, "{a: 1, b: 2}"); !n.Keys(&out, "b", "a", "c") || len(out) != 1 {
		t.Errorf("known keys: %v", out)
	}
}

func TestNeed(t *testing.T) {
	nodes, out := parseYAML("\nsay: x\n")
	if n := nodes[0].Need(&out, "say"); n == nil || len(out) > 0 {
		t.Errorf("got %v", out)
	}
	if n := nodes[0].Need(&out, "says"); n != nil || refusals(out) != `2:1 missing-key "say"` ||
		len(out[0].Related) != 1 {
		t.Errorf("got %+v", out)
	}
	if n := nodes[0].Need(&out, "other"); n != nil || len(out) != 2 || len(out[1].Related) != 0 {
		t.Errorf("got %+v", out)
	}
	out = nil
	if n := value(t, "{}").Need(&out, "x"); n != nil || refusals(out) != `1:4 missing-key "{}"` {
		t.Errorf("of an empty mapping: %v", out)
	}
	out = nil
	if n := value(t, "[]").Need(&out, "x"); n != nil || len(out) != 0 {
		t.Errorf("of a list, which whoever reads it as a mapping reports: %v", out)
	}
}

func TestUnknownKeysAreCapped(t *testing.T) {
	var b strings.Builder
	for i := range 3 * maxUnknown {
		fmt.Fprintf(&b, "key-%d: 1\n", i)
	}
	nodes, out := parseYAML(b.String())
	if nodes[0].Keys(&out, "x") || len(out) != maxUnknown {
		t.Errorf("%d reports", len(out))
	}
}

func TestLongTextsAreCutInMessages(t *testing.T) {
	var out diag.List
	value(t, strings.Repeat("é", 500)).Num(&out)
	if len(out) != 1 || len(out[0].Summary) > 150 || !strings.Contains(out[0].Summary, "é…") {
		t.Errorf("got %v", out)
	}
}

func TestNilNodeIsAbsentAndSilent(t *testing.T) {
	var n *Node
	var out diag.List
	_, str := n.Str(&out)
	_, num := n.Num(&out)
	_, whole := n.Int(&out)
	_, truth := n.Bool(&out)
	_, list := n.List(&out)
	_, one := n.ListOrOne(&out)
	_, entries := n.Map(&out)
	if str || num || whole || truth || list || one || entries || n.Keys(&out) || n.Get("x") != nil ||
		n.Need(&out, "x") != nil {
		t.Error("a nil node must give nothing")
	}
	if !n.IsNull() || len(out) > 0 {
		t.Errorf("a nil node is null, and silent: %v", out)
	}
}

func TestIsNull(t *testing.T) {
	for text, want := range map[string]bool{"": true, "~": true, "null": true, "NULL": true, "'null'": false,
		"''": false, "no": false, "[]": false, "{}": false, "0": false} {
		if got := value(t, text).IsNull(); got != want {
			t.Errorf("%q: %t", text, got)
		}
	}
	for text, want := range map[string]bool{"null": true, `"null"`: false, "false": false, "0": false} {
		if n, _ := parseJSON(text); n.IsNull() != want {
			t.Errorf("JSON %q: %t", text, !want)
		}
	}
}
