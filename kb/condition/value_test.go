package condition

import "testing"

// TestValue: what stands under a name, as a sentence shows it.
func TestValue(t *testing.T) {
	scope := deskScope()
	tests := []struct{ name, readings, want string }{
		{"ri", "ri=1.762±0.001", "1.762 ± 0.001"},
		{"ri", "ri=1.544±0.001/1.553±0.001", "1.544 ± 0.001 / 1.553 ± 0.001"},
		{"ri", "ri=>1.81", "above 1.81"},
		{"ri", "ri=1.5..1.6", "1.5 to 1.6"},
		{"ri", "", "absent"},
		{"ri", "ri=?dark", "inconclusive"},
		{"ri", "ri=!wet", "set aside"},
		{"ri", "ri=#1.5 and 1.6", "disagree"},
		{"stone.carat", "stone.carat=1.02", "1.02"},
		{"facet_doubling", "facet_doubling=slight", "slight"},
		{"facet_doubling", "facet_doubling=none/strong", "none or strong"},
		{"optic_character", "optic_character=doubly refractive", "doubly refractive"},
		{"optic_character", "optic_character=uniaxial/biaxial", "doubly refractive"},
		{"inclusions", "inclusions=needles,feather,-gas bubbles", "feather, needles, no gas bubbles"},
		{"stone.mounted", "stone.mounted=true", "holds"},
		{"high_index", "high_index=undecided", "undecided"},
		{"heft_class", "heft_class=heavy", "heavy"},
		{"claim", "claim=diamond", "diamond"},
	}
	for _, tt := range tests {
		if got := stateOf(t, scope, tt.readings).Value(scope, scope.Symbol(tt.name).Slot); got != tt.want {
			t.Errorf("%s of %q: %q, want %q", tt.name, tt.readings, got, tt.want)
		}
	}
}

// TestManyPlaces: so many readings side by side that their combinations are not gone through leave arithmetic on them
// undecided, with a cause, and plain comparisons untouched.
func TestManyPlaces(t *testing.T) {
	scope := deskScope()
	text := "ri=1.5/1.5/1.5/1.5/1.5/1.5/1.5/1.5/1.5; specific_gravity=3/3/3/3/3/3/3/3"
	for cond, want := range map[string]string{"specific_gravity / ri > 1": "undecided",
		"specific_gravity > 2 and ri < 1.6": "holds"} {
		c, _ := compileFor(scope, cond)
		v, causes, err := Evaluate(c, stateOf(t, scope, text))
		if v.String() != want || err != nil || (want == "undecided") != (len(causes) > 0) {
			t.Errorf("%s: %s, %v, %v", cond, v, causes, err)
		}
	}
}
