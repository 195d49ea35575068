package drafts

import (
	"strings"
	"testing"
)

// TestReplacing: a draft that is to replace a rule is told where it would take that away, though it doesn't hold
// itself; till then the rule stays. Where neither has a say nothing is told.
func TestReplacing(t *testing.T) {
	rs := loaded(t, "  - {rule: draft, says: A draft., status: draft, source: invented, if: stake >= 50000, "+
		"sends_on: Ours., replaces: high-stake-diamond-goes-on, because: x}\n")
	high := "case: D-1\nclaim: diamond\nstake: STAKE\nreadings: {thermal_probe: diamond range}\n"
	for _, tt := range []struct{ stake, now, would string }{
		{"26000", "At this stake", "sent on -[At this stake"},
		{"60000", "At this stake", "sent on +[Ours.]; sent on -[At this stake"},
		{"400", "", ""},
	} {
		out := tried(t, rs, strings.Replace(high, "STAKE", tt.stake, 1))
		sent := ""
		for _, n := range out.SentOn {
			sent += n.Says
		}
		if !strings.HasPrefix(sent, tt.now) || (sent == "") != (tt.now == "") {
			t.Errorf("at %s it is sent on: %q", tt.stake, sent)
		}
		would := ""
		for _, d := range out.Drafts {
			if d.Would != nil {
				would += gains(d.Would)
			}
		}
		if !strings.Contains(would, tt.would) || (would == "") != (tt.would == "") || len(out.Drafts) > 1 {
			t.Errorf("at %s: %q", tt.stake, would)
		}
	}
}
