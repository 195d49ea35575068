package rulesets_test

import (
	"os"
	"regexp"
	"slices"
	"testing"

	"go.yaml.in/yaml/v4"

	"whystone/engine"
)

// A word that names a place or a treatment is known and goes to a laboratory; on glass it falls with its stone, and on
// the stone that it names it stays open. What names neither is no reason for a laboratory.
func TestPlacesAndTreatmentsNeverStand(t *testing.T) {
	text, err := os.ReadFile("gem-desk/claims-places.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Policy struct {
			Claims map[string]any `yaml:"claims"`
		} `yaml:"policy"`
	}
	if err := yaml.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Policy.Claims) < 150 {
		t.Errorf("only %d words", len(file.Policy.Claims))
	}
	grade := regexp.MustCompile("^(pigeon.*blood ruby|royal blue sapphire|cornflower( blue)? sapphire)$")
	rs, j := gemDesk(t), gemJudge(t)
	for word := range file.Policy.Claims {
		o := told(j, caseOf(t, rs, map[string]any{"case": "c", "claim": word, "readings": map[string]any{}}))
		if len(o.SentOn) == 0 != grade.MatchString(word) {
			t.Errorf("%q goes to a laboratory: %v", word, len(o.SentOn) > 0)
		}
		o = told(j, caseOf(t, rs, map[string]any{"case": "c", "claim": word, "readings": map[string]any{
			"ri": 1.51, "specific_gravity": 2.45, "polariscope": "stays dark", "transparency": "transparent",
			"colour": "blue", "inclusions": []string{"gas bubbles", "flow lines"}}}))
		if o.Claim.Answer != "falls" {
			t.Errorf("%q on glass: the claim %s", word, o.Claim.Answer)
		}
	}
	jade := map[string]any{"ri": map[string]any{"value": 1.61, "test": "spot-reading"}, "specific_gravity": 2.95,
		"polariscope": "stays dark", "transparency": "translucent", "colour": "green"}
	jadeite := map[string]any{"ri": map[string]any{"value": 1.66, "test": "spot-reading"}, "specific_gravity": 3.33,
		"polariscope": "stays dark", "transparency": "translucent", "colour": "green"}
	tourmaline := map[string]any{"ri": []float64{1.624, 1.644}, "specific_gravity": map[string]any{"value": 3.06,
		"uncertainty": 0.14}, "transparency": "transparent", "colour": "blue"}
	ruby := map[string]any{"ri": []float64{1.762, 1.770}, "specific_gravity": 4.0, "transparency": "transparent",
		"colour": "red"}
	for word, readings := range map[string]map[string]any{"hetian jade": jade, "type a jade": jadeite,
		"brazilian paraiba": tourmaline, "burmese ruby": ruby, "unheated ruby": ruby} {
		o := told(j, caseOf(t, rs, map[string]any{"case": "c", "claim": word, "readings": readings}))
		if o.Claim.Answer != "open" || len(o.SentOn) == 0 {
			t.Errorf("%q on its stone: the claim %s; %q", word, o.Claim.Answer, says(o.SentOn))
		}
	}
	for _, word := range []string{"natural ruby", "natural emerald", "natural pearl", "ruby", "brazilianite"} {
		o := told(j, caseOf(t, rs, map[string]any{"case": "c", "claim": word, "readings": map[string]any{}}))
		if slices.ContainsFunc(o.SentOn, func(n engine.Note) bool { return *n.Rule == "place-wants-a-laboratory" }) {
			t.Errorf("%q names a place", word)
		}
	}
}
