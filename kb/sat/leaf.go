package sat

import (
	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Outside tells whether a leaf lies outside the analysable fragment, and why.
func (s *Space) Outside(l *condition.Leaf) (why string, outside bool) {
	switch {
	case l.Kind >= condition.SignBelow:
		return "it does arithmetic", true
	case l.Kind == condition.Matches && l.Words == nil:
		return "it looks for a pattern in a text", true
	case l.Kind <= condition.AtMost && s.rs.Scope.At(l.Slot).Fact:
		return "it compares a quantity that a rule computes", true
	case l.Kind == condition.Seen && s.computed(l.Slot):
		return "it asks for a quantity that a rule computes", true
	}
	return "", false
}

// computed tells whether rules compute what stands in a slot.
func (s *Space) computed(slot int) bool {
	sym := s.rs.Scope.At(slot)
	return sym.Fact && sym.Kind == vocab.Quantity
}

// leaf is when a leaf holds, or when it fails.
func (s *Space) leaf(l *condition.Leaf, holdsWanted bool) *Formula {
	if _, outside := s.Outside(l); outside {
		if !l.CanBe(holdsWanted) {
			return False // whatever is counted
		}
		return lit(literal{dim: s.outsider(l), ask: askTruth(holdsWanted)})
	}
	sym := s.rs.Scope.At(l.Slot)
	switch {
	case sym.Fact:
		return s.fact(s.rs.Fact(sym.Name), l, holdsWanted)
	case l.Kind == condition.Seen:
		return s.turned(And(lit(literal{dim: s.dim(l.Slot), ask: ready}), Not(s.aside(l.Slot))), holdsWanted)
	case l.Kind == condition.Unclear:
		d := s.dim(l.Slot)
		tried := Or(lit(literal{dim: d, ask: unclear}), And(lit(literal{dim: d, ask: ready}), s.aside(l.Slot)))
		return s.turned(tried, holdsWanted)
	}
	return And(lit(s.asked(l, holdsWanted)), Not(s.aside(l.Slot)))
}

func (s *Space) turned(f *Formula, holds bool) *Formula {
	if holds {
		return f
	}
	return Not(f)
}

func askTruth(h bool) ask {
	if h {
		return holds
	}
	return fails
}

// asks are what a leaf of a kind asks of its dimension in order to hold, and to fail.
var asks = map[condition.LeafKind][2]ask{
	condition.Below:    {hiBelow, loAtLeast},
	condition.AtMost:   {hiAtMost, loAbove},
	condition.Within:   {inside, outside},
	condition.Contains: {seen, unseen},
	condition.True:     {holds, fails},
	condition.Matches:  {among, besides},
}

// asked is the literal of a leaf that looks at a reading or at the stone.
func (s *Space) asked(l *condition.Leaf, h bool) literal {
	out := literal{dim: s.dim(l.Slot), cut: l.Cut, mask: l.Mask, feature: l.Feature, words: l.Words}
	if out.ask = asks[l.Kind][0]; !h {
		out.ask = asks[l.Kind][1]
	}
	return out
}

// aside is when some rule sets a reading aside, or the stone spoils it whichever test gives it.
func (s *Space) aside(slot int) *Formula {
	ways := []*Formula{s.spoilt(s.rs.Scope.At(slot).Observable)}
	return Or(append(ways, english.Each(s.setters[slot], s.Fires)...)...)
}

// spoilt is when no test of an observable is left that the stone does not spoil.
func (s *Space) spoilt(o *vocab.Observable) *Formula {
	if o == nil {
		return False
	}
	var each []*Formula
	for _, y := range s.rs.Vocabulary.Yields {
		if y.Observable != o {
			continue
		}
		var ways []*Formula
		for _, n := range s.rs.Test(y.Test).Needs {
			if n.Spoils {
				ways = append(ways, s.FailsAt(n.If.Root))
			}
		}
		each = append(each, Or(ways...))
	}
	return And(each...)
}

// fact is when a leaf that looks at a fact holds, or fails.
func (s *Space) fact(f *kb.Fact, l *condition.Leaf, h bool) *Formula {
	switch {
	case f.Kind == vocab.Truth && l.Kind == condition.Seen:
		return s.turned(True, h)
	case f.Kind == vocab.Truth:
		return s.truthOf(f, h)
	case l.Kind == condition.Seen:
		return s.turned(s.settled(f, ^uint64(0)), h)
	case !h:
		return s.settled(f, ^l.Mask)
	}
	return s.settled(f, l.Mask)
}

// truthOf is when a truth holds (a rule that establishes it fires), or fails (all of them fail).
func (s *Space) truthOf(f *kb.Fact, h bool) *Formula {
	if h {
		return Or(english.Each(f.By, s.Fires)...)
	}
	return And(english.Each(f.By, s.Fails)...)
}

// settled is when a choice that rules establish is one of a set: a rule that gives such a word fires, and none that
// gives another.
func (s *Space) settled(f *kb.Fact, mask uint64) *Formula {
	gives := make([]*Formula, len(f.Words))
	for w := range f.Words {
		var by []*Formula
		for _, r := range f.By {
			for _, e := range r.Establishes {
				if e.Fact == f && e.Word == w {
					by = append(by, s.Fires(r))
				}
			}
		}
		gives[w] = Or(by...)
	}
	var ways []*Formula
	for w := range f.Words {
		if mask>>w&1 == 0 {
			continue
		}
		parts := []*Formula{gives[w]}
		for o := range f.Words {
			if o != w {
				parts = append(parts, Not(gives[o]))
			}
		}
		ways = append(ways, And(parts...))
	}
	return Or(ways...)
}
