// Package wording is a verdict in short, as answers and advice have it.
package wording

import (
	"slices"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
)

// Result is a verdict in short: its class and what it names, with the answer to the claim.
type Result struct {
	Verdict string   `json:"verdict"`
	Named   string   `json:"named,omitempty"`
	Nodes   []string `json:"nodes,omitempty"`
	// NotListed is likely or possible where nothing that is listed fits; KeptBack tells that a rule keeps all names
	// back.
	NotListed string `json:"not_listed,omitempty"`
	KeptBack  bool   `json:"kept_back,omitempty"`
	Claim     string `json:"claim,omitempty"` // open, stands or falls
	// ClaimWhy is what decided that.
	ClaimWhy phrase.Code `json:"claim_why,omitempty"`
	Says     string      `json:"says"`
	Code     phrase.Code `json:"code,omitempty"`
	// Beside is the first of the nodes that the readings fit nearly as well as the named one.
	Beside string `json:"beside,omitempty"`
}

// Of is a decision in short.
func Of(d *engine.Decision) Result {
	why := d.Reason()
	r := Result{Verdict: d.Class.String(), Claim: d.Claim.Answer.String(), ClaimWhy: d.Claim.Why, Says: why.Within(),
		Code: why.Code, NotListed: d.NotListed.String(), KeptBack: len(d.KeptBack) > 0,
		Nodes: english.Each(d.Nodes, func(m *kb.Material) string { return m.ID })}
	if d.Named != nil {
		r.Named = d.Named.ID
	}
	if len(d.RestsOnPriors) > 0 {
		r.Beside = d.RestsOnPriors[0].ID
	}
	return r
}

// Alike tells whether two verdicts in short are the same, whatever the claim comes to.
func (r *Result) Alike(o *Result) bool {
	return r.Verdict == o.Verdict && r.Named == o.Named && slices.Equal(r.Nodes, o.Nodes) &&
		(r.NotListed == "") == (o.NotListed == "") && r.KeptBack == o.KeptBack &&
		r.Beside == o.Beside
}
