package casefile

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"whystone/kb/diag"
	"whystone/kb/quantity"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// bench is a small house: its tests, with what each gives, and its instruments. The figures are invented.
func bench(t interface{ Fatal(...any) }) *Reader {
	words := func(list ...string) (out []vocab.Outcome) {
		for _, w := range slices.Sorted(slices.Values(list)) {
			out = append(out, vocab.Outcome{Name: w, Blunder: 0.02, Background: 0.05})
		}
		return out
	}
	optic := words("biaxial", "doubly refractive", "isotropic", "uniaxial")
	optic[1].Covers = 1<<0 | 1<<3
	doubling := words("none", "slight", "strong")
	doubling[1].Also = []string{"weak"}
	inclusions := words("crystal", "feather", "gas bubbles", "needles")
	inclusions[2].Also = []string{"bubbles"}
	lines := words("blue band", "iron bands", "nothing to see", "red line", "violet line")
	for i, at := range map[int][]float64{0: {450}, 1: {450, 460, 470}, 3: {690}, 4: {455}} {
		lines[i].At, lines[i].Within = at, 5
	}
	probe := words("below diamond range", "diamond range", "unsteady")
	probe[2].Blunder = 0.3
	obs := []*vocab.Observable{
		{Name: "ri", Test: "refractometer", Unit: "1", Span: [2]float64{1.3, 3}},
		{Name: "birefringence", Test: "refractometer", Unit: "1", Span: [2]float64{0, 0.35}},
		{Name: "specific_gravity", Test: "weighing", Unit: "1", Span: [2]float64{1, 8}},
		{Name: "reflectance", Test: "reflectivity-meter", Unit: "%", Span: [2]float64{0, 30}},
		{Name: "facet_doubling", Kind: vocab.Choice, Test: "loupe", Outcomes: doubling},
		{Name: "optic_character", Kind: vocab.Choice, Test: "polariscope", Outcomes: optic},
		{Name: "thermal_probe", Kind: vocab.Choice, Test: "probe", Outcomes: probe},
		{Name: "colour", Kind: vocab.Choice, Test: "eye", Outcomes: words("colourless", "blue", "red")},
		{Name: "transparency", Kind: vocab.Choice, Test: "eye", Outcomes: words("transparent", "opaque")},
		{Name: "inclusions", Kind: vocab.Features, Test: "loupe", Outcomes: inclusions},
		{Name: "spectrum", Kind: vocab.Features, Test: "spectroscope", Unit: "nm", Outcomes: lines,
			Strengths: []string{"faint", "distinct", "strong"}},
	}
	uncertainty := map[string]float64{"ri": 0.001, "birefringence": 0.0015, "specific_gravity": 0.02, "reflectance": 1}
	var yields []*vocab.Yield
	for _, o := range obs {
		y := &vocab.Yield{Test: o.Test, Observable: o, Uncertainty: uncertainty[o.Name], Blunder: 0.01, Limits: o.Span}
		for _, c := range o.Outcomes {
			y.Outcome = append(y.Outcome, c.Blunder)
		}
		yields = append(yields, y)
	}
	yields[0].Limits = [2]float64{1.3, 1.81}
	yields = append(yields, &vocab.Yield{Test: "spectrometer", Observable: obs[0], Uncertainty: 0.0005, Blunder: 0.005,
		Limits: obs[0].Span})
	instruments := []*vocab.Instrument{
		{ID: "balance-a", Test: "weighing", Uncertainty: 0.008, Blunder: 0.004},
		{ID: "old-refractometer", Test: "refractometer", Uncertainty: 0.003, Limits: &[2]float64{1.4, 1.79}},
		{ID: "new-refractometer", Test: "refractometer"},
	}
	tests := []string{"refractometer", "spectrometer", "weighing", "reflectivity-meter", "loupe", "polariscope",
		"probe", "eye", "hammer", "spectroscope"}
	v, err := vocab.Build(obs, yields, instruments, tests)
	if err != nil {
		t.Fatal(err)
	}
	return &Reader{Vocabulary: v, Zone: time.FixedZone("quay", 3600), Known: func(id string) (string, bool) {
		known := []string{"diamond", "natural-diamond", "quartz"}
		return diag.Nearest(id, known), slices.Contains(known, id)
	}}
}

// readYAML reads the cases of a YAML text, a document each.
func readYAML(rd *Reader, name, text string) ([]*Case, *diag.Source, diag.List) {
	var out diag.List
	var cases []*Case
	src := diag.NewSource(name, []byte(text))
	for _, n := range syntax.ParseYAML(src, &out) {
		cases = append(cases, rd.Read(n, &out))
	}
	return cases, src, out
}

func mustRead(t *testing.T, rd *Reader, text string) *Case {
	t.Helper()
	cases, _, out := readYAML(rd, "case.yaml", text)
	if len(cases) != 1 || cases[0] == nil || len(out) > 0 {
		t.Fatalf("%s\n%s", text, out.Error())
	}
	return cases[0]
}

// sameCase compares all but places.
var sameCase = []cmp.Option{cmpopts.IgnoreTypes(diag.Span{}), cmpopts.EquateEmpty(),
	cmp.Comparer(func(a, b *vocab.Observable) bool { return a == b })}

// showReading writes all that a reading says, for tables.
func showReading(r *Reading) string {
	var b strings.Builder
	b.WriteString(r.Name() + " ")
	o := r.Observable
	switch r.Form {
	case Value:
		fmt.Fprintf(&b, "%g ± %.4g", r.Value, r.U)
	case Pair:
		fmt.Fprintf(&b, "%g ± %.4g and %g ± %.4g", r.Value, r.U, r.High, r.HighU)
	case Interval:
		fmt.Fprintf(&b, "%s ± %.4g", quantity.FormatBounds(r.Lo, r.Hi), r.Noise)
	case Choice:
		b.WriteString(o.Outcomes[r.Outcome].Name)
	case Features:
		unseen := r.LookedFor
		unseen.Minus(r.Seen)
		b.WriteString(strings.Join(featureNames(o, r.Seen), ", ") + " not " +
			strings.Join(featureNames(o, unseen), ", "))
		for _, l := range r.Lines {
			fmt.Fprintf(&b, " [%s", strings.Join(featureNames(o, l.Features), " or "))
			if l.Strength != NoStrength {
				b.WriteString(", " + o.Strengths[l.Strength])
			}
			b.WriteString("]")
		}
	case Inconclusive:
		b.WriteString("? " + r.Reason)
		if r.Disagrees {
			b.WriteString(" (disagrees)")
		}
	}
	fmt.Fprintf(&b, " | %s %g", strings.Join(r.Tests, "+"), r.Blunder)
	if r.Instrument != "" {
		b.WriteString(" with " + r.Instrument)
	}
	if r.Repeats != 1 {
		fmt.Fprintf(&b, " x%d", r.Repeats)
	}
	if r.Spoilt != "" {
		b.WriteString(" spoilt: " + r.Spoilt)
	}
	return b.String()
}

func featureNames(o *vocab.Observable, set vocab.Set) (out []string) {
	for _, i := range set.Members() {
		out = append(out, o.Outcomes[i].Name)
	}
	return out
}
