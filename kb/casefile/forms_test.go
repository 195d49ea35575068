package casefile

import (
	"strings"
	"testing"
)

// TestForms: every form in which a reading may be given, and what it is taken for.
func TestForms(t *testing.T) {
	rd := bench(t)
	tests := []struct{ name, readings, want string }{
		{"bare number", "ri: 1.544", "ri 1.544 ± 0.001 | refractometer 0.01"},
		{"value", "ri: {value: 1.544}", "ri 1.544 ± 0.001 | refractometer 0.01"},
		{"own uncertainty", "ri: {value: 1.54, uncertainty: 0.01}", "ri 1.54 ± 0.01 | refractometer 0.01"},
		{"the only instrument of the house", "specific_gravity: 3.52",
			"specific_gravity 3.52 ± 0.008 | weighing 0.004 with balance-a"},
		{"own uncertainty on it", "specific_gravity: {value: 3.52, uncertainty: 0.02}",
			"specific_gravity 3.52 ± 0.02 | weighing 0.004 with balance-a"},
		{"one of two instruments", "ri: {value: 1.77, instrument: old-refractometer}",
			"ri 1.77 ± 0.003 | refractometer 0.01 with old-refractometer"},
		{"an instrument without figures", "ri: {value: 1.8, instrument: new-refractometer}",
			"ri 1.8 ± 0.001 | refractometer 0.01 with new-refractometer"},
		{"another test", "ri: {value: 2.417, test: spectrometer}", "ri 2.417 ± 0.0005 | spectrometer 0.005"},
		{"test and its instrument", "ri: {value: 1.5, test: refractometer, instrument: old-refractometer}",
			"ri 1.5 ± 0.003 | refractometer 0.01 with old-refractometer"},
		{"rays", "ri: [1.544, 1.553]", "ri 1.544 ± 0.001 and 1.553 ± 0.001 | refractometer 0.01"},
		{"rays that are one", "ri: [1.54, 1.54]", "ri 1.54 ± 0.001 and 1.54 ± 0.001 | refractometer 0.01"},
		{"rays as value", "ri: {value: [1.544, 1.553], uncertainty: 0.002}",
			"ri 1.544 ± 0.002 and 1.553 ± 0.002 | refractometer 0.01"},
		{"between", "ri: {between: [1.5, 1.6]}", "ri 1.5 to 1.6 ± 0.001 | refractometer 0.01"},
		{"above", "ri: {above: 1.81}", "ri above 1.81 ± 0.001 | refractometer 0.01"},
		{"below", "specific_gravity: {below: 3.32}",
			"specific_gravity below 3.32 ± 0.008 | weighing 0.004 with balance-a"},
		{"above and below", "specific_gravity: {above: 2.65, below: 3.32, uncertainty: 0.03}",
			"specific_gravity 2.65 to 3.32 ± 0.03 | weighing 0.004 with balance-a"},
		{"choice", "facet_doubling: slight", "facet_doubling slight | loupe 0.02"},
		{"choice as map", "facet_doubling: {choice: strong}", "facet_doubling strong | loupe 0.02"},
		{"choice as value", "facet_doubling: {value: strong}", "facet_doubling strong | loupe 0.02"},
		{"another spelling", "facet_doubling: Weak", "facet_doubling slight | loupe 0.02"},
		{"capitals and blanks", "thermal_probe: '  Diamond   Range '", "thermal_probe diamond range | probe 0.02"},
		{"a choice with its own blunder rate", "thermal_probe: unsteady", "thermal_probe unsteady | probe 0.3"},
		{"a choice that covers others", "optic_character: doubly refractive",
			"optic_character doubly refractive | polariscope 0.02"},
		{"features", "inclusions: [feather, bubbles]", "inclusions feather, gas bubbles not  | loupe 0.01"},
		{"one feature", "inclusions: feather", "inclusions feather not  | loupe 0.01"},
		{"features and looked for", "inclusions: {features: [feather], looked_for: [feather, needles]}",
			"inclusions feather not needles | loupe 0.01"},
		{"features as value", "inclusions: {value: [feather], looked_for: crystal}",
			"inclusions feather not crystal | loupe 0.01"},
		{"looked for alone", "inclusions: {looked_for: [crystal, needles]}",
			"inclusions  not crystal, needles | loupe 0.01"},
		{"nothing of what was looked for", "inclusions: {features: [], looked_for: [needles]}",
			"inclusions  not needles | loupe 0.01"},
		{"a place", "spectrum: [692]", "spectrum red line not  | spectroscope 0.01"},
		{"a place alone, with its unit", "spectrum: 692 nm", "spectrum red line not  | spectroscope 0.01"},
		{"a place in quotes", `spectrum: ["692"]`, "spectrum red line not  | spectroscope 0.01"},
		{"a place that is at the limit", "spectrum: [695]", "spectrum red line not  | spectroscope 0.01"},
		{"a place of several", "spectrum: [452]",
			"spectrum  not  [blue band or iron bands or violet line] | spectroscope 0.01"},
		{"all places of one, and one beside it", "spectrum: [471, 449.5, 462, 688 strong]",
			"spectrum iron bands, red line not  [red line, strong] | spectroscope 0.01"},
		{"two of its places, one of which may be others'", "spectrum: [449, 462]",
			"spectrum  not  [iron bands] | spectroscope 0.01"},
		{"a place of one that has more, and what it may be is not looked for in vain",
			"spectrum: {features: 471 strong, looked_for: [iron bands, nothing to see]}",
			"spectrum  not nothing to see [iron bands, strong] | spectroscope 0.01"},
		{"a place written twice", "spectrum: [692, 692 strong]",
			"spectrum red line not  [red line, strong] | spectroscope 0.01"},
		{"one of several beside one of them", "spectrum: [452, violet line]",
			"spectrum violet line not  | spectroscope 0.01"},
		{"a name with its strength", "spectrum: [red line strong, 'blue band, faint']",
			"spectrum blue band, red line not  [blue band, faint] [red line, strong] | spectroscope 0.01"},
		{"a place of several with its strength", "spectrum: {features: 452 nm faint, looked_for: red line}",
			"spectrum  not red line [blue band or iron bands or violet line, faint] | spectroscope 0.01"},
		{"of two strengths the fainter", "spectrum: [{features: red line strong}, {features: 690 distinct}]",
			"spectrum red line not  [red line, distinct] | spectroscope 0.01 x2"},
		{"a place that a repeat explains", "spectrum: [{features: 452}, {features: iron bands}]",
			"spectrum iron bands not  | spectroscope 0.01 x2"},
		{"inconclusive", "thermal_probe: {inconclusive: the tip is worn}",
			"thermal_probe ? the tip is worn | probe 0.01"},
		{"place", "ri: {value: 1.77, where: ' Crown '}", "ri (crown) 1.77 ± 0.001 | refractometer 0.01"},
		{"by, at and note", "ri: {value: 1.77, by: E. Quill, at: 2031-04-12T10:20:00+02:00, note: twice}",
			"ri 1.77 ± 0.001 | refractometer 0.01"},
		{"two observables, sorted", "{ri: 1.5, colour: red}",
			"colour red | eye 0.02\nri 1.5 ± 0.001 | refractometer 0.01"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := readingsOf(t, rd, tt.readings); got != tt.want {
				t.Errorf("%s\ngot  %s\nwant %s", tt.readings, got, tt.want)
			}
		})
	}
}

func readingsOf(t *testing.T, rd *Reader, readings string) string {
	t.Helper()
	c := mustRead(t, rd, "case: A-1\nreadings:\n  "+readings+"\n")
	var lines []string
	for _, r := range c.Readings {
		lines = append(lines, showReading(r))
	}
	return strings.Join(lines, "\n")
}

// TestRepeats: what several readings of one thing come to. The weights of the first are 1/u², so 0.01 and 0.02 weigh 4
// to 1, and its uncertainty is 1/sqrt(sum of 1/u²).
func TestRepeats(t *testing.T) {
	rd := bench(t)
	tests := []struct{ name, readings, want string }{
		{"weighted by variance", "specific_gravity: [{value: 3.5, uncertainty: 0.01}, {value: 3.52, uncertainty: 0.02}]",
			"specific_gravity 3.504 ± 0.008944 | weighing 0.004 with balance-a x2"},
		{"alike", "ri: [{value: 1.5}, {value: 1.5}, {value: 1.5}, {value: 1.5}]",
			"ri 1.5 ± 0.0005 | refractometer 0.01 x4"},
		{"just within twice the root of the squares",
			"ri: [{value: 1.5, uncertainty: 0.003}, {value: 1.509, uncertainty: 0.004}]",
			"ri 1.50324 ± 0.0024 | refractometer 0.01 x2"},
		{"just beyond", "ri: [{value: 1.5, uncertainty: 0.003}, {value: 1.5101, uncertainty: 0.004}]",
			"ri ? repeats disagree: 1.500 ± 0.003, 1.510 ± 0.004 (disagrees) | refractometer 0.01 x2"},
		{"two tests, the larger blunder rate", "ri: [{value: 1.544}, {value: 1.5445, test: spectrometer}]",
			"ri 1.5444 ± 0.0004472 | refractometer+spectrometer 0.01 x2"},
		{"choices that agree", "facet_doubling: [{choice: slight}, {choice: weak}]",
			"facet_doubling slight | loupe 0.02 x2"},
		{"choices that differ", "facet_doubling: [{choice: strong}, {choice: none}]",
			"facet_doubling ? repeats disagree: none, strong (disagrees) | loupe 0.02 x2"},
		{"the finer of two choices", "optic_character: [{choice: doubly refractive}, {choice: uniaxial}]",
			"optic_character uniaxial | polariscope 0.02 x2"},
		{"the coarser against another", "optic_character: [{choice: doubly refractive}, {choice: isotropic}]",
			"optic_character ? repeats disagree: doubly refractive, isotropic (disagrees) | polariscope 0.02 x2"},
		{"features are united", "inclusions: [{features: feather, looked_for: needles}, {features: [needles]}]",
			"inclusions feather, needles not  | loupe 0.01 x2"},
		{"inconclusive beside a reading", "facet_doubling: [{inconclusive: blurred}, {choice: none}]",
			"facet_doubling none | loupe 0.02"},
		{"inconclusive twice", "facet_doubling: [{inconclusive: the light}, {inconclusive: dirt}, {inconclusive: the " +
			"light}]", "facet_doubling ? dirt; the light | loupe 0.01 x3"},
		{"places stay apart", "ri: [{value: 1.77, where: crown}, {value: 1.62, where: pavilion}]",
			"ri (crown) 1.77 ± 0.001 | refractometer 0.01\nri (pavilion) 1.62 ± 0.001 | refractometer 0.01"},
		{"repeats of a place", "ri: [{value: 1.77, where: crown}, {value: 1.62, where: pavilion}, {value: 1.77, " +
			"where: Crown}]",
			"ri (crown) 1.77 ± 0.0007071 | refractometer 0.01 x2\nri (pavilion) 1.62 ± 0.001 | refractometer 0.01"},
		{"bounds narrow each other", "ri: [{above: 1.5}, {between: [1.4, 1.6]}]",
			"ri 1.5 to 1.6 ± 0.001 | refractometer 0.01 x2"},
		{"bounds that leave one value, which has no chance of being read",
			"ri: [{between: [1.5, 1.6]}, {between: [1.6, 1.7]}]",
			"ri ? repeats disagree: the bounds leave nothing but 1.6 (disagrees) | refractometer 0.01 x2"},
		{"bounds that leave the value read", "ri: [{between: [1.5, 1.6]}, {between: [1.6, 1.7]}, {value: 1.6}]",
			"ri 1.6 ± 0.001 | refractometer 0.01 x3"},
		{"bounds that leave nothing", "ri: [{above: 1.6}, {below: 1.5}]",
			"ri ? repeats disagree: no value satisfies all bounds (disagrees) | refractometer 0.01 x2"},
		{"a value within a bound", "ri: [{value: 1.55}, {above: 1.5}]", "ri 1.55 ± 0.001 | refractometer 0.01 x2"},
		{"a value outside a bound", "ri: [{value: 1.55}, {above: 1.6}]",
			"ri ? repeats disagree: the value lies outside the bound above 1.6 (disagrees) | refractometer 0.01 x2"},
		{"rays and rays", "ri: [{value: [1.544, 1.553]}, {value: [1.545, 1.553]}]",
			"ri 1.5445 ± 0.0007071 and 1.553 ± 0.0007071 | refractometer 0.01 x2"},
		{"rays and a value on one", "ri: [{value: [1.544, 1.553]}, {value: 1.553}]",
			"ri 1.544 ± 0.001 and 1.553 ± 0.001 | refractometer 0.01 x2"},
		{"rays and a value on neither", "ri: [{value: [1.544, 1.553]}, {value: 1.549}]",
			"ri ? repeats disagree: 1.549 ± 0.001 lies on neither ray of the full turn (disagrees) | refractometer " +
				"0.01 x2"},
		{"rays outside a bound", "ri: [{value: [1.544, 1.553]}, {below: 1.55}]",
			"ri ? repeats disagree: the value lies outside the bound below 1.55 (disagrees) | refractometer 0.01 x2"},
		{"one instrument of two", "ri: [{value: 1.5, instrument: old-refractometer}, {value: 1.5, instrument: " +
			"new-refractometer}]", "ri 1.5 ± 0.0009487 | refractometer 0.01 x2"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := readingsOf(t, rd, tt.readings); got != tt.want {
				t.Errorf("%s\ngot  %s\nwant %s", tt.readings, got, tt.want)
			}
		})
	}
}
