package load_test

import (
	"strings"
	"testing"

	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
)

const spoiling = `format: 1
tests:
  - test: plunge
    name: weighing in water
    harm: contact
    source: invented
    replaces: weighing
    because: Ours says what spoils a reading.
    needs:
      - {if: stone.carat > 0.1, says: A stone of some weight.}
      - {if: not stone.mounted, says: A loose stone., spoils: true}
      - {if: stone.length_mm / stone.width_mm < 3, says: No needle., spoils: true}
    yields:
      specific_gravity:
        {kind: quantity, family: density, unit: "1", span: [1, 8], uncertainty: 0.02, blunder: 0.01,
         derived: [{is: stone.carat * 0.2 / (0.5 * stone.length_mm * stone.width_mm * stone.depth_mm / 1000), relative: 0.1, says: from weight and measurements, source: invented}]}
  - {test: heavy-liquid, name: heavy liquid, harm: contact, source: invented, yields: {specific_gravity: {uncertainty: 0.05}}}
rules:
  - {rule: heavy, says: x, if: specific_gravity > 3, cautions: x}
  - {rule: tried, says: x, if: unclear(specific_gravity), cautions: x}
  - rule: ours
    says: x
    if: specific_gravity > 3 and ri > 1.5
    cautions: x
    examples:
      - {stone: {mounted: true}, readings: {specific_gravity: 3.5, ri: 1.7}, is: undecided}
      - {readings: {specific_gravity: 3.5, ri: 1.7}, stone: {mounted: false}, is: holds}
retires: [{rule: over-the-limit, because: It calls for a weighing.}, {rule: wet-stone, because: So does it.}, {rule: dense-for-its-index, because: It reads a fact.}]
`

// TestSpoiltReadings: a reading on a stone that does not meet a need which spoils it is set aside, with the need as the
// reason; another of the observable counts. A need that is not known to fail, and one that does not spoil, take nothing
// away.
func TestSpoiltReadings(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": spoiling})
	for _, tt := range []struct {
		text, heavy, tried, spoilt string
		status                     condition.Status
	}{
		{"stone: {mounted: true}\nreadings: {specific_gravity: 3.5}", "undecided", "holds", "A loose stone.",
			condition.Aside},
		{"readings: {specific_gravity: 3.5}\nstone: {mounted: true}", "undecided", "holds", "A loose stone.",
			condition.Aside},
		{"stone: {mounted: false}\nreadings: {specific_gravity: 3.5}", "holds", "fails", "", condition.Ready},
		{"readings: {specific_gravity: 3.5}", "holds", "fails", "", condition.Ready},
		{"stone: {carat: 0.05}\nreadings: {specific_gravity: 3.5}", "holds", "fails", "", condition.Ready},
		{"stone: {length_mm: 9, width_mm: 2}\nreadings: {specific_gravity: 3.5}", "undecided", "holds", "No needle.",
			condition.Aside},
		{"stone: {mounted: true, length_mm: 9, width_mm: 2}\nreadings: {specific_gravity: 3.5}", "undecided", "holds",
			"A loose stone.", condition.Aside},
		{"stone: {mounted: true}\nreadings: {specific_gravity: {value: 3.5, test: heavy-liquid}}", "holds", "fails", "",
			condition.Ready},
		{"stone: {mounted: true}\nreadings: {specific_gravity: [{value: 2}, {value: 3.5, test: heavy-liquid}]}",
			"holds", "fails", "A loose stone.", condition.Ready},
		{"stone: {mounted: true}\nreadings: {specific_gravity: [{value: 2}, {inconclusive: foam, test: heavy-liquid}]}",
			"undecided", "holds", "A loose stone.", condition.Aside},
		{"stone: {mounted: true}\nreadings: {specific_gravity: [{value: 2}, {value: 3, test: heavy-liquid}, {value: " +
			"5, test: heavy-liquid}]}",
			"undecided", "holds", "A loose stone.", condition.Clashing},
		// Computed from the stone, it is a reading of the test like another.
		{"stone: {mounted: false, carat: 5, length_mm: 9, width_mm: 8, depth_mm: 7}", "holds", "fails", "",
			condition.Ready},
		{"stone: {mounted: true, carat: 5, length_mm: 9, width_mm: 8, depth_mm: 7}", "undecided", "holds",
			"A loose stone.", condition.Aside},
	} {
		run := loadtest.RunOn(t, rs, tt.text)
		if got, want := loadtest.Truths(t, rs, run, "heavy", "tried"),
			"heavy "+tt.heavy+", tried "+tt.tried; got != want {
			t.Errorf("%s: %s, want %s", tt.text, got, want)
		}
		var spoilt []string
		c := loadtest.Case(t, rs, tt.text)
		for _, r := range c.Readings {
			if r.Spoilt != "" {
				spoilt = append(spoilt, r.Spoilt)
			}
		}
		if got := strings.Join(spoilt, " "); got != tt.spoilt {
			t.Errorf("%s: spoilt for want of %q", tt.text, got)
		}
		slot := run.State.Slots[rs.Vocabulary.Observable("specific_gravity").Index]
		if slot.Status != tt.status || tt.status == condition.Aside && slot.Reason != tt.spoilt {
			t.Errorf("%s: the slot is %v, %q", tt.text, slot.Status, slot.Reason)
		}
	}
	if causes := loadtest.RunOn(t, rs, "stone: {mounted: true}\nreadings: {specific_gravity: 3.5}").Causes(rs.Rule("heavy")); len(causes) != 1 ||
		causes[0].Why != logic.SetAside || causes[0].Says != "A loose stone." {
		t.Errorf("the causes are %v", causes)
	}
	var out = eval.New(rs).CheckExamples(rs.Rule("ours"), loadtest.Day)
	if len(out) > 0 {
		t.Error(out)
	}
}

// TestSpoiltOrder: whichever of several readings comes first, what the slot holds is the same.
func TestSpoiltOrder(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": spoiling})
	sg := rs.Vocabulary.Observable("specific_gravity")
	spoilt := &casefile.Reading{Observable: sg, Value: 2, U: 0.02, Spoilt: "A loose stone."}
	vague := &casefile.Reading{Observable: sg, Form: casefile.Inconclusive, Reason: "foam"}
	clash := &casefile.Reading{Observable: sg, Form: casefile.Inconclusive, Reason: "repeats disagree", Disagrees: true}
	sound := &casefile.Reading{Observable: sg, Value: 3.5, U: 0.02}
	for _, tt := range []struct {
		a, b *casefile.Reading
		want condition.Status
	}{{spoilt, vague, condition.Aside}, {spoilt, clash, condition.Clashing}, {spoilt, sound, condition.Ready},
		{vague, sound, condition.Ready}} {
		for _, readings := range [][]*casefile.Reading{{tt.a, tt.b}, {tt.b, tt.a}} {
			run := eval.New(rs)
			run.Do(&casefile.Case{Readings: readings}, loadtest.Day)
			if slot := run.State.Slots[sg.Index]; slot.Status != tt.want || tt.want == condition.Ready &&
				len(slot.Values) != 1 {
				t.Errorf("%q %q: %+v", readings[0].Spoilt+readings[0].Reason, readings[1].Spoilt+readings[1].Reason,
					slot)
			}
		}
	}
}

// TestReaderForgets: what a reader knew of one stone it does not know of the next.
func TestReaderForgets(t *testing.T) {
	reader := eval.CaseReader(loadtest.Must(t, map[string]string{"house.yaml": spoiling}))
	yes, carat, size := true, 1.0, 5.0
	for i, tt := range []struct {
		stone   casefile.Stone
		spoils  string
		derived int
	}{
		{casefile.Stone{Mounted: &yes, Carat: &carat, Length: &size, Width: &size, Depth: &size}, "A loose stone.", 1},
		{casefile.Stone{}, "", 0},
		{casefile.Stone{Carat: &carat, Length: &size, Width: &size, Depth: &size}, "", 1},
		{casefile.Stone{Carat: &carat}, "", 0},
	} {
		c := &casefile.Case{Stone: tt.stone}
		if got := reader.Spoils(c, "plunge"); got != tt.spoils {
			t.Errorf("%d: spoilt by %q", i, got)
		}
		if reader.Derive(c); len(c.Readings) != tt.derived {
			t.Errorf("%d: %d readings follow", i, len(c.Readings))
		}
	}
}
