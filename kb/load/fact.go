package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

func (b *ruleBuilder) establishes(s *sheet, r *kb.Rule) {
	for _, e := range s.entries(s.Get("establishes")) {
		f := b.fact(r, e.Key.Text)
		if f == nil || f.Kind != factKind(e.Value) {
			continue // reported when the facts were gathered
		}
		est := kb.Establishes{Fact: f, Span: e.Key.Span}
		switch f.Kind {
		case vocab.Choice:
			if est.Word = slices.Index(f.Words, e.Value.Text); est.Word < 0 {
				continue
			}
		case vocab.Quantity:
			v := e.Value.Get("is")
			if v.IsNull() {
				continue
			}
			if est.Expr, est.Reads = s.quantity(v, b.scope(s)); est.Expr == nil {
				continue
			}
		}
		r.Establishes = append(r.Establishes, est)
		if r.Status == kb.Active {
			f.By = append(f.By, r)
		}
	}
}

// eachFact hands on what rules establish, of those that are retired or of all others.
func eachFact(sheets []*sheet, retired bool, v *vocab.Vocabulary, use func(s *sheet, at *syntax.Node, f *kb.Fact)) {
	for _, s := range sheets {
		if (s.text(s.Node, "status") == string(kb.Retired)) != retired {
			continue
		}
		if retired {
			s = s.quiet() // what is wrong with how they say it hurts nobody any more
		}
		for _, e := range s.entries(s.Get("establishes")) {
			if f, ok := readFact(s, e, v); ok {
				use(s, e.Key, f)
			}
		}
	}
}

// gatherFacts finds the facts that rules establish, with their kinds, before any condition is read.
func gatherFacts(sheets []*sheet, v *vocab.Vocabulary) map[string]*kb.Fact {
	facts := map[string]*kb.Fact{}
	first := map[string]*syntax.Node{}
	eachFact(sheets, false, v, func(s *sheet, at *syntax.Node, f *kb.Fact) {
		switch old := facts[f.Name]; {
		case old == nil:
			facts[f.Name], first[f.Name] = f, at
		case old.Kind != f.Kind:
			s.errorf(diag.UnlikeTypes, at, "the fact %q is a %s here and a %s elsewhere", f.Name, f.Kind, old.Kind).
				Related = []diag.Related{{Span: first[f.Name].Span, Says: "established here too"}}
		default:
			old.Words = append(old.Words, f.Words...)
		}
	})
	sortWords(facts)
	return facts
}

func sortWords(facts map[string]*kb.Fact) {
	for _, f := range facts {
		slices.Sort(f.Words)
		f.Words = slices.Compact(f.Words)
	}
}

// factKind is the kind of fact that a value gives, whether or not it is well written.
func factKind(value *syntax.Node) vocab.Kind {
	if value.Kind == syntax.Map {
		return vocab.Quantity
	}
	if is, _ := value.Truth(); is {
		return vocab.Truth
	}
	return vocab.Choice
}

func readFact(s *sheet, e syntax.Entry, v *vocab.Vocabulary) (*kb.Fact, bool) {
	f := &kb.Fact{Name: e.Key.Text, Kind: vocab.Truth}
	value := e.Value
	switch is, truth := value.Truth(); {
	case !nameShape.MatchString(f.Name):
		s.errorf(diag.BadID, e.Key, "a fact's name is lower-case words joined by \"_\"")
		return nil, false
	case v.Observable(f.Name) != nil || condition.Reserved(f.Name):
		s.errorf(diag.BadID, e.Key, "%q is an observable or a word of the rule language already", f.Name)
		return nil, false
	case value.Kind == syntax.Map:
		value.Keys(s.out, "is")
		if !s.has(value, "is", "a derived quantity is written {is: \"an expression\"}") {
			return nil, false
		}
		f.Kind = vocab.Quantity
	case is:
	case truth:
		s.errorf(diag.NotAllowed, value, "a rule establishes that something is true").
			Detail = "It fails by itself when all rules that establish it fail."
		return nil, false
	default:
		word, ok := value.Str(s.out)
		if !ok {
			return nil, false
		}
		f.Kind, f.Words = vocab.Choice, []string{word}
	}
	return f, true
}
