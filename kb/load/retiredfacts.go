package load

import (
	"cmp"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// retiredFacts are what only retired rules establish. Their conditions are kept as a record, and may name it; no other
// condition may.
type retiredFacts struct {
	facts map[string]*kb.Fact
	by    map[string]string   // the rule that established it, by fact
	words map[string][]string // of facts that active rules establish too: the words that retired ones alone give
}

// gatherRetiredFacts finds what only retired rules establish.
func gatherRetiredFacts(sheets []*sheet, v *vocab.Vocabulary, facts map[string]*kb.Fact) retiredFacts {
	p := retiredFacts{facts: map[string]*kb.Fact{}, by: map[string]string{}, words: map[string][]string{}}
	eachFact(sheets, true, v, func(s *sheet, _ *syntax.Node, f *kb.Fact) {
		switch old := cmp.Or(facts[f.Name], p.facts[f.Name]); {
		case old == nil:
			p.facts[f.Name], p.by[f.Name] = f, s.id
		case old.Kind == f.Kind && facts[f.Name] == nil:
			old.Words = append(old.Words, f.Words...)
		case old.Kind == f.Kind:
			p.words[f.Name] = append(p.words[f.Name], f.Words...)
		}
	})
	sortWords(p.facts)
	return p
}

// symbols are the names of past facts, after all others, so that these keep their places.
func (p retiredFacts) symbols(from int) []condition.Symbol {
	var out []condition.Symbol
	for _, name := range sortedKeys(p.facts) {
		f := p.facts[name]
		f.Slot = from + len(out)
		out = append(out, condition.Symbol{Name: name, Kind: f.Kind, Words: f.Words, Fact: true, Past: p.by[name]})
	}
	return out
}

// fact finds what a rule establishes: of a retired one, a past fact too.
func (b *ruleBuilder) fact(r *kb.Rule, name string) *kb.Fact {
	if f := b.facts[name]; f != nil || r.Status != kb.Retired {
		return f
	}
	return b.past.facts[name]
}

// scope is what a rule's conditions may name.
func (b *ruleBuilder) scope(s *sheet) *condition.Scope {
	if s.text(s.Node, "status") == string(kb.Retired) {
		return b.rs.Scope.Record()
	}
	return b.rs.Scope
}
