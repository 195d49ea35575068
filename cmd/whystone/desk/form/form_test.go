package form_test

import (
	"errors"
	"net/url"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/desk/form"
	"whystone/cmd/whystone/intake"
	"whystone/engine/enginetest"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
)

// TestRead: what a form sends comes to what somebody would type, and is read so.
func TestRead(t *testing.T) {
	rs := shipped(t)
	for _, x := range []struct{ sent, typed, says string }{
		{"test=thermal-probe&observable=thermal_probe&choice=diamond+range", `"diamond range"`, "diamond range"},
		{"test=refractometer&observable=ri&value=1.544", "1.544", "1.544 ± 0.001"},
		{"test=refractometer&observable=ri&value=+1.544+&uncertainty=0.002", `{"value": 1.544, "uncertainty": 0.002}`,
			"1.544 ± 0.002"},
		{"test=refractometer&observable=ri&value=1.544&high=1.553", `[1.544, 1.553]`, ""},
		{"test=refractometer&observable=ri&bound=above&above=1.81&value=", `{"above": 1.81}`, "above 1.81"},
		{"test=spot-reading&observable=ri&value=1.54&where=crown",
			`{"value": 1.54, "where": "crown", "test": "spot-reading"}`, ""},
		{"test=breath-fog&observable=breath_fog&form=inconclusive&inconclusive=room++too+%22warm%22",
			`{"inconclusive": "room too \"warm\""}`, `inconclusive: room too "warm"`},
		{"test=spectroscope&observable=spectrum&seen=line+at+415+nm&looked=line+at+504+nm",
			`{"features": ["line at 415 nm"], "looked_for": ["line at 415 nm", "line at 504 nm"]}`, ""},
		{"test=spectroscope&observable=spectrum&looked=line+at+504+nm",
			`{"features": [], "looked_for": ["line at 504 nm"]}`, ""},
		{"test=spectroscope&observable=spectrum&seen=line+at+415+nm&places=451+,+653+strong%3B",
			`{"features": ["line at 415 nm", "451", "653 strong"]}`, ""},
		{"test=thermal-probe&observable=thermal_probe&choice=diamond+range&note=%3Cb%3E",
			`{"choice": "diamond range", "note": "<b>"}`, ""},
	} {
		sent, err := url.ParseQuery(x.sent)
		if err != nil {
			t.Fatal(err)
		}
		r, err := form.Read(rs, sent)
		if err != nil || r.Text != x.typed {
			t.Errorf("%s: %+v, %v", x.sent, r, err)
			continue
		}
		c := readBack(rs, r)
		if c.Case == nil {
			t.Errorf("%s is not read back: %v", r.Text, c.Found)
			continue
		}
		for _, got := range c.Case.Readings {
			if says := phrase.ReadingText(got); got.Observable.Name == r.Observable && x.says != "" && says != x.says {
				t.Errorf("%s is read as %s", r.Text, says)
			}
		}
	}
}

func readBack(rs *kb.Ruleset, r *form.Entered) intake.Item {
	s := &casebook.State{Number: "x", Readings: []*casebook.Reading{{ID: 2, Observable: r.Observable, Text: r.Text}}}
	return intake.Of(s.Node(nil), "x", eval.CaseReader(rs))
}

func shipped(t testing.TB) *kb.Ruleset { t.Helper(); return enginetest.Ruleset(t) }

func TestRefused(t *testing.T) {
	rs := shipped(t)
	for sent, want := range map[string]string{
		"test=refractometer&observable=ri&value=":                               "No value",
		"test=refractometer&observable=nothing&value=1":                         "know no such reading",
		"test=thermal-probe&observable=ri&value=1":                              "of that test",
		"test=thermal-probe&observable=thermal_probe":                           "No outcome",
		"test=spectroscope&observable=spectrum":                                 "Nothing was marked",
		"test=breath-fog&observable=breath_fog&form=inconclusive&inconclusive=": "Say why",
	} {
		q, err := url.ParseQuery(sent)
		if err != nil {
			t.Fatal(err)
		}
		var bad *form.Wrong
		if r, err := form.Read(rs, q); !errors.As(err, &bad) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %+v, %v", sent, r, err)
		}
	}
}

// TestAnythingSent: whatever is sent, what is made of it is one value that can be parsed, and never panics the reader.
func TestAnythingSent(t *testing.T) {
	rs := shipped(t)
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SampledFrom(rs.Vocabulary.Yields).Draw(t, "yield")
		q := url.Values{"test": {y.Test}, "observable": {y.Observable.Name}}
		for _, key := range []string{"value", "high", "uncertainty", "choice", "inconclusive", "where", "note", "seen",
			"looked", "above", "bound", "form", "instrument"} {
			if rapid.Bool().Draw(t, key) {
				q.Set(key, rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"1.5", "above", "inconclusive",
					"null", "{}", "[", "-1e999", `"`, "\x00"})).Draw(t, key+" is"))
			}
		}
		r, err := form.Read(rs, q)
		if err != nil {
			return
		}
		if n := casebook.Parse(diag.NewSource("x", []byte(r.Text)), new(diag.List)); n == nil {
			t.Fatalf("%s can't be parsed", r.Text)
		}
		readBack(rs, r)
	})
}

// TestOf: a form has what the sheet has, in its order, what the house's instrument reads, and no figure of a material.
func TestOf(t *testing.T) {
	rs := shipped(t)
	s := form.Of(rs, rs.Test("refractometer"))
	if a := s.Asks[0]; a.Observable != "ri" || a.Low != "1.3" || a.High != "1.81" || a.Above != "1.81" ||
		a.Below != "" || a.Within != "0.001" || !a.Rays || a.Unit != "" || a.Label != "RI" {
		t.Errorf("%+v", a)
	}
	probe := form.Of(rs, rs.Test("thermal-probe")).Asks[0]
	if len(probe.Outcomes) < 2 || probe.Kind != "choice" || probe.Outcomes[0].Name != "diamond range" {
		t.Errorf("%+v", probe)
	}
	house := loadtest.Must(t, map[string]string{"house.yaml": "format: 1\npolicy:\n  instruments:\n    - " +
		"{instrument: a, test: refractometer, observable: ri, uncertainty: 0.003, limits: [1.4, 1.79]}\n"})
	if a := ri(form.Of(house, house.Test("refractometer"))); a.Within != "0.003" || a.High != "1.79" ||
		a.Above != "1.79" || a.Below != "1.4" {
		t.Errorf("the house's instrument is not looked at: %+v", a)
	}
}

func ri(s form.Sheet) form.Ask {
	for _, a := range s.Asks {
		if a.Observable == "ri" {
			return a
		}
	}
	return form.Ask{}
}

func TestFind(t *testing.T) {
	rs := shipped(t)
	for begun, want := range map[string]string{
		"therm": "thermal-probe", "thermal probe": "thermal-probe", "doub": "loupe-doubling",
		"hydro": "hydrostatic-weighing", "refr": "refractometer spot-reading",
		"read refr": "refractometer spot-reading", "refractometer": "refractometer", "ri": "refractometer",
		"RI": "refractometer", "zzz": "", "loupe-doubling": "loupe-doubling",
	} {
		var ids []string
		for _, x := range form.Find(rs, begun) {
			ids = append(ids, x.ID)
		}
		if got := strings.Join(ids, " "); got != want {
			t.Errorf("%q finds %s", begun, got)
		}
	}
}
