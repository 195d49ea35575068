package casefile

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

const wholeCase = `format: 1
case: A-0412
claim: " Natural  Diamond "
taken: 2031-04-12T10:20:00+02:00
desk: quay
stone: {mounted: false, warm: true, carat: 1.02, length_mm: 6.45, width_mm: 6.48, depth_mm: 3.96, cut: Round Brilliant, setting: "  ",
  colour: Colourless, transparency: transparent}
stake: 4200
readings:
  ri: [1.544, 1.553]
  specific_gravity: {value: 2.65, uncertainty: 0.02}
  colour: colourless
correlations: [{of: [specific_gravity, ri], r: -0.25}]
note: all of it
truth: natural-diamond
recorded: {verdict: narrowed, claim: open, named: quartz, nodes: [quartz, diamond], ruleset: "sha256:0", method: 1}
`

func TestWholeCase(t *testing.T) {
	rd := bench(t)
	c := mustRead(t, rd, wholeCase)
	yes, no := true, false
	num := func(x float64) *float64 { return &x }
	want := &Case{ID: "A-0412", Claim: "natural diamond", ClaimSays: " Natural  Diamond ", Desk: "quay",
		Note: "all of it", HasTaken: true, Taken: time.Date(2031, 4, 12, 8, 20, 0, 0, time.UTC), Stake: num(4200),
		Readings: c.Readings, Stone: Stone{Mounted: &no, Warm: &yes, Carat: num(1.02), Length: num(6.45),
			Width: num(6.48), Depth: num(3.96), Cut: "round brilliant"},
		Correlations: []Correlation{{A: rd.Vocabulary.Observable("specific_gravity"), B: rd.Vocabulary.Observable("ri"),
			R: -0.25}},
		Truth: "natural-diamond",
		Recorded: Recorded{Verdict: "narrowed", Claim: "open", Named: "quartz", Ruleset: "sha256:0", Method: 1,
			Nodes: []string{"quartz", "diamond"}}}
	if d := cmp.Diff(want, c, sameCase...); d != "" {
		t.Error(d)
	}
	var names []string
	for _, r := range c.Readings {
		names = append(names, r.Name())
	}
	if d := cmp.Diff([]string{"colour", "ri", "specific_gravity", "transparency"}, names); d != "" {
		t.Errorf("readings: %s", d)
	}
	if got := c.Readings[1].Span.Text(); got != "[1.544, 1.553]" {
		t.Errorf("the reading of ri stands at %q", got)
	}
}

// TestNothingMuch: everything but the name may be left out or left empty.
func TestNothingMuch(t *testing.T) {
	rd := bench(t)
	bare := mustRead(t, rd, "case: A-1")
	if d := cmp.Diff(&Case{ID: "A-1"}, bare, sameCase...); d != "" {
		t.Error(d)
	}
	empty := mustRead(t, rd, "case: A-1\nclaim:\ntaken: ~\ndesk:\nstone:\nstake: "+
		"null\nreadings:\ncorrelations:\nnote:\ntruth:\nrecorded:\n")
	if d := cmp.Diff(bare, empty, sameCase...); d != "" {
		t.Error(d)
	}
	stone := mustRead(t, rd, "case: A-1\nstone: {mounted: , carat: , cut: , colour: }\n")
	if d := cmp.Diff(bare, stone, sameCase...); d != "" {
		t.Error(d)
	}
}

// TestTime: a time without a zone is the house's; a date is its first moment there.
func TestTime(t *testing.T) {
	zone := time.FixedZone("quay", 3600)
	at := func(h, m, s int) time.Time { return time.Date(2031, 4, 12, h, m, s, 0, zone) }
	for text, want := range map[string]time.Time{
		"2031-04-12T10:20:30+01:00": at(10, 20, 30), "2031-04-12T09:20:30Z": at(10, 20, 30),
		"2031-04-12T10:20:30": at(10, 20, 30), "2031-04-12T10:20": at(10, 20, 0), "2031-04-12 10:20": at(10, 20, 0),
		"2031-04-12": at(0, 0, 0),
	} {
		if got, ok := ParseTime(text, zone); !ok || !got.Equal(want) {
			t.Errorf("%s: %v, %v", text, got, ok)
		}
	}
	for _, text := range []string{"", "2031", "2031-13-01", "12.4.2031", "10:20", "2031-04-12T25:00", "tomorrow",
		"2031-04-12T10:20:00+99:00"} {
		if got, ok := ParseTime(text, zone); ok {
			t.Errorf("%q is read as %v", text, got)
		}
	}
	if got, ok := ParseTime("2031-04-12", nil); !ok || !got.Equal(time.Date(2031, 4, 12, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("without a zone: %v, %v", got, ok)
	}
}

// TestExample: an example of a rule is a case that needs no name and may say what comes of it.
func TestExample(t *testing.T) {
	rd := bench(t)
	var out diag.List
	src := diag.NewSource("rules.yaml", []byte("{readings: {ri: 1.5}, is: holds}"))
	n := syntax.ParseYAML(src, &out)[0]
	if c := rd.ReadExample(n, &out); c == nil || len(out) > 0 || len(c.Readings) != 1 {
		t.Errorf("%v, %v", c, out)
	}
	for text, u := range map[string]float64{"{value: 3.5}": 0.02, "{value: 3.5, instrument: balance-a}": 0.008} {
		src := diag.NewSource("rules.yaml", []byte("{readings: {specific_gravity: "+text+"}, is: holds}"))
		c := rd.ReadExample(syntax.ParseYAML(src, &out)[0], &out)
		if c == nil || c.Readings[0].U != u {
			t.Errorf("%s: the house's only instrument counts in an example that names it, and in no other: %v", text,
				out)
		}
	}
	if c := rd.Read(n, &out); c != nil || len(out) != 2 {
		t.Errorf("as a case of its own: %v, %v", c, out)
	}
}

// TestAddAndHas: a reading that is added stands in its place.
func TestAddAndHas(t *testing.T) {
	rd := bench(t)
	c := mustRead(t, rd, "case: A-1\nreadings: {ri: 1.5, colour: red}")
	more := mustRead(t, rd, "case: A-1\nreadings: {facet_doubling: none, reflectance: 4}")
	for _, r := range more.Readings {
		if c.Has(r.Observable) {
			t.Errorf("%s is there already", r.Name())
		}
		c.Add(r)
		if !c.Has(r.Observable) {
			t.Errorf("%s was not added", r.Name())
		}
	}
	all := mustRead(t, rd, "case: A-1\nreadings: {reflectance: 4, facet_doubling: none, ri: 1.5, colour: red}")
	if d := cmp.Diff(all, c, sameCase...); d != "" {
		t.Error(d)
	}
	without := c.Without(func(r *Reading) bool { return r.Observable.Name == "colour" })
	if len(without.Readings) != 3 || len(c.Readings) != 4 {
		t.Errorf("without colour there are %d of %d", len(without.Readings), len(c.Readings))
	}
}

// TestTooManyReadings: what is to be repeated is found by judging a case again and again without some of its readings,
// so that their number is bounded.
func TestTooManyReadings(t *testing.T) {
	rd := bench(t)
	places := func(name, value string, n int) string {
		out := "  " + name + ": ["
		for i := range n {
			out += fmt.Sprintf("{value: %s, where: p%d}, ", value, i)
		}
		return out + "]\n"
	}
	text := "case: A-1\nreadings:\n" + places("ri", "1.5", 100) + places("specific_gravity", "2.65", 100) +
		places("birefringence", "0.01", 100)
	if c := mustRead(t, rd, text); len(c.Readings) != MaxReadings {
		t.Errorf("%d readings", len(c.Readings))
	}
	var out diag.List
	root := syntax.ParseYAML(diag.NewSource("case.yaml", []byte(text+"  colour: red\n")), &out)[0]
	if c := rd.Read(root, &out); c != nil || len(out) != 1 || out[0].Code != "too-long" {
		t.Errorf("one reading more: %v", out)
	}
}
