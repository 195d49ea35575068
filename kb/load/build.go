package load

import (
	"cmp"
	"math"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// build makes the ruleset out of the stacked sheets. Each stage needs the one before; where one has errors the stages
// that read its result still run as far as they can, so that all errors are told at once.
func (st *stacked) build(out *diag.List) *kb.Ruleset {
	before := len(st.unread.without(*out))
	rs := &kb.Ruleset{Method: kb.ArithmeticVersion, Layers: st.layers, Retired: st.retired, Files: st.files}
	tests := buildTests(st.ordered("test"))
	tests.nearFamilies(st.layers)
	rs.Tests, rs.Formulas = tests.tests, tests.formulas
	if st.policy.node == nil {
		out.Errorf(diag.MissingKey, diag.Span{}, "no layer has a policy")
		return nil
	}
	ps := &sheet{Node: st.policy.node, out: out}
	rs.Policy = buildPolicy(ps, tests)
	v, err := vocab.Build(tests.observables, tests.yields, rs.Policy.Instruments, tests.testIDs())
	if err != nil {
		out.Errorf(diag.BadPolicy, diag.Span{}, "%s", err)
		return nil
	}
	rs.Vocabulary = v
	checkKnown(v, out)
	// The policy's claims can't be read in the words of an unsound policy; all else is, so that its findings are told
	// at once.
	sound := !st.unread.without(*out)[before:].HasErrors()
	tree := buildTree(st.ordered("material"), rs.Policy, v, out)
	rs.Nodes, rs.Leaves = tree.nodes, tree.leaves
	if sound && !tree.broken {
		rs.Claims = buildClaims(rs, tree.at, ps, out)
	}
	checkPriors(rs, ps, tree)
	rules, definitions := buildRules(rs, st.policy.node, st.ordered("rule"), st.ordered("table"),
		st.ordered(kb.DefineSheet))
	st.reviewed(rs.Policy, rules)
	buildNeeds(tests, rs.Scope)
	buildDerived(tests, rs.Scope)
	readExamples(rs, rules, out)
	readDefinitionExamples(rs, definitions, out)
	if out.HasErrors() {
		return nil
	}
	order(rs, out)
	if out.HasErrors() {
		return nil
	}
	compile(rs)
	for r, s := range rules {
		r.Keys = s.places()
	}
	rs.Sheets = st.sheetIndex(rs, rules)
	deriveExamples(rs)
	if rs.Digest, err = st.digest(); err != nil {
		out.Errorf(diag.BadEncoding, diag.Span{}, "the ruleset has no digest: %s", err)
		return nil
	}
	return rs
}

// checkKnown sees that what the arithmetic knows by name is of the kind that it expects.
func checkKnown(v *vocab.Vocabulary, out *diag.List) {
	for name, kind := range map[string]vocab.Kind{vocab.RefractiveIndex: vocab.Quantity,
		vocab.Birefringence: vocab.Quantity, vocab.Reflectance: vocab.Quantity, vocab.Colour: vocab.Choice,
		vocab.Transparency: vocab.Choice} {
		if o := v.Observable(name); o != nil && o.Kind != kind {
			out.Errorf(diag.UnlikeTypes, diag.Span{}, "the observable %s must be a %s", name, kind)
		}
	}
}

// mostPrior is how many times more common than the commonest word, or rarer than the rarest, a prior may make a
// material before it is probably a slip.
const mostPrior = 1000

func checkPriors(rs *kb.Ruleset, s *sheet, t *tree) {
	least, most := math.Inf(1), 0.0
	for _, x := range rs.Policy.SeenAtCounter {
		least, most = min(least, x), max(most, x)
	}
	for _, e := range s.entries(s.Get("priors")) {
		id, x := e.Key.Text, rs.Policy.Priors[e.Key.Text]
		switch {
		case rs.Node(id) == nil:
			d := s.errorf(diag.UnknownMaterial, e.Key, "priors names %q, which is no material or group", id)
			d.Lacks = id
			d.Nearest, d.Detail = nearestNode(rs, id)
		case t.broken || x == 0:
		case x > most*mostPrior || x < least/mostPrior:
			s.out.Warnf(diag.BadPolicy, e.Value.Span,
				"the prior of %q is %g, and the words for what is common go from %g to %g", id, x, least, most).
				Detail = "No reading would get the better of it. Write a number on the scale of those words."
		case !t.priors[id]:
			d := s.out.Warnf(diag.IdlePrior, e.Key.Span,
				"no material takes the prior of the group %q: each under it says by itself how common it is", id)
			d.Detail = "A group's prior stands for the materials that say no seen_at_counter of their own. Name the " +
				"materials: " + someIDs(rs, rs.Node(id)) + "."
		}
	}
}

// someIDs names a few of the materials under a group.
func someIDs(rs *kb.Ruleset, m *kb.Material) string {
	const most = 4
	var ids []string
	for _, i := range m.Leaves {
		if l := rs.Leaves[i]; !l.Other {
			ids = append(ids, l.ID)
		}
	}
	if len(ids) > most {
		ids = append(ids[:most], "...")
	}
	return strings.Join(ids, ", ")
}

func caseScope(v *vocab.Vocabulary, facts []*kb.Fact, old retiredFacts) *condition.Scope {
	symbols := append(english.Each(v.Observables, func(o *vocab.Observable) condition.Symbol {
		return condition.Symbol{Name: o.Name, Kind: o.Kind, Observable: o}
	}), eval.CaseSymbols()...)
	for _, f := range facts {
		f.Slot = len(symbols)
		symbols = append(symbols, condition.Symbol{Name: f.Name, Kind: f.Kind, Words: f.Words,
			PastWords: old.words[f.Name], Fact: true})
	}
	scope := condition.NewScope(append(symbols, old.symbols(len(symbols))...))
	return scope.WithHints(func(name string) string { return cmp.Or(v.TestGives(name, false), materialHint(scope, name)) })
}

// buildRules reads the rules and their tables, and returns the sheets that rules were read from.
func buildRules(rs *kb.Ruleset, policy *syntax.Node, sheets, tables, defined []*sheet) (map[*kb.Rule]*sheet,
	map[*kb.Definition]*sheet) {
	b := &ruleBuilder{rs: rs, house: policy, facts: gatherFacts(sheets, rs.Vocabulary), at: map[*kb.Rule]*sheet{}}
	b.past = gatherRetiredFacts(sheets, rs.Vocabulary, b.facts)
	rs.Facts = inOrder(b.facts)
	rs.Scope = caseScope(rs.Vocabulary, rs.Facts, b.past)
	definitions := buildDefinitions(rs, defined)
	b.where = materialScope(rs)
	buildTables(rs, tables, sheets)
	rs.Rules = english.Each(sheets, b.read)
	b.linkReplaced()
	for _, t := range tables {
		for _, row := range t.table.rows {
			if r := rs.Rule(row.id); r != nil && b.at[r] == row {
				row.finishRow(r, rs.Scope)
			}
		}
	}
	for _, r := range rs.Rules {
		b.settleBasis(r)
	}
	return b.at, definitions
}
