package terminal

import (
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/vocab"
)

// TestWouldSays: what would change, in sentences.
func TestWouldSays(t *testing.T) {
	node := "diamond"
	claim := func(answer, group string) *engine.ClaimOutput {
		return &engine.ClaimOutput{Says: "diamond", Answer: answer, Group: &node, GroupAnswer: &group}
	}
	told := Told{Ruleset: &kb.Ruleset{Policy: &kb.Policy{}, Vocabulary: &vocab.Vocabulary{}},
		Explained: &engine.Explained{Output: engine.Output{Says: "Identified: diamond.", Claim: claim("open", "stands")}}}
	for _, tt := range []struct {
		would engine.Would
		want  string
	}{
		{engine.Would{Says: "Identified: diamond.", Claim: claim("open", "stands")},
			"move the weight of the evidence. The verdict would stay."},
		{engine.Would{Says: "Identified: diamond.", Claim: claim("falls", "stands"), Cautions: engine.Gain{Added: []string{"Look again.", "Ask."}}},
			`caution "Look again", "Ask". The verdict would stay. The claim would fall.`},
		{engine.Would{Says: "Narrowed to diamond or glass.", Claim: claim("open", "open"), Excluded: engine.Gain{Removed: []string{"glass"}}},
			"no longer exclude glass. The verdict would be narrowed to diamond or glass. The material claimed would be open."},
		{engine.Would{Says: "Identified: glass.", Claim: claim("falls", "falls"), SetAside: engine.Gain{Added: []string{"thermal_probe"}, Removed: []string{"ri"}}},
			"set aside thermal probe and no longer set aside RI. The verdict would be identified as glass. The claim and the material claimed would fall."},
		{engine.Would{Says: "Identified: glass.", Claim: claim("stands", "falls"), SentOn: engine.Gain{Added: []string{"A laboratory must see it."}}},
			`send the stone on with "A laboratory must see it". The verdict would be identified as glass. The claim would stand, and the material claimed would fall.`},
		{engine.Would{Says: "Identified: diamond.", Claim: claim("open", "stands"), Toward: []string{"a", "b"}},
			"move the weight of the evidence, most towards a, b. The verdict would stay."},
	} {
		if got := told.wouldSays(&tt.would); got != tt.want {
			t.Errorf("%s\nwant\n%s", got, tt.want)
		}
	}
}
