package main

import (
	"strings"

	"whystone/engine/replay"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/proofread"
)

// gateCheck is the check for sentences of the policy's gate that replay doesn't understand: told when they are written, and
// not when a release waits for them.
func gateCheck(p *proofread.Pass) {
	for _, text := range p.Ruleset.Policy.Gate {
		var found diag.List
		replay.Gate([]string{text}, &found)
		for _, d := range found {
			d.Span = gateSpan(p.Ruleset, text)
			p.Add(proofread.Finding{Diagnostic: d, Sheets: []proofread.Sheet{}})
		}
	}
}

func init() { proofread.Register(proofread.Check{Order: 220, Look: gateCheck}) }

// gateSpan finds where a sentence of the gate stands: in the highest layer that says it.
func gateSpan(rs *kb.Ruleset, text string) (at diag.Span) {
	for _, src := range rs.Sources {
		var passed diag.List // it was parsed when it was loaded
		if kb.IsTableFile(src.Name) {
			continue
		}
		for _, n := range doc.ParseYAML(src, &passed) {
			items, _ := n.Get("policy").Get("gate").ListOrOne(&passed)
			for _, it := range items {
				if strings.TrimSpace(it.Text) == text {
					at = it.Span
				}
			}
		}
	}
	return at
}
