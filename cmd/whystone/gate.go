package main

import (
	"whystone/engine/replay"
	"whystone/kb/proofread"
)

// gateCheck is the check for sentences of the policy's gate that replay doesn't understand: told when they are written,
// and not when a release waits for them.
func gateCheck(p *proofread.Pass) {
	for i, text := range p.Ruleset.Policy.Gate {
		_, found := replay.Gate([]string{text})
		for _, f := range findings(found) {
			f.Span = p.Ruleset.Policy.GateSpans[i]
			p.Add(f)
		}
	}
}

func init() { proofread.Register(proofread.Check{Order: 220, Look: gateCheck}) }
