package load_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/load/loadtest"
)

const defined = `format: 1
definitions:
  - define: high
    takes: [x]
    is: x > 1.7
    gives: truth
    says: High for an index.
    source: invented
    examples:
      - {with: ri, readings: {ri: 1.76}, is: holds}
      - {with: ri, readings: {ri: 1.5}, is: fails}
      - {with: ri, readings: {}, is: undecided}
  - define: high_and_single
    is: high(ri) and facet_doubling == "none"
    says: High and singly refractive.
  - define: twice
    takes: [x]
    is: 2 * x
    gives: quantity
    says: Two of it.
    examples: [{with: [ri], readings: {ri: 1.5}, is: 3, within: 0.1}, {with: [ri], readings: {}, is: undecided}]
  - define: size
    is: 'stone.carat > 5 ? "large" : stone.carat > 1 ? "middle" : "small"'
    gives: word
    says: What the house calls a stone of such a weight.
    examples: [{stone: {carat: 6}, is: large}, {stone: {carat: 2}, is: middle}, {stone: {carat: 0.5}, is: small}, {is: undecided}]
  - define: shows
    takes: {mark: word, where_wet: truth}
    is: mark in inclusions and not where_wet
    says: A mark that is seen on a dry stone.
`

// TestDefinitions: a rule that uses what the house defined is the rule that writes it out: it has the same tree, reads
// the same, rests on the same, and comes out the same.
func TestDefinitions(t *testing.T) {
	for name, tt := range map[string]struct{ short, long string }{
		"a truth":          {`high(ri)`, `ri > 1.7`},
		"of an expression": {`high(2 * ri - 1)`, `2 * ri - 1 > 1.7`},
		"not":              {`not high(ri)`, `not (ri > 1.7)`},
		"beside others": {`high(ri) and stone.wet or high(specific_gravity)`,
			`ri > 1.7 and stone.wet or specific_gravity > 1.7`},
		"one of another":     {`high_and_single`, `ri > 1.7 and facet_doubling == "none"`},
		"in brackets":        {`not (high_and_single)`, `not (ri > 1.7 and facet_doubling == "none")`},
		"a quantity":         {`twice(ri) < 3.2`, `2 * ri < 3.2`},
		"a quantity of one":  {`twice(twice(ri)) < 6.4`, `2 * (2 * ri) < 6.4`},
		"near":               {`near(twice(ri), 3.1, 0.1)`, `near(2 * ri, 3.1, 0.1)`},
		"a word":             {`size == "large"`, `stone.carat > 5`},
		"another word":       {`size == "middle"`, `not (stone.carat > 5) and stone.carat > 1`},
		"the last word":      {`size == "small"`, `not (stone.carat > 5) and not (stone.carat > 1)`},
		"not a word":         {`size != "large"`, `not (stone.carat > 5)`},
		"words":              {`size in ["small", "middle"]`, `not (stone.carat > 5)`},
		"no words":           {`size not in ["small", "middle"]`, `not not (stone.carat > 5)`},
		"a word and a truth": {`shows("needles", stone.wet)`, `"needles" in inclusions and not stone.wet`},
		"compared":           {`high(ri) == false`, `not (ri > 1.7)`},
	} {
		t.Run(name, func(t *testing.T) {
			rule := func(cond string) string {
				return "  - {rule: r, says: x, if: '" + cond + "', cautions: x}\n  - {rule: s, says: x, unless: '" +
					cond + "', cautions: y}\n"
			}
			short := loadtest.Must(t, map[string]string{"d.yaml": defined,
				"r.yaml": "format: 1\nrules:\n" + rule(tt.short)})
			long := loadtest.WithRules(t, rule(tt.long))
			a, b := short.Rule("r"), long.Rule("r")
			if !slices.Equal(names(a.If.Reads, short.Scope), names(b.If.Reads, long.Scope)) ||
				len(a.Basis) != len(b.Basis) {
				t.Errorf("it reads %v, and written out %v", a.If.Reads, b.If.Reads)
			}
			if len(a.If.Uses) == 0 || !strings.Contains(a.If.Unfolded(), " is ") {
				t.Errorf("it is unfolded as %q", a.If.Unfolded())
			}
			for _, n := range a.If.Leaves() {
				if n.Start < 0 || n.End > len(a.If.Text) || n.Start >= n.End {
					t.Errorf("a leaf from %d to %d of %q", n.Start, n.End, a.If.Text)
				}
			}
			for _, text := range []string{"readings: {}", "readings: {ri: 1.5}",
				"readings: {ri: 1.76, facet_doubling: none}", "readings: {ri: 1.7}", "stone: {carat: 6}",
				"stone: {carat: 2, wet: true}",
				"stone: {carat: 0.2, wet: false}\nreadings: {specific_gravity: 3, ri: 1.6}",
				"stone: {wet: false}\nreadings: {inclusions: [needles]}",
				"readings: {inclusions: {features: [], looked_for: [needles]}, facet_doubling: strong}"} {
				x := loadtest.Truths(t, short, loadtest.RunOn(t, short, text), "r", "s")
				if y := loadtest.Truths(t, long, loadtest.RunOn(t, long, text), "r", "s"); x != y {
					t.Errorf("%s: %s, and written out %s", text, x, y)
				}
			}
		})
	}
}

func names(slots []int, scope *condition.Scope) (out []string) {
	for _, slot := range slots {
		out = append(out, scope.At(slot).Name)
	}
	return out
}

// TestDefinitionsRefused: what is wrong with a definition is told once, at its own place; what is wrong with a use at
// the use, with the definition beside it.
func TestDefinitionsRefused(t *testing.T) {
	const head = "format: 1\ndefinitions:\n"
	rule := func(cond string) string { return "rules:\n  - {rule: r, says: x, if: '" + cond + "', cautions: x}\n" }
	for name, tt := range map[string]struct{ text, code, at, related, says string }{
		"itself": {head + "  - {define: a, says: x, is: not a}\n", "circle-of-definitions", "not a", "",
			"a names a"},
		"a circle": {head + "  - {define: a, says: x, is: not b}\n  - {define: b, says: x, is: c}\n  - " +
			"{define: c, says: x, is: a or stone.wet}\n", "circle-of-definitions", "not b", "c",
			"a names b;\nb names c;\nc names a"},
		"an unknown name": {head + "  - {define: a, says: x, is: rii > 1}\n" + rule("a and stone.wet"), "unknown-name",
			"rii", "", ""},
		"unlike types": {head + "  - {define: a, says: x, is: ri == \"red\"}\n" + rule("a"), "unlike-types",
			`ri == "red"`, "", ""},
		"a word elsewhere": {head + "  - {define: a, says: x, is: 'ri > 1 ? \"high\" : 3'}\n", "unlike-types", "3", "",
			"a word in quotes is wanted here"},
		"gives another": {head + "  - {define: a, says: x, is: ri > 1.7, gives: quantity}\n", "unlike-types",
			"quantity", "ri > 1.7", ""},
		"gives nothing": {head + "  - {define: a, says: x, is: ri > 1.7, gives: number}\n", "unknown-name", "number",
			"", ""},
		"an idle param": {head + "  - {define: a, takes: [x], says: x, is: ri > 1.7}\n", "unknown-name", "ri > 1.7",
			"", "does not name it"},
		"a name taken":  {head + "  - {define: ri, says: x, is: stone.wet}\n", "bad-id", "ri", "", ""},
		"a param taken": {head + "  - {define: a, takes: [ri], says: x, is: ri > 1}\n", "bad-id", "ri", "", ""},
		"a hyphen": {head + "  - {define: a-b, says: x, is: stone.wet}\n", "bad-id", "a-b", "",
			"lower-case words"},
		"no expression": {head + "  - {define: a, says: x}\n", "missing-key", "{define: a, says: x}", "", ""},
		"a misspelt key": {head + "  - {define: a, says: x, iz: stone.wet, is: stone.wet}\n", "unknown-key", "iz", "",
			""},
		"too few": {head + "  - {define: a, takes: [x], says: x, is: x > 1}\n" + rule("a"), "unlike-types",
			"a", "x > 1", "takes x (a quantity)"},
		"too many": {head + "  - {define: a, says: x, is: stone.wet}\n" + rule("a(ri)"), "unlike-types",
			"a(ri)", "stone.wet", "takes nothing"},
		"an unlike param": {head + "  - {define: a, takes: [x], says: x, is: x > 1}\n" + rule("a(colour)"),
			"unlike-types", "colour", "x > 1", ""},
		"a wrong word": {head + "  - {define: a, says: x, is: 'ri > 1.7 ? \"high\" : \"low\"'}\n" +
			rule(`a == "hihg"`), "unknown-choice", `"hihg"`, `ri > 1.7 ? "high" : "low"`, ""},
		"a word within": {head + "  - {define: a, takes: {w: word}, says: x, is: colour == w}\n" + rule(`a("rad")`),
			"unknown-choice", `a("rad")`, "", "rad"},
		"for a number": {head + "  - {define: a, says: x, is: stone.wet}\n" + rule("a > 3"), "unlike-types", "a",
			"stone.wet", ""},
		"for a truth": {head + "  - {define: a, says: x, is: 2 * ri}\n" + rule("a"), "unlike-types", "a", "2 * ri",
			""},
		"seen": {head + "  - {define: a, says: x, is: 2 * ri}\n" + rule("seen(a)"), "not-allowed", "a", "",
			"is a definition"},
		"misspelt": {head + "  - {define: heavier, takes: [x], says: x, is: x > 1}\n" + rule("heavire(ri)"),
			"not-allowed", "heavire", "", ""},
		"in a where": {head + "  - {define: a, says: x, is: stone.wet}\nrules:\n  - {rule: r, says: x, if: ri " +
			"> 1.7, excludes: {where: a}}\n", "unknown-name", "a", "", "is a definition"},
		"a bad example": {head + "  - {define: a, says: x, is: 2 * ri, examples: [{readings: {ri: 1.5}, is: 3}]}\n",
			"missing-key", "{readings: {ri: 1.5}, is: 3}", "", "within"},
		"syntax": {head + "  - {define: a, says: x, is: '(ri > 1'}\n" + rule("a"), "bad-syntax", "(", "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			rs, out := loadtest.House(t, map[string]string{"d.yaml": tt.text})
			if rs != nil || out.Errors() != 1 {
				t.Fatalf("%d errors\n%s", out.Errors(), loadtest.Render(t, out))
			}
			d := out[slices.IndexFunc(out, func(d diag.Diagnostic) bool { return d.Severity == diag.Error })]
			if string(d.Code) != tt.code || d.Span.Text() != tt.at || !strings.Contains(d.Summary+"\n"+d.Detail,
				tt.says) {
				t.Errorf("%q\n%s", d.Span.Text(), loadtest.Render(t, out))
			}
			if tt.related != "" && (len(d.Related) == 0 || d.Related[0].Span.Text() != tt.related) {
				t.Errorf("the definition is not shown\n%s", loadtest.Render(t, out))
			}
		})
	}
}

// TestDefinitionsInLayersAndTables: a house replaces and retires definitions as it does rules; a table's column may be
// one.
func TestDefinitionsInLayersAndTables(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"d.yaml": defined, "t.yaml": `format: 1
tables:
  - table: by-size
    says: x
    columns: [size, high_and_single]
    rows:
      - {row: a, size: [small, middle], high_and_single: true, cautions: a}
      - {row: b, size: large, cautions: b}
`})
	for text, want := range map[string]string{
		"stone: {carat: 6}": "by-size-a fails, by-size-b holds",
		"stone: {carat: 2}": "by-size-a undecided, by-size-b fails",
		"stone: {carat: 2}\nreadings: {ri: 1.76, facet_doubling: none}": "by-size-a holds, by-size-b fails",
	} {
		if got := loadtest.Truths(t, rs, loadtest.RunOn(t, rs, text), "by-size-a", "by-size-b"); got != want {
			t.Errorf("%s: %s", text, got)
		}
	}
	if d := rs.Definition("size"); d == nil || !slices.Equal(d.Words, []string{"large", "middle", "small"}) ||
		rs.Definition("none") != nil {
		t.Errorf("%+v", d)
	}
	without := loadtest.Must(t, nil)
	with := loadtest.Must(t, map[string]string{"d.yaml": defined})
	if without.Digest == with.Digest {
		t.Error("a definition is no part of the digest")
	}
	_, out := loadtest.House(t, map[string]string{"a.yaml": "format: 1\nretires: [{define: nothing, because: x}]\n"})
	if len(out) != 1 || out[0].Code != diag.ReplacesNothing {
		t.Error(out)
	}
}

// Definitions that double what they say don't take all the time there is.
func TestDefinitionsThatGrow(t *testing.T) {
	text := "format: 1\ndefinitions:\n  - {define: d0, takes: [x], says: x, is: x + x}\n"
	for i := range 40 {
		text += fmt.Sprintf("  - {define: d%d, takes: [x], says: x, is: d%d(x) + d%d(x)}\n", i+1, i, i)
	}
	rs, out := loadtest.House(t, map[string]string{"d.yaml": text})
	if rs != nil || !slices.ContainsFunc(out, func(d diag.Diagnostic) bool { return d.Code == diag.TooLong }) {
		t.Error(loadtest.Render(t, out))
	}
}
