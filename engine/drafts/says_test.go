package drafts

import (
	"testing"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/vocab"
)

// TestReasons: what would change, in sentences.
func TestReasons(t *testing.T) {
	node, glass := "diamond", "glass"
	claim := func(answer, group string) *engine.ClaimOutput {
		return &engine.ClaimOutput{Says: "diamond", Answer: answer, Group: &node, GroupAnswer: &group}
	}
	before := telling{rs: &kb.Ruleset{Policy: &kb.Policy{}, Vocabulary: &vocab.Vocabulary{}},
		was: &engine.Output{Verdict: "identified", Named: &node, Says: "Identified: diamond.",
			Claim: claim("open", "stands")}}
	for _, tt := range []struct {
		would engine.Would
		want  string
	}{
		{engine.Would{Verdict: "identified", Named: &node, Claim: claim("open", "stands")},
			"move the weight of the evidence. The verdict would stay."},
		{engine.Would{Verdict: "identified", Named: &node, Claim: claim("falls", "stands"),
			Cautions: engine.Gain{Added: []string{"Look again.", "Ask."}}},
			`caution "Look again.", "Ask." The verdict would stay. The claim would be ruled out.`},
		{engine.Would{Verdict: "narrowed", Within: "narrowed to diamond or glass", Claim: claim("open", "open"),
			Excluded: engine.Gain{Removed: []string{"glass"}}},
			"no longer exclude glass. The verdict would be narrowed to diamond or glass. The material claimed would " +
				"stay open."},
		{engine.Would{Verdict: "identified", Named: &glass, Within: "identified as glass",
			Claim: claim("falls", "falls"), SetAside: engine.Gain{Added: []string{"thermal_probe"},
				Removed: []string{"ri"}}},
			"set aside thermal probe and no longer set aside RI. The verdict would be identified as glass. The claim " +
				"and the material claimed would be ruled out."},
		{engine.Would{Verdict: "identified", Named: &glass, Within: "identified as glass",
			Claim: claim("stands", "falls"), SentOn: engine.Gain{Added: []string{"A laboratory must see it."}}},
			`send the stone on with "A laboratory must see it." The verdict would be identified as glass. The claim would agree with the readings, and the material claimed would be ruled out.`},
		{engine.Would{Verdict: "identified", Named: &node, Claim: claim("open", "stands"), Toward: []string{"a", "b"}},
			"move the weight of the evidence, most towards a, b. The verdict would stay."},
	} {
		r := phrase.Reason{Code: phrase.DraftsTogether, Count: 2,
			Then: before.comes([3]phrase.Code{phrase.AllWrong, phrase.AllIdle, phrase.AllAct}, nil, &tt.would)}
		if got, want := r.Says(), "All 2 drafts of the ruleset together would "+tt.want; got != want {
			t.Errorf("%s\nwant\n%s", got, want)
		}
	}
}
