package condition

import (
	"testing"

	"whystone/kb/vocab"
)

// Of names that are equally near, the one whose kind fits the place is suggested.
func TestNearestNameFitsThePlace(t *testing.T) {
	words := []string{"x", "y"}
	scope := NewScope([]Symbol{
		{Name: "dena", Kind: vocab.Text}, {Name: "denc", Kind: vocab.Choice, Words: words},
		{Name: "denq", Kind: vocab.Quantity},
		{Name: "dent", Kind: vocab.Truth},
		{Name: "denf", Kind: vocab.Features, Observable: &vocab.Observable{Name: "denf", Kind: vocab.Features,
			Outcomes: []vocab.Outcome{{Name: "x"}}}},
	})
	for text, want := range map[string]string{
		"den": "dent", "den > 1": "denq", "1 < den + 2": "denq", `den == "x"`: "dena", `den in ["x"]`: "dena",
		`"x" in den`: "denf", `count(den, # == "x") > 1`: "denf", `any(den, # == "x")`: "denf", "seen(den)": "denc",
		`den contains "x"`: "dena", `den == true`: "dent",
	} {
		if _, out := compileFor(scope, text); len(out) != 1 || out[0].Nearest != want || out[0].Span.Text() != "den" {
			t.Errorf("%s: %v, want %s", text, out, want)
		}
	}
}
