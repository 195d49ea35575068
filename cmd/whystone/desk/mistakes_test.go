package desk

import (
	"strings"
	"testing"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/desk/form"
	"whystone/cmd/whystone/judging"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
	"whystone/kb/syntax"
)

// TestMistakesInWords: what is wrong with what was typed is told as people call things, on the page of a case and where
// the form of its test is sent, which says what to do by what it has. How a file has it is told nowhere.
func TestMistakesInWords(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": "format: 1\npolicy:\n  instruments:\n    - " +
		"{instrument: a, test: refractometer, observable: ri, uncertainty: 0.003, limits: [1.4, 1.79]}\n"})
	const (
		press = ` If nothing was seen as far as the instrument reads, press "above 1.79" or "below 1.4". ` +
			"If another test gave it, choose that test."
		twoFields = " Of a full turn the low ray and the high ray are entered, each in its field."
		above     = " If nothing was seen up to the limit, that is the reading. If another test gave the value, name it."
		below     = " If nothing was seen down to the limit, that is the reading."
		tooWide   = "An uncertainty of 12 is wider than all that RI can be, which is 1.3 to 3. It is the standard " +
			"uncertainty, in the unit of the value and not in per cent."
		comma = `RI: a number is expected here, but there is the text "1,6". Numbers are written with a point: 1.6, ` +
			"not 1,6."
		span = "RI can't be 9.5: it lies from 1.3 to 3."
	)
	for _, x := range []struct{ key, typed, test, page, form string }{
		{"stone.carat", "0", "", "Weight must be above zero.", ""},
		{"stone.carat", "1000000", "", "Weight can't be 1000000: at most 100,000 ct are taken. A weight is written " +
			"in carats: 1 g is 5 ct.", ""},
		{"stone.length_mm", "6450", "", "Length can't be 6450: at most 1,000 mm are taken. A measurement is written " +
			"in millimetres.", ""},
		{"stone.carat", `"2,1"`, "", `Weight: a number is expected here, but there is the text "2,1". Numbers are ` +
			"written with a point: 2.1, not 2,1.", ""},
		{"stone.cut", `"` + strings.Repeat("x", 501) + `"`, "", `"cut" is 501 bytes long; at most 500 are allowed. A ` +
			"longer text belongs under note.", ""},
		{"stake", "-5", "", "A stake can't be below zero.", ""},
		{"correlations", "[{of: [thermal_probe, specific_gravity], r: 0.1}]", "", "Thermal probe is a choice; only " +
			"quantities are correlated. | Specific gravity is not among the readings.", ""},
		{"ri", "1.8", "refractometer", "Refractometer reads RI up to 1.79 only." + above,
			"The instrument reads RI up to 1.79 only." + press},
		{"ri", "1.35", "refractometer", "Refractometer reads RI from 1.4 up only." + below,
			"The instrument reads RI from 1.4 up only." + press},
		{"ri", "[1.75, 1.8]", "refractometer", "Refractometer reads RI up to 1.79 only." + above,
			"The instrument reads RI up to 1.79 only." + press},
		{"ri", "[1.35, 1.7]", "refractometer", "Refractometer reads RI from 1.4 up only." + below,
			"The instrument reads RI from 1.4 up only." + press},
		{"ri", "9.5", "refractometer", span, span},
		{"ri", "[1.6, 1.5]", "refractometer", "RI: the lower ray comes first.", "RI: the lower ray comes first."},
		{"ri", `"1.5-1.6"`, "refractometer", `RI: a number is expected here, but there is the text "1.5-1.6".`,
			`RI: a number is expected here, but there is the text "1.5-1.6".` + twoFields},
		{"ri", `[1.5, "1,6"]`, "refractometer", comma, comma},
		{"ri", "{value: 1.5, uncertainty: 12}", "refractometer", tooWide, tooWide},
		{"specific_gravity", `">4"`, "weighing", `Specific gravity: a bound is written as a mapping, and not as ">4".`,
			`Specific gravity: a bound is written as a mapping, and not as ">4".`},
		{"thermal_probe", `"diamond rnge"`, "probe", `Thermal probe has no outcome "diamond rnge". Did you mean ` +
			`"diamond range"?`, `Thermal probe has no outcome "diamond rnge". Did you mean "diamond range"?`},
		{"thermal_prob", `"diamond range"`, "", `No test gives an observable "thermal_prob". Did you mean ` +
			`"thermal_probe"?`, ""},
		{"sparkle", `"much"`, "", `No test gives an observable "sparkle".`, ""},
	} {
		s := &casebook.State{Number: "x", Fields: map[string]string{}}
		if casebook.KnownField(x.key) {
			s.Fields[x.key] = x.typed
		} else {
			s.Readings = []*casebook.Reading{{ID: 2, Observable: x.key, Text: x.typed}}
		}
		list := judging.Typed(rs, s)
		if got := strings.Join(found(list), " | "); got != x.page {
			t.Errorf("the page tells %s of %s as\n%s", x.typed, x.key, got)
		}
		if x.test == "" {
			continue
		}
		sheet := form.Of(rs, rs.Test(x.test))
		if got := strings.Join(found(sheet.InWords(x.key, list)), " | "); got != x.form {
			t.Errorf("the form tells %s of %s as\n%s", x.typed, x.key, got)
		}
	}
}

// TestMistakesInFiles: to whoever wrote a file its mistakes are told in its own names, with what to write instead.
func TestMistakesInFiles(t *testing.T) {
	rd := eval.CaseReader(loadtest.Must(t, nil))
	for text, want := range map[string]string{
		"specific_gravity: 9": "Specific_gravity can't be 9: it lies from 1 to 8.",
		"ri: 1.9": "Refractometer reads ri up to 1.81 only. If nothing was seen up to the limit, that is the reading. If " +
			"another test gave the value, name it. Write {above: 1.81}, or {value: 1.9, test: ...}.",
	} {
		var list diag.List
		n := syntax.ParseYAML(diag.NewSource("a, b.yaml", []byte("{is: holds, readings: {"+text+"}}")), &list)[0]
		rd.ReadExample(n, &list)
		if got := strings.Join(found(list), " | "); got != want {
			t.Errorf("%s is told as\n%s", text, got)
		}
	}
}
