package proofread

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/load"
)

// tree is a condition as it was drawn: a leaf's text, or a connective over parts.
type tree struct {
	op     string // "", and, or, not
	leaf   string
	kids   []*tree
	family []string // of its observables, through facts too
}

// String writes it as an author would. Parts of another connective stand in parentheses.
func (n *tree) String() string {
	switch n.op {
	case "":
		return n.leaf
	case "not":
		return "not (" + n.kids[0].String() + ")"
	}
	texts := make([]string, len(n.kids))
	for i, k := range n.kids {
		texts[i] = k.String()
		if k.op == "and" || k.op == "or" {
			texts[i] = "(" + texts[i] + ")"
		}
	}
	return strings.Join(texts, " "+n.op+" ")
}

// without is the tree without one kid of its top.
func (n *tree) without(i int) *tree {
	kids := slices.Delete(slices.Clone(n.kids), i, i+1)
	if len(kids) == 1 {
		return kids[0]
	}
	return &tree{op: n.op, kids: kids}
}

// with is the tree with another kid.
func (n *tree) with(i int, kid *tree) *tree {
	kids := slices.Clone(n.kids)
	kids[i] = kid
	if kid.op == n.op && n.op != "not" { // as the compiler does
		kids = slices.Concat(kids[:i], kid.kids, kids[i+1:])
	}
	return &tree{op: n.op, kids: kids}
}

// drawnRule is a rule as it was drawn. One thing follows from it.
type drawnRule struct {
	id           string
	cond, unless *tree
	effect       string // a key of a rule
	on           string // a material, a fact, an observable, a caution
	ratio        int
	family       string
	draft        bool
	accepts      string
}

func (r *drawnRule) String() string {
	out := "  - rule: " + r.id + "\n    says: drawn\n    source: invented\n    if: '" + r.cond.String() + "'\n"
	if r.unless != nil {
		out += "    unless: '" + r.unless.String() + "'\n"
	}
	switch r.effect {
	case "supports", "weakens":
		out += fmt.Sprintf("    %s: {materials: [%s], ratio: %d}\n", r.effect, r.on, r.ratio)
	case "establishes":
		out += "    establishes: {" + r.on + ": true}\n"
	default:
		out += "    " + r.effect + ": [" + r.on + "]\n"
	}
	if r.family != "" {
		out += "    family: " + r.family + "\n"
	}
	if r.draft {
		out += "    status: draft\n"
	}
	return out + r.accepts
}

// evidence tells whether the rule weighs materials.
func (r *drawnRule) evidence() bool {
	return r.effect == "supports" || r.effect == "weakens" || r.effect == "excludes"
}

func (r *drawnRule) families() []string {
	out := slices.Clone(r.cond.family)
	if r.unless != nil {
		out = append(out, r.unless.family...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// leaves that may be drawn, by what they look at. The thresholds of the index lie at points of the grid.
var leaves = map[string]struct {
	family string
	texts  []string
}{
	"ri": {"refraction", []string{"ri > 1.5", "ri > 1.6", "ri >= 1.7", "ri <= 1.5", "ri <= 1.6", "ri < 1.7",
		"ri > 1.65", "ri <= 1.65", "seen(ri)", "unclear(ri)"}},
	"colour": {"absorption", []string{`colour == "red"`, `colour == "blue"`, `colour != "red"`,
		`colour in ["red", "blue"]`, `colour not in ["colourless"]`, `colour in ["red", "blue", "colourless"]`,
		"seen(colour)", "unclear(colour)"}},
	"inclusions": {"magnified", []string{`"feather" in inclusions`, `"needles" in inclusions`,
		`any(inclusions, # in ["feather", "needles"])`, `not ("needles" in inclusions)`}},
	"stone": {"", []string{"stone.wet", "stone.wet == false", "seen(stone.wet)"}},
}

// drawTree draws a condition over some observables and facts, whose families are given.
func drawTree(t *rapid.T, of []string, facts map[string][]string, depth int, above string) *tree {
	op := ""
	if depth > 0 {
		op = rapid.SampledFrom([]string{"", "and", "or", "not", "and", "or"}).Draw(t, "op")
	}
	if op == above && op != "not" {
		op = ""
	}
	out := &tree{op: op}
	switch op {
	case "":
		what := rapid.SampledFrom(of).Draw(t, "of")
		if len(facts) > 0 && rapid.IntRange(0, 4).Draw(t, "fact") == 0 {
			out.leaf = rapid.SampledFrom([]string{"fact_a", "fact_b"}[:len(facts)]).Draw(t, "which")
			out.family = facts[out.leaf]
			return out
		}
		out.leaf = rapid.SampledFrom(leaves[what].texts).Draw(t, "leaf")
		if f := leaves[what].family; f != "" {
			out.family = []string{f}
		}
	case "not":
		out.kids = []*tree{drawTree(t, of, facts, depth-1, op)}
	default:
		for range rapid.IntRange(2, 3).Draw(t, "kids") {
			out.kids = append(out.kids, drawTree(t, of, facts, depth-1, op))
		}
	}
	for _, k := range out.kids {
		out.family = append(out.family, k.family...)
	}
	return out
}

// drawRules draws a small rule base: up to two that establish facts, perhaps one that sets a reading of a wet stone
// aside, and some that follow from readings and facts.
func drawRules(t *rapid.T, of []string) (out []*drawnRule) {
	facts := map[string][]string{}
	if rapid.Bool().Draw(t, "aside") {
		out = append(out, &drawnRule{id: "aside", cond: drawTree(t, []string{"stone"}, nil, 1, ""),
			effect: "sets_aside", on: rapid.SampledFrom([]string{"ri", "colour"}).Draw(t, "what")})
	}
	for i := range rapid.IntRange(0, 2).Draw(t, "facts") {
		r := &drawnRule{id: fmt.Sprintf("fact-%d", i), cond: drawTree(t, of, nil, 1, ""), effect: "establishes",
			on: []string{"fact_a", "fact_b"}[i]}
		facts[r.on] = r.families()
		out = append(out, r)
	}
	for i := range rapid.IntRange(3, 5).Draw(t, "rules") {
		r := &drawnRule{id: fmt.Sprintf("rule-%d", i), cond: drawTree(t, of, facts, 2, "")}
		if i > 0 && rapid.IntRange(0, 2).Draw(t, "copied") == 0 {
			r.cond = altered(t, out[len(out)-1].cond, r.cond)
		}
		if rapid.IntRange(0, 3).Draw(t, "excepted") == 0 {
			r.unless = drawTree(t, of, facts, 1, "")
		}
		r.effect = rapid.SampledFrom([]string{"supports", "weakens", "excludes", "cautions", "supports"}).Draw(t,
			"effect")
		r.on = rapid.SampledFrom([]string{"corundum", "natural-corundum", "glass"}).Draw(t, "on")
		r.ratio = rapid.SampledFrom([]int{3, 30}).Draw(t, "ratio")
		r.draft = rapid.IntRange(0, 9).Draw(t, "draft") == 0
		if r.effect == "excludes" && len(r.families()) == 0 {
			r.effect = "cautions"
		}
		if f := r.families(); r.evidence() && len(f) != 1 {
			r.family = append(f, "refraction")[0]
		}
		out = append(out, r)
	}
	return out
}

// altered is a condition copied from another rule, in another order, and perhaps made narrower.
func altered(t *rapid.T, from, more *tree) *tree {
	kids := []*tree{from}
	if from.op == "and" || from.op == "or" {
		kids = []*tree{{op: from.op, kids: rapid.Permutation(from.kids).Draw(t, "order"), family: from.family}}
	}
	if rapid.Bool().Draw(t, "as it is") {
		return kids[0]
	}
	return &tree{op: "and", kids: append(kids, more), family: slices.Concat(from.family, more.family)}
}

// sharedFiles reads the sound ruleset's files but for its rules.
func sharedFiles(t testing.TB) fstest.MapFS {
	t.Helper()
	out := fstest.MapFS{}
	for _, name := range []string{"policy.yaml", "tests.yaml", "materials.yaml"} {
		text, err := os.ReadFile("testdata/base/" + name)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = &fstest.MapFile{Data: text}
	}
	return out
}

// build loads rules from files, each of them a list of rules.
func build(t testing.TB, files ...[]*drawnRule) *kb.Ruleset {
	t.Helper()
	fs := sharedFiles(t)
	for i, rules := range files {
		var b strings.Builder
		b.WriteString("format: 1\nrules:\n")
		for _, r := range rules {
			b.WriteString(r.String())
		}
		if len(rules) > 0 {
			fs[fmt.Sprintf("rules-%d.yaml", i)] = &fstest.MapFile{Data: []byte(b.String())}
		}
	}
	return loaded(t, load.Layer{Name: "drawn", FS: fs})
}
