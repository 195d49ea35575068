package next

import (
	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
)

// The keys of the policy's costs, all in the policy's currency.
const (
	// CostWrongStands is for letting a claim stand that is false: an imitation taken in as a diamond. Where the case
	// says more under "stake", that counts.
	CostWrongStands = "wrong_stands"
	// CostWrongFalls is for refusing a claim that is true.
	CostWrongFalls = "wrong_falls"
	// CostWrongName is for naming a material that it is not, where nothing was claimed.
	CostWrongName = "wrong_name"
	// CostSendOn is for sending a stone to a laboratory, or for leaving it unsettled.
	CostSendOn = "send_on"
	// CostPerMinute is for a minute of the desk's time.
	CostPerMinute = "per_minute"
)

// DefaultCosts are those of a policy that says nothing: to let a false claim stand is dearer than to send a stone on.
var DefaultCosts = map[string]float64{CostWrongStands: 2000, CostWrongFalls: 200, CostWrongName: 500, CostSendOn: 60,
	CostPerMinute: 1}

// costs are the policy's for one case.
type costs struct {
	wrongStands, wrongFalls, wrongName, sendOn, perMinute float64
}

func costsOf(p *kb.Policy, c *casefile.Case) costs {
	of := func(key string) float64 {
		if x, ok := p.Costs[key]; ok {
			return x
		}
		return DefaultCosts[key]
	}
	k := costs{wrongStands: of(CostWrongStands), wrongFalls: of(CostWrongFalls), wrongName: of(CostWrongName),
		sendOn: of(CostSendOn), perMinute: of(CostPerMinute)}
	if c.Stake != nil {
		k.wrongStands = max(k.wrongStands, *c.Stake)
	}
	return k
}

// loss is what the house has to expect when it does the best that a verdict allows: to send the stone on, which is
// always open to it, or to act on the answer to the claim, or on the name where nothing is claimed. The chance of being
// wrong is taken from the whole weight, doubts and what is unlisted counted.
func (k *costs) loss(j *engine.Judge, d *engine.Decision, sentOn bool) float64 {
	act := k.sendOn
	switch claim := d.Claim.Claim; {
	case sentOn:
	case claim != nil && d.Claim.Answer == engine.Stands:
		act = (1 - weight(j, claim.Leaves)) * k.wrongStands
	case claim != nil && d.Claim.Answer == engine.Falls:
		act = weight(j, claim.Leaves) * k.wrongFalls
	case claim == nil && d.Class == engine.Identified:
		act = (1 - weight(j, d.Named.Leaves)) * k.wrongName
	}
	return min(act, k.sendOn)
}

func weight(j *engine.Judge, leaves []int) float64 {
	sum := 0.0
	for _, i := range leaves {
		sum += j.Weight(i)
	}
	return sum
}

// rank is how far a verdict has come: a stone narrowed down counts 2, one named 4, one whose name rests on the readings
// and is no group's for want of a sign 6; an answer to the claim counts 1 more.
func rank(j *engine.Judge, d *engine.Decision) int {
	out := 0
	switch {
	case d.Class == engine.Narrowed:
		out = 2
	case d.Class == engine.Identified:
		if out = 4; len(d.RestsOnPriors) == 0 && j.KeptFromName(d) == nil {
			out = 6
		}
	}
	if d.Claim.Claim != nil && d.Claim.Answer != engine.Open {
		out++
	}
	return out
}

// settled tells whether the house need find out no more: the stone is named by its readings and nothing claimed is left
// open. A stone that a rule sends on is never settled at the desk.
func (s *state) settled() bool {
	return s.rank >= 6 && (s.decision.Claim.Claim == nil || s.rank > 6) && !s.sentOn
}
