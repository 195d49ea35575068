// Package wording is how answers speak of materials, verdicts and evidence.
//
// Three rules hold for every sentence. The bare word "diamond" is for a stone that grew in the earth (ISO 18323:2015), so
// that a stone whose growth was not tested is told as "consistent with diamond". No word grades or prizes a stone. And a
// share of the weight, which hangs on what a house sees at its counter, is never told as a probability: what is told is
// support, how many times likelier the readings are under one material than under another, with the scale named.
package wording

import (
	"fmt"
	"math"
	"strings"

	"whystone/engine"
	"whystone/kb"
)

// Node is how a sentence names a material or group beside others. Where the sheet of a group says that something is not
// determined, that is told with its name: "quartz (natural or laboratory-grown)".
func Node(m *kb.Material) string { return node(m, 0) }

func node(m *kb.Material, colours uint64) string {
	says := sheetSays(m, colours)
	head, _, more := strings.Cut(says, "; ")
	switch {
	case says == "":
		return m.Name
	case more && m.ByColour == nil:
		head = m.Name
	}
	if open := undetermined(m, colours); open != "" {
		return head + " (" + open + ")"
	}
	return thing(head)
}

// sheetSays are the words that a sheet gives for verdicts, by the colour that was read, if it gives any. A material whose name
// follows its colour keeps the sheet's own while none was read.
func sheetSays(m *kb.Material, colours uint64) string {
	switch {
	case m.ByColour != nil && (m.Group || colours != 0):
		return m.SaysOf(colours)
	case m.Group:
		return m.InVerdicts
	}
	return ""
}

// ID is how a list of ids names a node: by its id, and what its sheet says is not determined: "diamond (natural or
// laboratory-grown)".
func ID(m *kb.Material) string {
	if open := undetermined(m, 0); open != "" {
		return m.ID + " (" + open + ")"
	}
	return m.ID
}

// undetermined is what the sheet of a group says is not determined, or "".
func undetermined(m *kb.Material, colours uint64) string {
	if !m.Group {
		return ""
	}
	_, open, _ := strings.Cut(sheetSays(m, colours), "; ")
	return strings.TrimSuffix(open, " not determined")
}

// thing is the words of a sheet where a sentence needs the name of something: a stone consistent with diamond.
func thing(words string) string {
	if strings.HasPrefix(words, "consistent with ") {
		return "a stone " + words
	}
	return words
}

// Full is how a verdict names a node: by the words that its sheet gives for that, if it is a group.
func Full(m *kb.Material) string { return full(m, 0) }

func full(m *kb.Material, colours uint64) string {
	says := sheetSays(m, colours)
	if says == "" {
		return m.Name
	}
	if head, open, ok := strings.Cut(says, "; "); ok {
		return head + " (" + open + ")"
	}
	return says
}

// Leaf is how a sentence names a leaf by its index; engine.Unlisted is what the ruleset lacks.
func Leaf(rs *kb.Ruleset, leaf int) string {
	if leaf == engine.Unlisted {
		return "a material that is not listed"
	}
	return Node(rs.Leaves[leaf])
}

// Nodes joins the names of nodes as a sentence does.
func Nodes(list []*kb.Material, last string) string { return nodes(list, last, 0) }

func nodes(list []*kb.Material, last string, colours uint64) string {
	words := make([]string, len(list))
	for i, m := range list {
		words[i] = node(m, colours)
	}
	return engine.List(words, last)
}

// Result is a verdict in short: its class and what it names, with the answer to the claim.
type Result struct {
	Verdict string   `json:"verdict"`
	Named   string   `json:"named,omitempty"`
	Nodes   []string `json:"nodes,omitempty"`
	// NotListed is likely or possible where nothing that is listed fits; KeptBack tells that a rule keeps all names back.
	NotListed string `json:"not_listed,omitempty"`
	KeptBack  bool   `json:"kept_back,omitempty"`
	Claim     string `json:"claim,omitempty"` // open, stands or falls
	// ClaimWhy is what decided that, by the engine's word for it.
	ClaimWhy string `json:"claim_why,omitempty"`
	Says     string `json:"says"`
}

// Of is a decision in short.
func Of(d *engine.Decision) Result {
	r := Result{Verdict: d.Class.String(), Claim: d.Claim.Answer.String(), ClaimWhy: d.Claim.Why.String(), Says: Verdict(d),
		NotListed: d.NotListed.String(), KeptBack: len(d.KeptBack) > 0}
	if d.Named != nil {
		r.Named = d.Named.ID
	}
	for _, m := range d.Nodes {
		r.Nodes = append(r.Nodes, m.ID)
	}
	return r
}

// Verdict says a decision within a sentence.
func Verdict(d *engine.Decision) string {
	switch d.Class {
	case engine.Identified:
		says := "identified as " + full(d.Named, d.Colours)
		if len(d.RestsOnPriors) > 0 {
			says += ", as what this counter sees most: it may be " + node(d.RestsOnPriors[0], d.Colours)
		}
		return says
	case engine.Narrowed:
		if len(d.Nodes) == 1 {
			return "narrowed to " + thing(full(d.Nodes[0], d.Colours))
		}
		return "narrowed to " + nodes(d.Nodes, "or", d.Colours)
	case engine.Contradictory:
		if d.NotListed != engine.Listed {
			return "contradictory, or not on this list"
		}
		return "contradictory"
	}
	switch {
	case d.Faulty:
		return "inconclusive, as a rule can't be evaluated"
	case d.NotListed == engine.NotListedLikely:
		return "inconclusive, and likely not on this list"
	case len(d.KeptBack) > 0:
		return "inconclusive, as no name that the readings fit may be given yet"
	}
	return "inconclusive"
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

// Times says how much likelier something is under one of two: gap is the logarithm of the ratio of likelihoods, and the
// sign says which.
func Times(gap float64, one, other string) string {
	switch {
	case math.Abs(gap) < 0.05:
		return "as likely under " + one + " as under " + other
	case gap < 0:
		gap, one, other = -gap, other, one
	}
	return fmt.Sprintf("%s times likelier under %s than under %s", engine.Figures(math.Exp(gap)), one, other)
}

// Support says in the words of the policy's scale how strongly readings speak for one of two, and names the scale.
func Support(p *kb.Policy, gap float64, one, other string) string {
	if math.Abs(gap) < 0.05 {
		return fmt.Sprintf("the readings do not tell %s from %s", one, other)
	}
	if gap < 0 {
		gap, one, other = -gap, other, one
	}
	return fmt.Sprintf("%s support for %s over %s, in the words of the house's scale of support (%s times likelier)",
		p.Words(math.Exp(gap)), one, other, engine.Figures(math.Exp(gap)))
}
