package proofread

import (
	"context"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb/diag"
	"whystone/kb/load"
)

// mistake is a slip of an author: a file, the line on which it is told, and a part of the remedy ("" where none can be
// given).
type mistake struct {
	file string
	line int
	says string
}

// when is a rule with a condition, in line 5.
func when(cond, says string) mistake {
	return mistake{"format: 1\nrules:\n  - rule: x-one\n    says: A sentence.\n    if: " + cond +
		"\n    cautions: text\n    source: invented\n" + examples, 5, says}
}

const examples = "    examples: [{readings: {}, is: undecided}]\n"

// then is a rule from which something follows, in line 6.
func then(effect, says string) mistake {
	return mistake{"format: 1\nrules:\n  - rule: x-one\n    says: A sentence.\n    if: facet_doubling == " +
		"\"strong\"\n    " + effect + "\n    source: invented\n", 6, says}
}

// and is a rule with another key, in line 7.
func and(key, says string) mistake {
	m := then("cautions: text\n    "+key, says)
	m.line = 7
	return m
}

// sheet is a file with one line in question, the last of its head.
func sheet(head, says string) mistake {
	return mistake{"format: 1\n" + head + "\n", 1 + strings.Count(head, "\n") + 1, says}
}

var mistakes = []mistake{
	// names in conditions
	when(`rii > 1.7`, `ri`), when(`RI > 1.7`, `ri`), when(`sg > 3`, `specific_gravity`),
	when(`specific gravity > 3`, `specific_gravity`), when(`specific-gravity > 3`, `specific_gravity`),
	when(`specificgravity > 3`, `specific_gravity`), when(`refractive_index > 1.7`, `ri`),
	when(`carat > 1`, `stone.carat`), when(`mounted`, `stone.mounted`), when(`stone.carrat > 1`, `stone.carat`),
	when(`stone.weight > 1`, ``), when(`material.origin == "natural"`, `under where:`), when(`material.ri.high > 1.7`,
		`What was read of the stone is ri`), when(`weighing > 3`, `specific_gravity`),
	when(`facet-doubling == "slight"`, `facet_doubling`), when(`facet doubling == "slight"`, `facet_doubling`),
	when(`colur == "red"`, `colour`), when(`color == "red"`, `colour`), //nolint:misspell // that is the point
	when(`hіgh_index`, `high_index`), when(`hihg_index`, `high_index`), when(`claims == "diamond"`, `claim`),
	when(`stakes > 500`, `stake`),
	// words
	when(`colour == "rde"`, `red`), when(`colour == "Red"`, `red`), when(`colour == "ruby red"`, `It has`),
	when(`colour == red`, `colour == "red"`), when(`facet_doubling == "slihgt"`, `slight`),
	when(`facet_doubling in ["slight", "strongg"]`, `strong`), when(`'"feathr" in inclusions'`, `feather`),
	when(`feather in inclusions`, `"feather" in inclusions`), when(`inclusions == "feather"`,
		`"feather" in inclusions`), when(`inclusions contains "feather"`, `"feather" in inclusions`),
	when(`inclusions has "feather"`, `"feather" in inclusions`), when(`optic_character == "red"`, `colour`),
	when(`'"red" in colour'`, `colour == "red"`), when(`colour in ["red" "blue"]`, `comma missing`),
	when(`colour in "red"`, `["slight", "strong"]`), when(`colour == "red" or "blue"`, `colour in ["red", "blue"]`),
	when(`'"feather" in inclusions or "crystal"'`,
		`"crystal" in inclusions`),
	when(`thermal_probe == diamond range`, `"diamond range"`), when(`colour == 3`, `colour == `),
	// operators
	when(`ri => 1.7`, `>=`), when(`ri =< 1.7`, `<=`), when(`ri = 1.7`, `==`), when(`ri == 1.7`, `near(ri`),
	when(`ri <> 1.7`, `!=`), when(`ri between 1.5 and 1.6`, `1.5 <= ri <= 1.6`),
	when(`ri is between 1.5 and 1.6`, `1.5 <= ri <= 1.6`), when(`ri above 1.7`, `Write >`),
	when(`ri is greater than 1.7`, `Write >`), when(`ri at least 1.7`, `Write >=`), when(`ri less than 1.7`, `Write <`),
	when(`ri 1.5 to 1.6`, `1.5 <= ri <= 1.6`), when(`colour is "red"`, `==`), when(`colour is not "red"`, `!=`),
	when(`ri > 1.5 amd colour == "red"`, `and`), when(`ri > 1.5 an colour == "red"`, `and`),
	when(`nto stone.wet`, `not`), when(`ri in 1.5..1.6`, `1.70 <= ri <= 1.80`), when(`ri > 1,77`, `1.77`),
	when(`stake > 5'000`, `5000`), when(`near(ri 1.77, 0.005)`, ``), when(`near(ri, 1.77)`, `near(ri, 1.77, 0.005)`),
	when(`near(1.77, 0.005, ri)`, `near(ri, value, tolerance)`), when(`near(1.77, ri, 0.005)`,
		`near(ri, value, tolerance)`), when(`naer(ri, 1.77, 0.005)`, `near`), when(`sen(ri)`, `seen`),
	when(`seen(ri > 1.7)`, ``), when(`ri`, `ri > 1.5`), when(`colour`, `colour == `),
	when(`ri > "1.7"`, `without quotes`), when(`stone.wet == 1`, `write stone.wet`), when(`ri + 1`, ``),
	when(`'ri > 1.7 ? true : false'`, `two rules`), when(`not colour in ["red"]`, `not in`),
	when(`unclear(stone.wet)`, ``),
	// signs and brackets
	when(`ri ≥ 1.7`, `>=`), when(`ri ≤ 1.7`, `<=`), when(`colour ≠ "red"`, `!=`),
	when(`birefringence > −0.01`, `Write -`), when(`colour == “red”`, `straight quotes`),
	when(`colour == ‘red’`, `straight quotes`), when(`2 × ri > 3`, `*`), when(`(ri > 1.7`, `Write )`),
	when(`ri > 1.7)`, `Take it out`), when(`'colour in ["red", "blue"'`, `Write ]`),
	when(`'colour == "red'`, `Write "`), when(`'(ri > 1.7]'`, `each by its own kind`),
	when(`any(inclusions, # == "feather")`, `Put all of it in quotes`),
	when(`count(inclusions, # contains "bub") > 1`, `Put all of it in quotes`),
	when(`"red ring" in inclusions`, `Put all of it in quotes`), when(``, `leaves "if" out`),
	when(`ri > 1.7 and`, `is to follow`),
	// what follows
	then(`supports: {materials: [quartz], strength: 3}`, `ratio: 3`),
	then(`supports: {materials: [quartz], ratio: weak}`, `strength: weak`),
	then(`supports: {materials: [quartz], strength: week}`, `weak`), then(`supports: {materials: [quartz]}`,
		`"strength" or "ratio"`), then(`supports: [quartz]`, `strength: weak`),
	then(`supports: {materials: [quarz], strength: weak}`, `quartz`), then(`supports: {materials: [], strength: weak}`,
		``), then(`supports: {materials: [quartz], ratio: 0.2}`, `weakens`),
	then(`excludes: [crystal rock]`, `rock-crystal`), then(`excludes: [rock crystal]`, `rock-crystal`),
	then(`excludes: {where: specific_gravity > 3}`,
		`material.specific_gravity`), then(`excludes: {where: material.specific_gravity.max > 3}`,
		`material.specific_gravity.high`),
	then(`excludes: {where: stone.wet}`, `Ask for it under if`), then(`exclude: [quartz]`, `excludes`),
	then(`caution: text`, `cautions`), then(`cautions: ""`, `leave "cautions" out`),
	then(`calls_for: [specific_gravity]`, `weighing`), then(`calls_for: [wieghing]`, `weighing`),
	then(`sets_aside: [thermal-probe]`, ``), then(`sets_aside: [thermalprobe]`, `thermal_probe`),
	then(`sends_on:`, `leave "sends_on" out`), then(`establishes: {high_index: false}`, `fails by itself`), and(`because: it is better`, `Write replaces:`), and(`until: 2031-13-01`, ``), and(`since: next year`, `2031-04-12`), and(`status: drafted`, `draft`), and(`replaces: over-the-limits
    because: x`, `over-the-limit`), and(`examples: [{readings: {ri: 1.7}, is: true}]`, `holds`), and(`examples: [{readings: {ri: 17}, is: holds}]`, ``), then(`cautions: 010`, `put it in quotes`),
	// layout
	sheet("rules:\n  - rule: a\n   says: x", `indented alike`), sheet("rules:\n  - rule: a\n\tsays: x", `spaces`),
	sheet("rules:\n  - rule: a\n\u00a0\u00a0  says: x", `ordinary one`),
	sheet("rules:\n  - rule: a\n    says: \"no end", `same quote`), sheet("rules:\n  - rule: a\n    says: one: two",
		`in quotes`), {"format: 1\nrules:\n<<<<<<< HEAD\n  - {rule: a, says: x, cautions: x}\n=======\n  - {rule: b, " +
		"says: x, cautions: x}\n>>>>>>> other\n", 3, `Keep what is to count`}, sheet("ruels: []", `rules`),
	sheet("rules: {rule: a}", ``), sheet("rules:\n  - rule: a\n    says: x\n    says: y", ``),
	sheet("rules:\n  - rule: A_b", `lower-case letters`), sheet("rules:\n  - rul: a", `rule`),
	// sheets of other kinds
	sheet("retires:\n  - {rule: over-the-limits, because: x}", `over-the-limit`),
	sheet("retires:\n  - {rule: limit, because: x}", ``), sheet("retires:\n  - {rule: diamond, because: x}",
		`material: diamond`), sheet("policy: {priors: {quartzz: 3}}", `quartz`),
	sheet("policy: {time_zone: London}", `Europe/London`), sheet("policy: {misfit: four}", `Write digits`),
	sheet("policy: {claims: {ruby: {node: corundun}}}", `corundum`),
	sheet("materials:\n  - {material: a, under: quarz, name: a, origin: natural, seen_at_counter: rare}", `quartz`),
	sheet("materials:\n  - {material: a, under: stones, name: a, origin: naturall, seen_at_counter: rare}", `natural`),
	sheet("materials:\n  - {material: a, under: stones, name: a, origin: natural, seen_at_counter: rear}", `rare`),
	sheet("materials:\n  - {material: a, under: stones, name: rock crystal, origin: natural, seen_at_counter: rare}",
		`another name`), sheet("materials:\n  - {material: a, under: stones, name: a, origin: natural, "+
		"seen_at_counter: rare, properties: {specific_gravity: {range: [3270, 3480], source: x}}}", `another unit`),
	sheet("materials:\n  - {material: a, under: stones, name: a, origin: natural, seen_at_counter: rare, properties: "+
		"{ri: {range: [1,54, 1,55], source: x}}}", `1.54`),
	sheet("materials:\n  - {material: a, under: stones, name: a, origin: natural, seen_at_counter: rare, outcomes: "+
		"{facet_doubling: {seen: {slight: ofen}, source: x}}}", `often`),
	sheet("tests:\n  - {test: t, name: t, harm: none, source: x, yields: {q: {kind: choise, family: thermal, "+
		"blunder: 0.1, choices: [a, b]}}}", `choice`),
	sheet("tests:\n  - {test: t, name: t, harm: none, source: x, yields: {q: {kind: choice, family: absorpsion, "+
		"blunder: 0.1, choices: [a, b]}}}", `absorption`),
	sheet("tests:\n  - {test: t, name: t, source: x, yields: {q: {kind: choice, family: thermal, blunder: 0.1, "+
		"choices: [a, b]}}}", ``),
	sheet("tables:\n  - {table: t, says: x, source: x, columns: [ri], rows: [{row: a, ri: 1.5 - 1.6, cautions: x}]}",
		`2.6 to 2.7`), sheet("tables:\n  - {table: t, says: x, source: x, columns: [rii], rows: [{row: a, rii: above "+
		"1, cautions: x}]}", `ri`),
	sheet("definitions:\n  - {define: heavy, says: x, is: specific_gravty > 4}", `specific_gravity`),
	sheet("definitions:\n  - {define: heavy, says: x, is: not heavy}", `heavy names heavy`),
}

// TestMistakes: each of them is told at its line, nine in ten with the remedy, and none suggests what stands there.
func TestMistakes(t *testing.T) {
	if len(mistakes) < 150 {
		t.Errorf("%d mistakes are too few", len(mistakes))
	}
	helped := 0
	for i, m := range mistakes {
		found := findingsOf(t, m.file)
		var here []string
		helps := false
		for _, d := range found {
			if d.Severity == diag.Note || d.Span.IsZero() || !strings.HasPrefix(d.Span.Source.Name, "house/") ||
				d.Span.Position().Line != m.line {
				continue
			}
			here = append(here, d.Error()+" | "+d.Detail)
			if d.Nearest != "" && d.Nearest == strings.Trim(d.Span.Text(), `"'`) {
				t.Errorf("%d: it suggests what is there: %s", i, d.Error())
			}
			if m.says != "" && (d.Nearest == m.says || strings.Contains(d.Detail, m.says) ||
				strings.Contains(d.Summary, m.says)) {
				helps = true
			}
		}
		switch {
		case len(here) == 0:
			t.Errorf("%d: nothing is told at line %d of\n%s\n%s", i, m.line, m.file, written(t, found))
		case helps:
			helped++
		case m.says != "":
			t.Errorf("%d: no word of %q:\n%s\n%s", i, m.says, m.file, strings.Join(here, "\n"))
		}
	}
	if helped*10 < len(mistakes)*9 {
		t.Errorf("%d of %d mistakes are told with the remedy", helped, len(mistakes))
	}
	t.Logf("%d mistakes, %d with the remedy", len(mistakes), helped)
}

// findingsOf is all that loading and proofreading say of a house's file.
func findingsOf(t *testing.T, text string) diag.List {
	layers := []load.Layer{{Name: "base", FS: os.DirFS("testdata/base")},
		{Name: "house", FS: fstest.MapFS{"house.yaml": {Data: []byte(text)}}}}
	rs, out := load.Load(context.Background(), layers)
	if rs == nil {
		return out
	}
	r, err := Run(context.Background(), rs, Options{On: on, Loaded: out})
	if err != nil {
		t.Fatal(err)
	}
	return diagnostics(r)
}
