// Package wording is a verdict in short, as answers and advice have it.
package wording

import (
	"slices"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
)

// Result is a verdict in short: its class and what it names, with the answer to the claim.
type Result struct {
	Verdict string   `json:"verdict"`
	Named   string   `json:"named,omitempty"`
	Nodes   []string `json:"nodes,omitempty"`
	// NotListed is likely or possible where nothing that is listed fits; KeptBack tells that a rule keeps all names back.
	NotListed string `json:"not_listed,omitempty"`
	KeptBack  bool   `json:"kept_back,omitempty"`
	Claim     string `json:"claim,omitempty"` // open, stands or falls
	// ClaimWhy is what decided that.
	ClaimWhy phrase.Code `json:"claim_why,omitempty"`
	Says     string      `json:"says"`
	// Beside is the first of the nodes that the readings fit nearly as well as the named one.
	Beside string `json:"beside,omitempty"`
}

// Of is a decision in short.
func Of(d *engine.Decision) Result {
	r := Result{Verdict: d.Class.String(), Claim: d.Claim.Answer.String(), ClaimWhy: d.Claim.Why, Says: d.Reason().Within(),
		NotListed: d.NotListed.String(), KeptBack: len(d.KeptBack) > 0}
	if d.Named != nil {
		r.Named = d.Named.ID
	}
	if len(d.RestsOnPriors) > 0 {
		r.Beside = d.RestsOnPriors[0].ID
	}
	for _, m := range d.Nodes {
		r.Nodes = append(r.Nodes, m.ID)
	}
	return r
}

// Alike tells whether two verdicts in short are the same, whatever the claim comes to.
func (r *Result) Alike(o *Result) bool {
	return r.Verdict == o.Verdict && r.Named == o.Named && slices.Equal(r.Nodes, o.Nodes) && r.NotListed == o.NotListed && r.KeptBack == o.KeptBack &&
		r.Beside == o.Beside
}

// Same tells whether two decisions are the same verdict: of one class, naming the same nodes, and telling alike whether the
// stone may be none of those that are listed.
func Same(a, b *engine.Decision) bool {
	if a.Class != b.Class || a.Named != b.Named || len(a.Nodes) != len(b.Nodes) || (a.NotListed == engine.Listed) != (b.NotListed == engine.Listed) ||
		(len(a.KeptBack) == 0) != (len(b.KeptBack) == 0) {
		return false
	}
	for _, m := range a.Nodes {
		if !holds(b.Nodes, m) {
			return false
		}
	}
	return true
}

func holds(nodes []*kb.Material, m *kb.Material) bool {
	for _, n := range nodes {
		if n == m {
			return true
		}
	}
	return false
}
