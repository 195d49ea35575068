package casefile

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb/diag"
	"whystone/kb/internal/emit"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// drawReadingText draws one reading of an observable, as a map, so that it may be one of several.
func drawReadingText(t *rapid.T, o *vocab.Observable) string {
	keys := []string{}
	add := func(format string, args ...any) { keys = append(keys, fmt.Sprintf(format, args...)) }
	// refused, where it is drawn; a quantity has no others
	words := rapid.SampledFrom(append(o.Spellings(), "none at all"))
	number := rapid.SampledFrom([]string{"1.5", "1.501", "1.502", "1.53", "1.7"})
	if o.Name == "birefringence" {
		number = rapid.SampledFrom([]string{"0.01", "0.011", "0.2"})
	}
	switch kind := rapid.IntRange(0, 5).Draw(t, o.Name); {
	case kind == 0:
		add("inconclusive: %s", rapid.SampledFrom([]string{"worn tip", "dirt"}).Draw(t, "reason"))
	case o.Kind == vocab.Choice:
		add("choice: %s", words.Draw(t, "choice"))
	case o.Placed() && kind < 4:
		places := rapid.SampledFrom([]string{"446", "452 nm", "455 strong", "462", "472 faint", "690", "red line strong",
			"red line faint", "blue band", "500"})
		add("features: [%s]", strings.Join(rapid.SliceOfN(places, 1, 4).Draw(t, "places"), ", "))
	case o.Kind == vocab.Features:
		add("features: [%s]", words.Draw(t, "seen"))
		add("looked_for: [%s, %s]", words.Draw(t, "looked for"), words.Draw(t, "looked for"))
	case kind == 1:
		add("above: %s", number.Draw(t, "above"))
	case kind == 2:
		add("between: [%s, 1.81]", number.Draw(t, "low"))
	case kind == 3 && o.Name == "ri":
		add("value: [%s, 1.75]", number.Draw(t, "ray"))
	default:
		add("value: %s", number.Draw(t, "value"))
		if rapid.Bool().Draw(t, "own") {
			add("uncertainty: %s", rapid.SampledFrom([]string{"0.001", "0.02"}).Draw(t, "u"))
		}
	}
	for _, more := range [][]string{{"where", "crown", "pavilion"}, {"by", "Quill", "Marsh"},
		{"note", "first", "second"}} {
		if i := rapid.IntRange(1, 5).Draw(t, more[0]); i < len(more) {
			add("%s: %s", more[0], more[i])
		}
	}
	if o.Name == "ri" && rapid.IntRange(0, 3).Draw(t, "test") == 0 {
		add("test: spectrometer")
	}
	return "{" + strings.Join(keys, ", ") + "}"
}

// drawnReadings are readings by observable, each with its repeats.
type drawnReadings struct {
	names   []string
	repeats map[string][]string
}

func drawReadings(t *rapid.T, rd *Reader) drawnReadings {
	d := drawnReadings{repeats: map[string][]string{}}
	for _, o := range rapid.Permutation(rd.Vocabulary.Observables).Draw(t,
		"observables")[:rapid.IntRange(1, 5).Draw(t, "how many")] {
		if o.Span[0] > 1.5 && o.Kind == vocab.Quantity {
			continue
		}
		d.names = append(d.names, o.Name)
		for range rapid.IntRange(1, 4).Draw(t, "repeats") {
			d.repeats[o.Name] = append(d.repeats[o.Name], drawReadingText(t, o))
		}
	}
	return d
}

func (d drawnReadings) text() string {
	var b strings.Builder
	b.WriteString("case: A-1\nreadings:\n")
	for _, name := range d.names {
		fmt.Fprintf(&b, "  %s: [%s]\n", name, strings.Join(d.repeats[name], ", "))
	}
	return b.String()
}

// shuffled is the same readings in another order: of the observables, and of the repeats of each.
func (d drawnReadings) shuffled(t *rapid.T) drawnReadings {
	out := drawnReadings{names: rapid.Permutation(d.names).Draw(t, "names"), repeats: map[string][]string{}}
	for _, name := range d.names {
		out.repeats[name] = rapid.Permutation(d.repeats[name]).Draw(t, "repeats of "+name)
	}
	return out
}

// TestOrderOfReadings: neither the order of the keys nor that of repeats changes a bit of the case.
func TestOrderOfReadings(t *testing.T) {
	rd := bench(t)
	rd.Spoils = func(_ *Case, test string) string {
		return map[string]string{"refractometer": "A flat facet.", "loupe": "A clean stone."}[test]
	}
	rapid.Check(t, func(t *rapid.T) {
		d := drawReadings(t, rd)
		if len(d.names) == 0 {
			return
		}
		a, _, outA := readYAML(rd, "a", d.text())
		b, _, outB := readYAML(rd, "b", d.shuffled(t).text())
		if (a[0] == nil) != (b[0] == nil) {
			t.Fatalf("%s\n%v\n%v", d.text(), outA, outB)
		}
		if d := cmp.Diff(a, b, sameCase...); d != "" {
			t.Fatal(d)
		}
		if a[0] == nil && codes(outA) != codes(outB) {
			t.Fatalf("refused otherwise: %v\n%v", outA, outB)
		}
	})
}

func codes(list diag.List) string {
	var out []string
	for _, d := range list {
		out = append(out, string(d.Code))
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

// TestFormats: a case is the same in YAML's block form, in its flow form and in JSON, with its keys in any order.
func TestFormats(t *testing.T) {
	rd := bench(t)
	rapid.Check(t, func(t *rapid.T) {
		text := drawReadings(t, rd).text()
		if rapid.Bool().Draw(t, "whole") {
			text = wholeCase
		}
		var out diag.List
		n := syntax.ParseYAML(diag.NewSource("case.yaml", []byte(text)), &out)[0]
		want := rd.Read(n, &out)
		order := func(e []syntax.Entry) []syntax.Entry {
			if len(e) == 0 {
				return e
			}
			return rapid.Permutation(e).Draw(t, "keys")
		}
		json, yaml := emit.JSON(emit.Reordered(n, order)), syntax.WriteLine(emit.Reordered(n, order))
		var outJSON, outYAML diag.List
		fromJSON := rd.Read(syntax.ParseJSON(diag.NewSource("case.json", []byte(json)), &outJSON), &outJSON)
		fromYAML := rd.Read(syntax.ParseYAML(diag.NewSource("case.yaml", []byte(yaml)), &outYAML)[0], &outYAML)
		for _, got := range []*Case{fromJSON, fromYAML} {
			if d := cmp.Diff(want, got, sameCase...); d != "" {
				t.Fatalf("%s\n%s\n%s\n%v %v", text, json, d, outJSON, outYAML)
			}
		}
	})
}

// TestRepeatsNarrow: n equal readings come to the same value with 1/sqrt(n) of the uncertainty, and a disagreement is
// told whatever stands between the two that disagree.
func TestRepeatsNarrow(t *testing.T) {
	rd := bench(t)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, MaxRepeats).Draw(t, "n")
		same := slices.Repeat([]string{"{value: 3.5, uncertainty: 0.02}"}, n)
		one := readOne(t, rd, same)
		if one.Form != Value || one.Value != 3.5 || one.Repeats != n {
			t.Fatalf("%d equal readings come to %s", n, showReading(one))
		}
		if got := one.U * one.U * float64(n); got < 0.0004*(1-1e-12) || got > 0.0004*(1+1e-12) {
			t.Fatalf("the uncertainty of %d equal readings is %v", n, one.U)
		}
		far := readOne(t, rd, rapid.Permutation(append(same[:min(n, 50)], "{value: 3.6, uncertainty: 0.02}")).Draw(t,
			"order"))
		if !far.Disagrees || far.Usable() {
			t.Fatalf("a reading five combined uncertainties off: %s", showReading(far))
		}
	})
}

func readOne(t *rapid.T, rd *Reader, repeats []string) *Reading {
	cases, _, out := readYAML(rd, "a", "case: A-1\nreadings: {specific_gravity: ["+strings.Join(repeats, ", ")+"]}")
	if len(cases) != 1 || cases[0] == nil {
		t.Fatal(out)
	}
	return cases[0].Readings[0]
}
