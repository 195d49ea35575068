package vocab

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func optic() *Observable {
	return &Observable{Name: "optic_character", Kind: Choice, Outcomes: []Outcome{{Name: "biaxial"},
		{Name: "doubly refractive", Also: []string{"birefringent", "two rays"}, Covers: 1<<0 | 1<<3},
		{Name: "isotropic"}, {Name: "uniaxial"}}}
}

func TestOutcomes(t *testing.T) {
	o := optic()
	for word, want := range map[string]int{"biaxial": 0, "two rays": 1, "uniaxial": 3} {
		if i, ok := o.Outcome(word); !ok || i != want {
			t.Errorf("%s: %d, %v", word, i, ok)
		}
	}
	for _, word := range []string{"", "Biaxial", "biaxial ", "triaxial"} {
		if i, ok := o.Outcome(word); ok {
			t.Errorf("%q is taken for %s", word, o.Outcomes[i].Name)
		}
	}
	if d := cmp.Diff([]string{"biaxial", "doubly refractive", "isotropic", "uniaxial", "birefringent", "two rays"},
		o.Spellings()); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"biaxial", "uniaxial"}, o.Of(o.Meaning(1))); d != "" {
		t.Errorf("what covers others means: %s", d)
	}
	if o.Meaning(2) != 1<<2 {
		t.Errorf("a plain choice means %b", o.Meaning(2))
	}
}

func TestBuild(t *testing.T) {
	ri, sg := &Observable{Name: "ri"}, &Observable{Name: "specific_gravity"}
	yields := []*Yield{{Test: "weighing", Observable: sg}, {Test: "refractometer", Observable: ri, Blunder: 0.01},
		{Test: "goniometer", Observable: ri}}
	instruments := []*Instrument{{ID: "b", Test: "refractometer"}, {ID: "a", Test: "refractometer"},
		{ID: "c", Test: "weighing"}}
	v, err := Build([]*Observable{sg, optic(), ri}, yields, instruments,
		[]string{"weighing", "refractometer", "goniometer", "loupe"})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"optic_character", "ri", "specific_gravity"}, v.Names()); d != "" {
		t.Error(d)
	}
	for i, o := range v.Observables {
		if o.Index != i || v.Observable(o.Name) != o {
			t.Errorf("%s has the number %d", o.Name, o.Index)
		}
	}
	if got := v.Observable("optic_character").Plain; got != 3 {
		t.Errorf("%d plain choices", got)
	}
	if y := v.Yield("refractometer", ri); y == nil || y.Blunder != 0.01 || v.Yield("weighing", ri) != nil ||
		v.Yields[0].Test != "goniometer" {
		t.Errorf("the yields are out of order: %v", v.Yields)
	}
	if v.Instrument("b") == nil || v.Instrument("d") != nil || v.Instruments[0].ID != "a" {
		t.Error("the instruments are out of order")
	}
	if v.HouseInstrument("refractometer") != nil || v.HouseInstrument("weighing").ID != "c" ||
		v.HouseInstrument("loupe") != nil {
		t.Error("the house's instrument is the only one of a test, or none")
	}
	if v.Observable("colour") != nil || v.Observable("") != nil {
		t.Error("an observable that there is not was found")
	}
}

func TestBlunder(t *testing.T) {
	y := &Yield{Blunder: 0.01, Outcome: []float64{0.02, 0.3}}
	for outcome, want := range map[int]float64{-1: 0.01, 0: 0.02, 1: 0.3, 2: 0.01} {
		if got := y.BlunderOf(outcome); got != want {
			t.Errorf("outcome %d: %v", outcome, got)
		}
	}
}

// TestTooMany: a vocabulary that does not fit its machine words is refused, one that just fits is not.
func TestTooMany(t *testing.T) {
	for kind, most := range map[Kind]int{Choice: MaxChoices, Features: MaxFeatures} {
		for _, n := range []int{most, most + 1} {
			o := &Observable{Name: "x", Kind: kind}
			for i := range n {
				o.Outcomes = append(o.Outcomes, Outcome{Name: fmt.Sprintf("word %03d", i)})
			}
			if _, err := Build([]*Observable{o}, nil, nil, nil); (err != nil) != (n > most) {
				t.Errorf("%d of %s: %v", n, kind, err)
			}
		}
	}
}

func TestFold(t *testing.T) {
	for text, want := range map[string]string{"": "", "Place\t 1": "place 1", "GRÜN\n\nBlau\n": "grün blau"} {
		if got := Fold(text); got != want {
			t.Errorf("%q is folded to %q, want %q", text, got, want)
		}
	}
}
