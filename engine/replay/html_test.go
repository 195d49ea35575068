package replay

import (
	"bytes"
	"context"
	"encoding/xml"
	"os"
	"regexp"
	"strings"
	"testing"

	"whystone/engine/archive"
)

func page(t *testing.T) *Page {
	t.Helper()
	e, other := loaded(t, nil), loaded(t, lessSure)
	c := Config{Engine: e, Against: other, Input: archive.Input{Paths: []string{sample(t, e, 700, 10)}}, AsOf: asOf,
		Threshold: 0.01, Pinned: map[string]string{"S-0000001": "a stone that was sent back"}}
	part, err := Run(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	diffs, err := Differences(context.Background(), c, part.Tally.Lists["changed"], 5)
	if err != nil {
		t.Fatal(err)
	}
	conditions, _ := Gate([]string{"no new false acceptance", "at most 0 percent changed"})
	gate, _ := CheckGate(conditions, part)
	return &Page{Part: part, Differences: diffs, Gate: gate}
}

// TestPageStandsAlone: no network, no script, and what it must show. WHYSTONE_PAGE keeps it, to be looked at.
func TestPageStandsAlone(t *testing.T) {
	p := page(t)
	var b bytes.Buffer
	if err := p.HTML(&b); err != nil {
		t.Fatal(err)
	}
	html := b.String()
	if m := regexp.MustCompile(`(?i)(https?:)?//[a-z]|<script|<link|@import|url\(`).FindString(html); m != "" {
		t.Errorf("the page asks for %q", m)
	}
	for _, want := range []string{"scheme: dark", "@media print", "Reliability curve", "The chains part at step",
		"not kept", "Wilson", "default-src 'none'"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if boxed := strings.Count(html, `<div class="scroll"><table`); boxed != strings.Count(html, "<table") {
		t.Errorf("of %d tables %d scroll in their own box", strings.Count(html, "<table"), boxed)
	}
	if !strings.Contains(html, "<th>cubic zirconia</th>") || strings.Contains(html, "<th>cubic-zirconia<") {
		t.Error("materials are told by their ids")
	}
	if len(p.Differences) != 5 {
		t.Errorf("%d differences", len(p.Differences))
	}
	for _, d := range p.Differences {
		if d.Parts == nil || d.Parts.Was == d.Parts.Is || len(d.BeforeSteps) == 0 || len(d.AfterSteps) == 0 {
			t.Errorf("%s: the chains part at %+v, with %d and %d steps", d.Case, d.Parts, len(d.BeforeSteps),
				len(d.AfterSteps))
		}
	}
	if path := os.Getenv("WHYSTONE_PAGE"); path != "" {
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var again bytes.Buffer
	if err := p.HTML(&again); err != nil || !bytes.Equal(again.Bytes(), b.Bytes()) {
		t.Error("the same page is written in other bytes")
	}
	for _, line := range strings.Split(p.Summary(), "\n") {
		if len([]rune(line)) > 132 {
			t.Errorf("a line of %d characters: %s", len([]rune(line)), line)
		}
	}
}

func TestJUnitIsWellFormed(t *testing.T) {
	p := page(t)
	var b bytes.Buffer
	p.Tally.Pinned = map[string]*Pin{"P-1": {Why: "why", Seen: 1, Changed: 1, Says: "now <open>"},
		"P-2": {Why: "why", Seen: 1}, "P-3": {Why: "why"}}
	if err := JUnit(&b, p.Gate, p.Tally); err != nil {
		t.Fatal(err)
	}
	var s suite
	if err := xml.Unmarshal(b.Bytes(), &s); err != nil {
		t.Fatal(err)
	}
	if s.Tests != 5 || s.Failures != 3 || s.Cases[2].Failure == nil || s.Cases[2].Failure.Message != "now <open>" ||
		s.Cases[3].Failure != nil || s.Cases[4].Failure == nil {
		t.Errorf("%s", b.String())
	}
}
