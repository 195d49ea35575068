package proofread

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/eval"
	"whystone/kb/logic"
)

// looksAt are the choices of observables over which small rule bases are drawn, so that a grid of all cases stays
// small.
var looksAt = [][]string{{"ri", "colour", "stone"}, {"ri", "inclusions"}, {"colour", "inclusions", "stone"},
	{"ri", "stone"}}

// found lists the findings of a code as "first sheet" or "first sheet, second sheet".
func found(r *Report, code string) []string {
	var out []string
	for _, f := range r.Findings {
		if string(f.Code) != code {
			continue
		}
		says := f.Sheets[0].ID
		if len(f.Sheets) > 1 {
			says += ", " + f.Sheets[1].ID
		}
		out = append(out, says)
	}
	slices.Sort(out)
	return out
}

// TestAgainstGrid: what is found of random small rule bases is what all cases of a grid show, and no more.
func TestAgainstGrid(t *testing.T) {
	compared, told := 0, map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		for range 2 {
			n, found := againstGrid(t, rt)
			compared += n
			for code, k := range found {
				told[code] += k
			}
		}
	})
	t.Log(compared, "comparisons", told)
	// -short draws few
	if !testing.Short() && (compared < 2000 || len(told) < 3 || slices.Min(slices.Collect(maps.Values(told))) < 3) {
		t.Errorf("only %d comparisons were made, of which were told %v", compared, told)
	}
}

// againstGrid draws a rule base, and tells how many rules and pairs were compared, and how many findings of a code
// there are.
func againstGrid(t *testing.T, rt *rapid.T) (compared int, told map[string]int) {
	told = map[string]int{}
	of := rapid.SampledFrom(looksAt).Draw(rt, "looks at")
	drawn := drawRules(rt, of)
	rs := build(t, drawn)
	if slices.ContainsFunc(drawn, func(r *drawnRule) bool { return r.effect == "sets_aside" }) &&
		!slices.Contains(of, "stone") {
		of = append(slices.Clone(of), "stone")
	}
	r := report(t, rs)
	rules := make([]*kb.Rule, len(drawn))
	for i, d := range drawn {
		rules[i] = rs.Rule(d.id)
	}
	b := bruteBase{drawn: drawn, rules: rules, firing: brute(t, rs, rules, of)}
	for code, want := range map[string][]string{"never-holds": b.never(), "repeats-rule": b.repeats(),
		"pulls-both-ways": b.pulls()} {
		if got := found(r, code); !slices.Equal(got, want) {
			rt.Fatalf("%s: found %q, the grid shows %q, of\n%v", code, got, want, drawn)
		}
		told[code] += len(want)
	}
	return len(drawn) + 2*len(drawn)*(len(drawn)-1), told
}

type bruteBase struct {
	drawn []*drawnRule
	rules []*kb.Rule
	*firing
}

func (b *bruteBase) never() (out []string) {
	for i, d := range b.drawn {
		if !b.ever[i] {
			out = append(out, d.id)
		}
	}
	slices.Sort(out)
	return out
}

// repeats lists pairs of a rule and the first that gives all that it gives wherever it fires.
func (b *bruteBase) repeats() (out []string) {
	for i, a := range b.drawn {
		var others []string
		for j, o := range b.drawn {
			if i == j || o.draft || !b.gives(j, i) || !b.within(i, j) {
				continue
			}
			if mutual := b.gives(i, j) && b.within(j, i); mutual && !a.draft && o.id > a.id {
				continue
			}
			others = append(others, o.id)
		}
		if len(others) > 0 {
			out = append(out, a.id+", "+first(b.rules, others))
		}
	}
	slices.Sort(out)
	return out
}

// first is the id that comes first in the order of evaluation.
func first(rules []*kb.Rule, ids []string) string {
	sorted := slices.SortedFunc(slices.Values(rules), func(a, b *kb.Rule) int { return a.Turn - b.Turn })
	for _, r := range sorted {
		if slices.Contains(ids, r.ID) {
			return r.ID
		}
	}
	return ""
}

func (b *bruteBase) within(i, j int) bool {
	return b.ever[i] && !b.alone[i][j] && (b.drawn[i].effect != "establishes" || !b.failsNot[j][i])
}

// gives tells whether a rule gives all that another does.
func (b *bruteBase) gives(i, j int) bool {
	r, o := b.drawn[i], b.drawn[j]
	if same := slices.Equal(atoms(b.rules[i]), atoms(b.rules[j])); !same &&
		(r.effect == "supports" || r.effect == "weakens") {
		return false // evidence on other readings counts beside it
	}
	if r.effect != o.effect || r.on != o.on && !(r.evidence() && covers(r.on, o.on)) {
		return false
	}
	return !r.evidence() || r.inFamily() == o.inFamily() && (r.effect == "excludes" || r.ratio >= o.ratio)
}

func (r *drawnRule) inFamily() string {
	if r.family != "" {
		return r.family
	}
	return r.families()[0]
}

func covers(group, material string) bool {
	return group == material || group == "corundum" && material == "natural-corundum"
}

// pulls lists pairs that fire together and pull one material both ways, on the same readings, or where the one that
// reads more fires only with the other.
func (b *bruteBase) pulls() (out []string) {
	for i, x := range b.drawn {
		for j, y := range b.drawn {
			if x.effect != "supports" || y.effect != "weakens" && y.effect != "excludes" || !covers(x.on, y.on) &&
				!covers(y.on, x.on) || !b.together[i][j] {
				continue
			}
			p, q := atoms(b.rules[i]), atoms(b.rules[j])
			if same := subset(p, q) && subset(q, p); same || subset(p, q) && !b.alone[j][i] || subset(q, p) &&
				!b.alone[i][j] {
				out = append(out, min(x.id, y.id)+", "+max(x.id, y.id))
			}
		}
	}
	slices.Sort(out)
	return out
}

func atoms(r *kb.Rule) (out []string) {
	for _, a := range r.Basis {
		out = append(out, a.String())
	}
	return out
}

// TestIdleAgainstGrid: the part that is told to decide nothing is the first of which all cases of a grid show it, and
// where none is told they show none.
func TestIdleAgainstGrid(t *testing.T) {
	compared, told := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		of := rapid.SampledFrom(looksAt).Draw(rt, "looks at")
		root := drawTree(rt, of, nil, 3, "")
		g := idleGrid{rules: []*drawnRule{{id: "it", cond: root, effect: "cautions", on: "drawn"}}}
		g.collect(root, true, func(n *tree) *tree { return n })
		rs := build(t, g.rules)
		g.run(t, rs, of)
		want := ""
		if g.ever("it", logic.Holds) {
			want = g.first()
		}
		compared += len(g.parts)
		got := ""
		for _, f := range report(t, rs).Findings {
			if f.Code == "idle-part" && f.Sheets[0].ID == "it" {
				got = f.Span.Text()
			}
		}
		if got != want {
			rt.Fatalf("of %s is told %q, the grid shows %q", root, got, want)
		}
		if want != "" {
			told++
		}
	})
	t.Log(compared, "parts,", told, "idle")
	if !testing.Short() && (compared < 200 || told < 10) { // -short draws few
		t.Errorf("only %d parts were looked at, %d of them idle", compared, told)
	}
}

// idleGrid holds a condition against what it is without each of its parts, as rules of their own.
type idleGrid struct {
	rules []*drawnRule
	parts []partOf
	is    map[string]map[logic.Value]bool
	both  map[string]map[[2]logic.Value]bool // the whole beside the condition without a part
}

type partOf struct {
	text, part, rest string // ids of rules
	op               string
	toward           bool
}

func (g *idleGrid) rule(n *tree) string {
	r := &drawnRule{id: fmt.Sprintf("part-%d", len(g.rules)), cond: n, effect: "cautions",
		on: fmt.Sprint("drawn ", len(g.rules))}
	g.rules = append(g.rules, r)
	return r.id
}

func (g *idleGrid) collect(n *tree, toward bool, with func(*tree) *tree) {
	switch n.op {
	case "not":
		g.collect(n.kids[0], !toward, func(k *tree) *tree { return with(n.with(0, k)) })
	case "and", "or":
		for i, k := range n.kids {
			g.parts = append(g.parts, partOf{k.String(), g.rule(k), g.rule(with(n.without(i))), n.op, toward})
			g.collect(k, toward, func(k *tree) *tree { return with(n.with(i, k)) })
		}
	}
}

func (g *idleGrid) run(t testing.TB, rs *kb.Ruleset, of []string) {
	g.is, g.both = map[string]map[logic.Value]bool{}, map[string]map[[2]logic.Value]bool{}
	for _, r := range g.rules {
		g.is[r.id], g.both[r.id] = map[logic.Value]bool{}, map[[2]logic.Value]bool{}
	}
	whole := rs.Rule("it").Turn
	grid(t, rs, of, func(run *eval.Run) {
		for _, r := range g.rules {
			v := run.Rules[rs.Rule(r.id).Turn]
			g.is[r.id][v] = true
			g.both[r.id][[2]logic.Value{run.Rules[whole], v}] = true
		}
	})
}

func (g *idleGrid) ever(id string, v logic.Value) bool { return g.is[id][v] }

// first is the first part that decides nothing.
func (g *idleGrid) first() string {
	for _, p := range g.parts {
		alternative := (p.op == "or") == p.toward
		switch {
		case p.op == "or" && !g.ever(p.part, logic.Holds):
			return p.text
		case !g.ever("it", logic.Fails) && !alternative:
		case p.op == "and" && !g.ever(p.part, logic.Fails):
			return p.text
		case !g.differ(p.rest, logic.Holds) && (alternative || !g.differ(p.rest, logic.Fails)):
			return p.text
		}
	}
	return ""
}

// differ tells whether in some case one of the condition and what is left of it is so and the other isn't.
func (g *idleGrid) differ(rest string, v logic.Value) bool {
	for pair := range g.both[rest] {
		if (pair[0] == v) != (pair[1] == v) {
			return true
		}
	}
	return false
}
