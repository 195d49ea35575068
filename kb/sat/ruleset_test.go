package sat

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

const policyText = `format: 1
policy:
  time_zone: UTC
  currency: EUR
  frequency: {always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3, strong: 300}
  scale: [{from: 1, says: weak}, {from: 10, says: strong}]
  seen_at_counter: {everyday: 100, common: 30, rare: 1}
  required: [{stake: 0, share: 0.95, doubt_limit: 0.15}]
  instruments: [%s]
`

const materialsText = `format: 1
materials:
  - {group: stones, name: stones}
  - {material: pebble, under: stones, name: pebble, origin: natural, seen_at_counter: common}
  - {material: shard, under: stones, name: shard, origin: imitation, seen_at_counter: common}
`

const testsText = `format: 1
tests:
  - test: lamp
    name: the lamp
    harm: none
    source: invented for tests
    yields:
      glow: {kind: quantity, family: light, unit: "1", span: %s, limits: %s, uncertainty: 0.15, blunder: 0.01}
%s  - test: magnet
    name: the magnet
    harm: none
    source: invented for tests
    yields:
      pull: {kind: quantity, family: pulling, unit: "1", span: [0, 8], uncertainty: 0.2, blunder: 0.01}
  - test: eye
    name: looking
    harm: none
    source: invented for tests
    yields:
      shade: {kind: choice, family: looks, blunder: 0.02, choices: {blue: , green: , red: , warm: {covers: [green, red]}}}
      echo: {kind: choice, family: sound, blunder: 0.02, choices: {dull: , sharp: }}
      marks: {kind: features, family: looks, blunder: 0.02, features: {dot: , line: , ring: }}
`

func pair(p [2]float64) string { return "[" + figure(p[0]) + ", " + figure(p[1]) + "]" }

// files writes a base as a ruleset's files.
func (b *base) files() fstest.MapFS {
	glow := b.quantities[0]
	other, tools := "", ""
	if glow.other != nil {
		other = "  - test: flash\n    name: the flash\n    harm: none\n    source: invented for tests\n    yields:\n" +
			"      glow: {uncertainty: 0.04, blunder: 0.01, limits: " + pair(*glow.other) + "}\n"
	}
	for i, l := range glow.tools {
		tools += fmt.Sprintf("{instrument: lamp-%d, test: lamp, uncertainty: 0.0%d, limits: %s}, ", i+1, i+1, pair(l))
	}
	text := "format: 1\nrules:\n"
	for _, r := range b.rules {
		text += r.yaml()
	}
	file := func(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }
	return fstest.MapFS{
		"policy.yaml":    file(fmt.Sprintf(policyText, strings.TrimSuffix(tools, ", "))),
		"materials.yaml": file(materialsText),
		"tests.yaml":     file(fmt.Sprintf(testsText, pair(glow.span), pair(glow.limits), other)),
		"rules.yaml":     file(text),
	}
}

func (r *rule) yaml() string {
	var w strings.Builder
	fmt.Fprintf(&w, "  - rule: %s\n    says: something\n    source: invented for tests\n    cautions: look again\n",
		r.id)
	line := func(key, value string) { fmt.Fprintf(&w, "    %s: %s\n", key, value) }
	if r.cond != nil {
		line("if", fmt.Sprintf("'%s'", r.cond))
	}
	if r.unless != nil {
		line("unless", fmt.Sprintf("'%s'", r.unless))
	}
	if r.draft {
		line("status", "draft")
	}
	if !r.since.IsZero() {
		line("since", r.since.Format(time.DateOnly))
	}
	if !r.until.IsZero() {
		line("until", r.until.Format(time.DateOnly))
	}
	if len(r.aside) > 0 {
		line("sets_aside", "["+strings.Join(r.aside, ", ")+"]")
	}
	var gives []string
	for name, word := range r.gives {
		gives = append(gives, name+": "+word)
	}
	slices.Sort(gives)
	if len(gives) > 0 {
		line("establishes", "{"+strings.Join(gives, ", ")+"}")
	}
	return w.String()
}

// fataler is what *testing.T and *rapid.T have in common here.
type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
}

func loaded(t fataler, files fstest.MapFS) *kb.Ruleset {
	t.Helper()
	rs, out := load.Load(context.Background(), []load.Layer{{Name: "random", FS: files}})
	if rs == nil {
		t.Fatalf("the ruleset does not load:\n%s\n%s", out.Error(), files["rules.yaml"].Data)
	}
	return rs
}

// fixed is a ruleset with the rules given, over the whole vocabulary; glow reads from 1 to 3 of 0 to 4.
func fixed(t testing.TB, rules string) *kb.Ruleset {
	t.Helper()
	b := &base{quantities: []*measure{{name: "glow", span: [2]float64{0, 4}, limits: [2]float64{1, 3}}}}
	files := b.files()
	files["rules.yaml"].Data = []byte("format: 1\nrules:\n" + rules)
	return loaded(t, files)
}

// readCase reads a case file's text; nil when it is refused, with what was found.
func readCase(rs *kb.Ruleset, text string) (*casefile.Case, diag.List) {
	var out diag.List
	roots := syntax.ParseYAML(diag.NewSource("case.yaml", []byte(text)), &out)
	if out.HasErrors() || len(roots) != 1 {
		return nil, out
	}
	return eval.CaseReader(rs).Read(roots[0], &out), out
}

// caseText writes settings as a case file.
func caseText(settings []Setting) string {
	var lines [][2]string
	for _, s := range settings {
		lines = append(lines, [2]string{s.Name, syntax.WriteLine(s.Value)})
	}
	return caseOf(lines...)
}

// caseOf is a case file that sets things to values in YAML.
func caseOf(settings ...[2]string) string {
	parts := map[string]string{}
	for _, s := range settings {
		name, part := s[0], "readings"
		if after, ok := strings.CutPrefix(name, "stone."); ok {
			name, part = after, "stone"
		} else if slices.Contains([]string{"taken", "claim", "stake"}, name) {
			part = ""
		}
		indent := "  "
		if part == "" {
			indent = ""
		}
		parts[part] += indent + name + ": " + s[1] + "\n"
	}
	text := "format: 1\ncase: w\n" + parts[""]
	for _, part := range []string{"stone", "readings"} {
		if parts[part] != "" {
			text += part + ":\n" + parts[part]
		}
	}
	return text
}
