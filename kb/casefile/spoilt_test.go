package casefile

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestSpoiltInAnyOrder: readings that the stone spoils come in one order, in whichever they are written, though nothing
// but who took them tells them apart.
func TestSpoiltInAnyOrder(t *testing.T) {
	rd := bench(t)
	rd.Spoils = func(*Case, string) string { return "A loose stone." }
	for _, repeats := range [][2]string{{"{value: 1.5, by: Quill}", "{value: 1.5, by: Marsh}"},
		{"{value: 1.5, note: b}", "{value: 1.5, note: a}"},
		{"{value: 1.5, uncertainty: 0.001, test: spectrometer}", "{value: 1.5, uncertainty: 0.001}"}} {
		a := mustRead(t, rd, "case: A-1\nreadings: {ri: ["+repeats[0]+", "+repeats[1]+"]}")
		b := mustRead(t, rd, "case: A-1\nreadings: {ri: ["+repeats[1]+", "+repeats[0]+"]}")
		if d := cmp.Diff(a, b, sameCase...); d != "" || len(a.Readings) != 2 {
			t.Errorf("%v: %s", repeats, d)
		}
	}
}

// TestSpoilt: a reading of a test that the stone spoils stands by itself, whatever repeats it has; the others are
// combined as ever. Where the stone is told in the file does not matter.
func TestSpoilt(t *testing.T) {
	rd := bench(t)
	rd.Spoils = func(c *Case, test string) string {
		if m := c.Stone.Mounted; m != nil && *m && test != "spectrometer" {
			return "A loose stone."
		}
		return ""
	}
	for _, tt := range []struct{ text, want string }{
		{"stone: {mounted: true}\nreadings: {ri: 1.544}",
			"ri 1.544 ± 0.001 | refractometer 0.01 spoilt: A loose stone."},
		{"readings: {ri: 1.544}\nstone: {mounted: true}",
			"ri 1.544 ± 0.001 | refractometer 0.01 spoilt: A loose stone."},
		{"stone: {mounted: false}\nreadings: {ri: 1.544}", "ri 1.544 ± 0.001 | refractometer 0.01"},
		{"readings: {ri: 1.544}", "ri 1.544 ± 0.001 | refractometer 0.01"},
		{"stone: {mounted: true}\nreadings: {ri: [{value: 1.9, test: spectrometer}, {value: 1.544}, {value: 1.9, " +
			"test: spectrometer}, {value: 1.5}, {value: 1.544}]}",
			"ri 1.9 ± 0.0003536 | spectrometer 0.005 x2\nri 1.5 ± 0.001 | refractometer 0.01 spoilt: A loose stone.\n" +
				"ri 1.544 ± 0.001 | refractometer 0.01 spoilt: A loose stone.\nri 1.544 ± 0.001 | refractometer 0.01 " +
				"spoilt: A loose stone."},
		{"stone: {mounted: true}\nreadings: {ri: [{value: 1.5, where: crown}, {value: 1.6, where: crown, test: " +
			"spectrometer}, {value: 1.7, test: spectrometer}]}",
			"ri 1.7 ± 0.0005 | spectrometer 0.005\nri (crown) 1.6 ± 0.0005 | spectrometer 0.005\nri (crown) 1.5 ± " +
				"0.001 | refractometer 0.01 spoilt: A loose stone."},
		// One that stayed inconclusive has its own reason.
		{"stone: {mounted: true}\nreadings: {thermal_probe: [{inconclusive: worn tip}, {choice: unsteady}]}",
			"thermal_probe ? worn tip | probe 0.01\nthermal_probe unsteady | probe 0.3 spoilt: A loose stone."},
		{"stone: {mounted: true, colour: red}", "colour red | eye 0.02 spoilt: A loose stone."},
	} {
		var lines []string
		for _, r := range mustRead(t, rd, "case: A-1\n"+tt.text).Readings {
			lines = append(lines, showReading(r))
			if r.Usable() != (r.Spoilt == "" && r.Form != Inconclusive) {
				t.Errorf("%s is usable: %v", showReading(r), r.Usable())
			}
		}
		if got := strings.Join(lines, "\n"); got != tt.want {
			t.Errorf("%s\ngot  %s\nwant %s", tt.text, got, tt.want)
		}
	}
}
