package load_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb"
	"whystone/kb/load/loadtest"
)

const lines = `format: 1
tests:
  - test: prism
    name: prism
    harm: none
    source: invented
    yields:
      hue:
        kind: choice
        family: hue
        blunder: 0.02
        neighbour: 0.2
        choices: {blue: {neighbours: [green]}, green: {}, red: {}, any: {covers: [blue, red]}}
      bands:
        kind: features
        family: hue
        blunder: 0.1
        neighbour: 0.1
        unit: nm
        within: 4
        strengths: [faint, strong]
        features:
          blue band: {at: 450}
          three bands: {at: [470, 450, 460], within: 3}
          edge: {neighbours: [blue band]}
materials:
  - material: banded
    under: stones
    name: banded
    origin: natural
    seen_at_counter: rare
    features:
      bands: {seen: {blue band: often, edge: rarely}, strength: {blue band: strong, edge: {faint: usually}}, source: x}
`

// TestNearby: neighbours are each other's, places rise, and what is said of strengths is kept by feature.
func TestNearby(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": lines})
	hue, bands := rs.Vocabulary.Observable("hue"), rs.Vocabulary.Observable("bands")
	near := map[string][]string{}
	for _, c := range hue.Listed() {
		near[c.Name] = hue.Named(c.Neighbours)
	}
	for _, c := range bands.Listed() {
		near[c.Name] = bands.Named(c.Neighbours)
	}
	want := map[string][]string{"blue": {"green"}, "green": {"blue"}, "red": nil, "any": nil, "edge": {"blue band"},
		"blue band": {"edge"}, "three bands": nil}
	if d := cmp.Diff(want, near); d != "" || hue.Neighbour != 0.2 || bands.Neighbour != 0.1 {
		t.Error(d, hue.Neighbour, bands.Neighbour)
	}
	three := bands.Outcomes[2]
	if d := cmp.Diff([]float64{450, 460, 470}, three.At); d != "" || three.Within != 3 || bands.Outcomes[0].Within != 4 {
		t.Error(d, three.Within, bands.Outcomes[0].Within)
	}
	if d := cmp.Diff([]string{"faint", "strong"}, bands.Strengths); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(map[string]map[string]kb.Frequency{"blue band": {"strong": "always"}, "edge": {"faint": "usually"}},
		rs.Node("banded").Features["bands"].Strengths); d != "" {
		t.Error(d)
	}
}

// TestNearbyRefused: what can't be meant of neighbours, places and strengths is refused where it stands.
func TestNearbyRefused(t *testing.T) {
	for _, c := range [][3]string{
		{"neighbours: [green]", "neighbours: [blue]", "[unknown-choice]"},
		{"neighbours: [green]", "neighbours: [gren]", "[unknown-choice]"},
		{"neighbours: [green]", "neighbours: [any]", "[bad-policy]"},
		{"        neighbour: 0.2\n", "", "[missing-key]"},
		{"neighbours: [green]", "", "[bad-policy]"},
		{"at: 450}", "at: [450, 450]}", "[duplicate-id]"},
		{"at: 450}", "at: -450}", "[bad-number]"},
		{"        within: 4\n", "", "[missing-key]"},
		{"edge: {", "edge: {within: 3, ", "[bad-policy]"},
		{"strengths: [faint, strong]", "strengths: [faint]", "[bad-policy]"},
		{"strengths: [faint, strong]", "strengths: [faint, strong, strong]", "[duplicate-id]"},
		{"strengths: [faint, strong]", "strengths: [faint, quite strong]", "[bad-id]"},
		{"strength: {blue band: strong", "strength: {blue band: strange", "[unknown-choice]"},
		{"strength: {blue band: strong", "strength: {three bands: strong", "[bad-policy]"},
		{"{faint: usually}", "{faint: usual}", "[unknown-name]"},
		{"{faint: usually}", "{faint: never, strong: never}", "[bad-policy]"},
		{"kind: choice\n", "kind: choice\n        strengths: [faint, strong]\n", "[unlike-types]"},
	} {
		text := strings.Replace(lines, c[0], c[1], 1)
		if text == lines {
			t.Fatalf("%q is not there", c[0])
		}
		rs, out := loadtest.House(t, map[string]string{"house.yaml": text})
		if got := loadtest.Render(t, out); rs != nil || !strings.Contains(got, c[2]) {
			t.Errorf("%s -> %s\n%s\nwant %s", c[0], c[1], got, c[2])
		}
	}
}
