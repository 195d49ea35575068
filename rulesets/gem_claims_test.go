package rulesets_test

import (
	"os"
	"regexp"
	"testing"

	"go.yaml.in/yaml/v4"
)

// A word that names a place or a treatment is known, goes to a laboratory where the stone may be what it names, and is
// no reason to send glass there; on glass it falls with its stone.
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
		if len(o.SentOn) > 0 || o.Claim.Answer != "falls" {
			t.Errorf("%q on glass: the claim %s; %q", word, o.Claim.Answer, says(o.SentOn))
		}
	}
}
