package load

import (
	"cmp"
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// build makes the ruleset out of the stacked sheets. Each stage needs the one before; where one has errors the stages
// that read its result still run as far as they can, so that all errors are told at once.
func (st *stacked) build(out *diag.List) *kb.Ruleset {
	before := errorsIn(*out)
	rs := &kb.Ruleset{Method: kb.ArithmeticVersion, Layers: st.layers, Retired: st.retired, Files: st.files}
	tests := buildTests(st.ordered("test"))
	rs.Tests, rs.Formulas = tests.tests, tests.formulas
	if st.policy.node == nil {
		out.Errorf("missing-key", diag.Span{}, "no layer has a policy")
		return nil
	}
	ps := &sheet{Node: st.policy.node, out: out}
	rs.Policy = buildPolicy(ps, tests)
	v, err := vocab.Build(tests.observables, tests.yields, rs.Policy.Instruments, tests.testIDs())
	if err != nil {
		out.Errorf("bad-policy", diag.Span{}, "%s", err)
		return nil
	}
	rs.Vocabulary = v
	checkKnown(v, out)
	// Whatever is said in the words of an unsound policy or vocabulary would be refused, too.
	sound := errorsIn(*out) == before
	tree := buildTree(st.ordered("material"), rs.Policy, v, out, sound)
	if tree == nil {
		return nil
	}
	rs.Nodes, rs.Leaves = tree.nodes, tree.leaves
	rs.Claims = buildClaims(rs, tree.at, ps, out)
	checkPriors(rs, ps)
	rules := buildRules(rs, st.ordered("rule"), st.ordered("table"))
	buildNeeds(tests, rs.Scope)
	buildDerived(tests, rs.Scope)
	readExamples(rs, rules, out)
	if out.HasErrors() {
		return nil
	}
	order(rs, out)
	if out.HasErrors() {
		return nil
	}
	compile(rs)
	for r, s := range rules {
		r.Places = s.places()
	}
	rs.Sheets = st.sheetIndex(rs, rules)
	deriveExamples(rs)
	if rs.Digest, err = st.digest(); err != nil {
		out.Errorf("bad-encoding", diag.Span{}, "the ruleset has no digest: %s", err)
		return nil
	}
	return rs
}

// checkKnown sees that what the arithmetic knows by name is of the kind that it expects.
func checkKnown(v *vocab.Vocabulary, out *diag.List) {
	for name, kind := range map[string]vocab.Kind{vocab.RefractiveIndex: vocab.Quantity, vocab.Birefringence: vocab.Quantity,
		vocab.Reflectance: vocab.Quantity, vocab.Colour: vocab.Choice, vocab.Transparency: vocab.Choice} {
		if o := v.Observable(name); o != nil && o.Kind != kind {
			out.Errorf("unlike-types", diag.Span{}, "the observable %s must be a %s", name, kind)
		}
	}
}

func checkPriors(rs *kb.Ruleset, s *sheet) {
	for _, e := range mapOrNone(s, s.Get("priors")) {
		if id := e.Key.Text; rs.Node(id) == nil {
			d := s.errorf("unknown-material", e.Key, "priors names %q, which is no material or group", id)
			d.Nearest, d.Detail = nearestNode(rs, id)
		}
	}
}

func caseScope(v *vocab.Vocabulary, facts []*kb.Fact, old past) *condition.Scope {
	var symbols []condition.Symbol
	for _, o := range v.Observables {
		symbols = append(symbols, condition.Symbol{Name: o.Name, Kind: o.Kind, Observable: o})
	}
	symbols = append(symbols, eval.CaseSymbols()...)
	for _, f := range facts {
		f.Slot = len(symbols)
		symbols = append(symbols, condition.Symbol{Name: f.Name, Kind: f.Kind, Words: f.Words, PastWords: old.words[f.Name], Fact: true})
	}
	scope := condition.NewScope(append(symbols, old.symbols(len(symbols))...))
	return scope.WithHints(func(name string) string { return testHint(v, name) })
}

// buildRules reads the rules and their tables, and returns the sheets that rules were read from.
func buildRules(rs *kb.Ruleset, sheets, tables []*sheet) map[*kb.Rule]*sheet {
	b := &ruleBuilder{rs: rs, facts: gatherFacts(sheets, rs.Vocabulary), at: map[*kb.Rule]*sheet{}}
	b.past = gatherPast(sheets, rs.Vocabulary, b.facts)
	for _, name := range sortedKeys(b.facts) {
		rs.Facts = append(rs.Facts, b.facts[name])
	}
	rs.Scope = caseScope(rs.Vocabulary, rs.Facts, b.past)
	b.where, b.mats = materialScope(rs)
	buildTables(rs, tables, sheets)
	for _, s := range sheets {
		rs.Rules = append(rs.Rules, b.read(s))
	}
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
	return b.at
}

// materialScope is what a "where" may name, and the properties of each leaf in it.
func materialScope(rs *kb.Ruleset) (*condition.Scope, []*condition.State) {
	symbols := []condition.Symbol{{Name: "material.id", Kind: vocab.Text}, {Name: "material.name", Kind: vocab.Text},
		{Name: "material.origin", Kind: vocab.Choice, Words: slices.Sorted(slices.Values(kb.Origins))}}
	properties := kb.Properties(rs.Vocabulary)
	for _, p := range properties {
		symbols = append(symbols, condition.Symbol{Name: "material." + p, Kind: vocab.Quantity},
			condition.Symbol{Name: "material." + p + ".low", Kind: vocab.Quantity, Exact: true},
			condition.Symbol{Name: "material." + p + ".high", Kind: vocab.Quantity, Exact: true})
	}
	for _, o := range rs.Vocabulary.Observables {
		if o.Kind == vocab.Choice {
			symbols = append(symbols, condition.Symbol{Name: "material." + o.Name, Kind: vocab.Choice, Observable: o})
		}
	}
	scope := condition.NewScope(symbols)
	var states []*condition.State
	for _, m := range rs.Leaves {
		states = append(states, materialState(scope, m, rs))
	}
	return scope, states
}

func materialState(scope *condition.Scope, m *kb.Material, rs *kb.Ruleset) *condition.State {
	st := &condition.State{Slots: make([]condition.Slot, scope.Len())}
	slot := func(name string) *condition.Slot { return &st.Slots[scope.Symbol("material."+name).Slot] }
	*slot("id") = condition.Slot{Status: condition.Ready, Text: m.ID}
	*slot("name") = condition.Slot{Status: condition.Ready, Text: kb.Fold(m.Name)}
	if i := slices.Index(scope.Symbol("material.origin").Words, m.From); i >= 0 {
		*slot("origin") = condition.Slot{Status: condition.Ready, Set: 1 << i}
	}
	for name, r := range m.Ranges {
		slot(name).SetQuantities(&st.Context, quantity.Between(r.Low, r.High))
		slot(name+".low").SetQuantities(&st.Context, quantity.Exact(r.Low))
		slot(name+".high").SetQuantities(&st.Context, quantity.Exact(r.High))
	}
	for name, f := range m.Choices {
		var set uint64
		for i, o := range rs.Vocabulary.Observable(name).Outcomes {
			if w := f.Words[o.Name]; w != "" && w != "never" {
				set |= 1 << i
			}
		}
		if set != 0 {
			*slot(name) = condition.Slot{Status: condition.Ready, Set: set}
		}
	}
	return st
}

// order puts the rules that are evaluated into an order in which each comes after all that it depends on, and refuses
// a circle. Where the order is free it follows the ids.
func order(rs *kb.Ruleset, out *diag.List) {
	var rules []*kb.Rule
	for _, r := range rs.Rules {
		if r.Status != kb.Retired {
			rules = append(rules, r)
		}
	}
	deps := dependencies(rs, rules)
	done, open := map[*kb.Rule]bool{}, map[*kb.Rule]bool{}
	var path []*kb.Rule
	var visit func(r *kb.Rule) bool
	visit = func(r *kb.Rule) bool {
		if done[r] {
			return true
		}
		path = append(path, r)
		if open[r] {
			reportCircle(path[slices.Index(path, r):], deps, out)
			return false
		}
		open[r] = true
		for _, d := range deps[r] {
			if !visit(d.on) {
				return false
			}
		}
		path = path[:len(path)-1]
		done[r], open[r] = true, false
		r.Turn = len(rs.Order)
		rs.Order = append(rs.Order, r)
		return true
	}
	for _, r := range rules {
		if !visit(r) {
			return
		}
	}
}

// dependence is one rule's need that another comes first.
type dependence struct {
	on   *kb.Rule
	name string // the fact or observable between them
	fact bool
}

func dependencies(rs *kb.Ruleset, rules []*kb.Rule) map[*kb.Rule][]dependence {
	setters := map[string][]*kb.Rule{}
	for _, r := range rules {
		for _, o := range r.SetsAside {
			setters[o.Name] = append(setters[o.Name], r)
			if o.Name == vocab.RefractiveIndex { // the difference of its rays goes with it
				setters[vocab.Birefringence] = append(setters[vocab.Birefringence], r)
			}
		}
	}
	deps := map[*kb.Rule][]dependence{}
	for _, r := range rules {
		for _, slot := range r.Slots() {
			sym := rs.Scope.At(slot)
			from := setters[sym.Name]
			if sym.Fact {
				from = rs.Fact(sym.Name).By
			}
			for _, on := range from {
				deps[r] = append(deps[r], dependence{on: on, name: sym.Name, fact: sym.Fact})
			}
		}
		slices.SortFunc(deps[r], func(a, b dependence) int {
			return cmp.Or(cmp.Compare(a.on.ID, b.on.ID), cmp.Compare(a.name, b.name))
		})
	}
	return deps
}

func reportCircle(path []*kb.Rule, deps map[*kb.Rule][]dependence, out *diag.List) {
	first := path[0]
	text := first.ID
	var related []diag.Related
	for i := 0; i+1 < len(path); i++ {
		for _, d := range deps[path[i]] {
			if d.on == path[i+1] {
				verb := " reads " + d.name + ", which may be set aside by "
				if d.fact {
					verb = " reads " + d.name + ", which is established by "
				}
				text += verb + d.on.ID
				related = append(related, diag.Related{Span: path[i].Origin.Span, Says: path[i].ID + verb + d.on.ID})
				break
			}
		}
		if i+2 < len(path) {
			text += ";\n" + path[i+1].ID
		}
	}
	d := out.Errorf("circle-of-facts", first.Origin.Span, "rules depend on each other in a circle")
	d.Detail = text + "."
	d.Related = related
}

// compile joins the conditions of all evaluated rules into one program.
func compile(rs *kb.Ruleset) {
	b := condition.NewBuilder(rs.Scope)
	for _, r := range rs.Order {
		c := kb.Compiled{If: b.Constant(true)}
		if r.If != nil {
			c.If = b.Add(r.If.Root)
		}
		c.Whole = c.If
		if r.Unless != nil {
			c.Whole = b.All(c.If, b.Add(r.Unless.Root).Negated())
		}
		c.End = b.Len()
		rs.Compiled = append(rs.Compiled, c)
	}
	rs.Program = b.Program(late(rs))
}

// late tells which slots change while the rules run: facts, and what a rule may set aside.
func late(rs *kb.Ruleset) func(slot int) bool {
	aside := map[int]bool{}
	for _, r := range rs.Order {
		for _, o := range r.SetsAside {
			aside[o.Index] = true
			if d := rs.Vocabulary.Observable(vocab.Birefringence); d != nil && o.Name == vocab.RefractiveIndex {
				aside[d.Index] = true
			}
		}
	}
	return func(slot int) bool { return aside[slot] || rs.Scope.At(slot).Fact }
}
