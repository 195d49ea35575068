package casefile

import (
	"os"
	"slices"
	"strings"
	"testing"

	"whystone/kb/diag"
	"whystone/kb/internal/want"
	"whystone/kb/vocab"
)

// TestRefused: what can't be meant is refused where it stands, all of it at once, with the nearest known name.
func TestRefused(t *testing.T) {
	text, err := os.ReadFile("testdata/refused.yaml")
	if err != nil {
		t.Fatal(err)
	}
	cases, src, out := readYAML(bench(t), "refused.yaml", string(text))
	for _, d := range want.Check([]*diag.Source{src}, out) {
		t.Error(d)
	}
	for _, c := range cases {
		if c != nil {
			t.Errorf("the case %q was read", c.ID)
		}
	}
	for _, d := range out {
		if !diag.Known(d.Code) {
			t.Errorf("%s is not in the table of codes", d.Code)
		}
	}
}

// TestHints: what to write instead is told.
func TestHints(t *testing.T) {
	rd := bench(t)
	for reading, hint := range map[string]string{
		"ri: 1.9":                                         "{above: 1.81}",
		"ri: 2.4":                                         "{value: 2.4, test: ...}",
		"specific_gravity: [3.5, 3.51]":                   "[{value: 3.52}, {value: 3.51}]",
		"facet_doubling: greenish":                        "It has: none, slight, strong.",
		"inclusions: []":                                  "looked_for",
		"spectrum: [692 nm weak]":                         "It has: faint, distinct, strong.",
		"spectrum: [500]":                                 "The nearest is iron bands.",
		"specific_gravity: {value: 3,52}":                 "3.52, not 3,52",
		"specific_gravity: 3,52":                          "3.52, not 3,52",
		"specific_gravity: {above: -3,5, by: me}":         "-3.5, not -3,5",
		"specific_gravity: [3,52]":                        "3.52, not 3,52",
		"specific_gravity: {between: [3,5, 3,6]}":         "3.5, not 3,5",
		"ri: [1,544, 1,553]":                              "write 1544, without a separator; if decimals are, 1.544,",
		"specific_gravity: {value: 3.5, uncertainty: 1%}": "in the unit of its observable",
		"ri: 1.544-1.553": "[1.544, 1.553]. Two bounds are {between: [1.544, " +
			"1.553]}, repeats [{value: 1.544}, {value: 1.553}].",
		"specific_gravity: 3.51 and 3.53": "Two bounds are {between: [3.51, 3.53]}, repeats " +
			"[{value: 3.51}, {value: 3.53}].",
		"ri: [1.544, 1.545, 1.553]":                        "Repeats are a list of maps: [{value: 1.544}, {value: 1.545}].",
		"facet_doubling: [slight, strong]":                 "[{choice: ...}, {choice: ...}]",
		"facet_doubling: slight or strong":                 "{inconclusive: slight or strong}",
		"ri: {low: 1.544, high: 1.553}":                    "the lower one first: [1.544, 1.553]",
		"ri: {crown: 1.544, pavilion: 1.762}":              "[{value: ..., where: crown}, {value: ..., where: pavilion}]",
		"inclusions: [[feather], [crystal]]":               "[{features: [...]}, {features: [...]}]",
		"inclusions: feather, crystal":                     "Several features of inclusions stand in brackets",
		`ri: ">1.81"`:                                      "Write {above: 1.81}.",
		"ri: '<= 1.4'":                                     "Write {below: 1.4}.",
		"ri: {value: 1.35, instrument: old-refractometer}": "{below: 1.4}",
	} {
		_, _, out := readYAML(rd, "case.yaml", "case: A-1\nreadings: {"+reading+"}")
		if len(out) == 0 || len(out) > 2 || !strings.Contains(out[0].Advice(), hint) {
			t.Errorf("%s: %q is not in %v", reading, hint, out)
		}
		if len(out) > 0 && strings.ContainsAny(out[0].Detail, "{[") {
			t.Errorf("%s: a form would tell how a file has it: %s", reading, out[0].Detail)
		}
	}
}

// TestBeyondAnyStone: of what no stone weighs or measures, and no instrument leaves open, the limit and the unit are
// told.
func TestBeyondAnyStone(t *testing.T) {
	rd := bench(t)
	for text, want := range map[string][2]string{
		"stone: {carat: 1000000}": {"carat can't be 1000000: at most 100,000 ct are taken", "1 g is 5 ct"},
		"stone: {width_mm: 6450}": {"width_mm can't be 6450: at most 1,000 mm are taken", "millimetres"},
		"readings: {specific_gravity: {value: 3.2, uncertainty: 7.1}}": {
			"an uncertainty of 7.1 is wider than all that specific_gravity can be, which is 1 to 8", "not in per cent"},
		"stone: {carat: 100000, width_mm: 1000}":                     {},
		"readings: {specific_gravity: {value: 3.2, uncertainty: 7}}": {},
	} {
		_, _, out := readYAML(rd, "case.yaml", "case: A-1\n"+text)
		if want == [2]string{} {
			if len(out) > 0 {
				t.Errorf("%s: %v", text, out)
			}
			continue
		}
		if len(out) != 1 || out[0].Summary != want[0] || !strings.Contains(out[0].Advice(), want[1]) {
			t.Errorf("%s: %v", text, out)
		}
	}
}

// TestBounds: what is longer or more than a person writes is refused before it costs anything.
func TestBounds(t *testing.T) {
	rd := bench(t)
	repeats := func(n int) string {
		return "case: A-1\nreadings: {ri: [" + strings.Repeat("{value: 1.5},", n) + "]}"
	}
	long := func(key string, n int) string { return "case: A-1\n" + key + ": " + strings.Repeat("a", n) }
	for text, code := range map[string]string{
		repeats(MaxRepeats): "", repeats(MaxRepeats + 1): "too-long",
		long("claim", MaxText): "", long("claim", MaxText+1): "too-long", long("note", 100*MaxText): "",
		"case: A-1\nby: [anna]": "wrong-kind", "case: A-1\nbuy: anna": "unknown-key",
		"case: A-1\nstone: {cut: " + strings.Repeat("a", MaxText+1) + "}": "too-long",
	} {
		_, _, out := readYAML(rd, "case.yaml", text)
		switch {
		case code == "" && len(out) > 0, code != "" && (len(out) != 1 || string(out[0].Code) != code):
			t.Errorf("%.60s...: %v, want %q", text, out, code)
		}
	}
}

// TestHintsBesides: what to write instead of what stands beside the readings is told, too.
func TestHintsBesides(t *testing.T) {
	rd := bench(t)
	for text, hint := range map[string]string{
		"{case: a, readings: {}, stake: 26,000}":                 "write 26000, without a separator",
		"{case: a, readings: {}, stake: 26 000}":                 "without separators: 26000",
		"{case: a, readings: {}, taken: 2031-02-30}":             "there is no day 2031-02-30",
		"{case: a, readings: {}, taken: '2031-02-30T10:00:00Z'}": "there is no day 2031-02-30",
		"{case: a, readings: {}, taken: 30.2.2031}":              "2031-04-12",
	} {
		_, _, out := readYAML(rd, "case.yaml", text)
		if len(out) != 1 || !strings.Contains(out[0].Summary+out[0].Advice(), hint) {
			t.Errorf("%s: %q is not in %v", text, hint, out)
		}
	}
}

// TestOtherWordsOfTheStone: what people call a property of the stone leads to its key.
func TestOtherWordsOfTheStone(t *testing.T) {
	rd := bench(t)
	for given, want := range map[string]string{"weight: 0.9": "carat", "Weight: 0.9": "carat", "carrat: 0.9": "carat",
		"shape: oval": "cut", "height: 3": "depth_mm", "xyzzy: 1": ""} {
		_, _, out := readYAML(rd, "case.yaml", "case: A-1\nstone: {mounted: true, "+given+"}\nreadings: {}")
		if len(out) != 1 || out[0].Nearest != want {
			t.Errorf("%s: %v, and %q is wanted", given, out, want)
		}
	}
	for word, key := range vocab.OfTheStone {
		if !slices.Contains(stoneKeys[:], key) {
			t.Errorf("%s is said to mean %s, which is no key", word, key)
		}
	}
}

// TestNoObservable: who writes a test where a reading is named is told what it gives, and others where all are listed.
func TestNoObservable(t *testing.T) {
	rd := bench(t)
	const meter, all = "reflectivity-meter is a test; it gives reflectance.", "whystone procedure --observables"
	for given, want := range map[string]string{"reflectivity_meter": meter, "meter_reading": meter, "a meter's": all,
		"magnification": all, "spectrum_lines": all, "specific_gravty": ""} {
		_, _, out := readYAML(rd, "case.yaml", "case: A-1\nreadings: {"+given+": 1}")
		if len(out) != 1 || !strings.Contains(out[0].Advice(), want) || (want == "") != (out[0].Nearest != "") {
			t.Errorf("%s: %v, and %q is wanted", given, out, want)
		}
	}
}

// TestSeveralStones: who writes several stones in one case is told how several cases are written.
func TestSeveralStones(t *testing.T) {
	rd := bench(t)
	for text, hint := range map[string]string{
		"case: A-1\nstone: [{carat: 1}, {carat: 2}]":                     oneStone,
		"case: A-1\nstones: [{carat: 1}, {carat: 2}]":                    oneStone,
		"cases:\n  - {case: A-1, readings: {}}":                          oneStone,
		"case: A-1\nreadings: {ri: 1.5}\ncase: A-2\nreadings: {ri: 1.6}": "a case by a line of three dashes, ---",
		"case: A-1\nreadings: {ri: 1.5}\n----\ncase: A-2":                "What parts two documents is a line of three: ---",
	} {
		_, _, out := readYAML(rd, "case.yaml", text)
		if !slices.ContainsFunc(out, func(d diag.Diagnostic) bool { return strings.Contains(d.Advice(), hint) }) {
			t.Errorf("%q: %v", text, out)
		}
	}
}
