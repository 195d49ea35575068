package condition

import (
	"maps"
	"math"
	"slices"

	"whystone/kb/vocab"
)

// Symbol is a name that a condition may use.
type Symbol struct {
	Name string // as written, a property of the stone with its dot
	Kind vocab.Kind
	Slot int
	// Observable is set when the name is a reading; its outcomes are the choices or features.
	Observable *vocab.Observable
	// Words are the values of a choice that is not an observable's: a fact's.
	Words []string
	// Exact marks numbers that carry no uncertainty, for which == has a meaning.
	Exact bool
	// Fact marks what rules establish. Past is the retired rule that alone established it, and PastWords are values
	// that only retired rules gave: none but a retired rule's condition may name them.
	Fact      bool
	Past      string
	PastWords []string
	// Param marks a parameter of a definition that is checked by itself: a word of it may be any.
	Param bool
}

// words lists the choices or features that may be named.
func (s *Symbol) words() []string {
	if s.Observable != nil {
		return s.Observable.Words()
	}
	return s.Words
}

// spellings are the words with all that may be written for them.
func (s *Symbol) spellings() []string {
	if s.Observable != nil {
		return s.Observable.Spellings()
	}
	return s.Words
}

// span is what can be read under the name at all; without end where nothing is known of it.
func (s *Symbol) span() [2]float64 {
	if o := s.Observable; o != nil && o.Span[0] < o.Span[1] {
		return o.Span
	}
	return [2]float64{math.Inf(-1), math.Inf(1)}
}

// mask is the set of plain choices that a word stands for.
func (s *Symbol) mask(word string) (m uint64, ok bool) {
	if s.Param {
		return 0, true
	}
	if s.Observable == nil {
		i := slices.Index(s.Words, word)
		if i < 0 {
			return 0, false
		}
		return 1 << i, true
	}
	i, ok := s.Observable.Outcome(word)
	if !ok {
		return 0, false
	}
	return s.Observable.Meaning(i), true
}

// Scope is the set of names, each with its slot. Immutable once made.
type Scope struct {
	symbols []*Symbol // by slot
	byName  map[string]*Symbol
	names   []string // sorted
	roots   []string // sorted: the names before a dot
	front   *frontEnd
	record  bool
	hints   func(name string) string
	defs    map[string]*Definition
}

// NewScope numbers the symbols as given: a symbol's slot is its place in the list. Names must be unique.
func NewScope(symbols []Symbol) *Scope {
	s := &Scope{byName: make(map[string]*Symbol, len(symbols))}
	for i := range symbols {
		sym := symbols[i]
		sym.Slot = i
		s.symbols = append(s.symbols, &sym)
		s.byName[sym.Name] = &sym
		if sym.Past == "" {
			s.names = append(s.names, sym.Name)
		}
		if root, _, dotted := cutDot(sym.Name); dotted && !slices.Contains(s.roots, root) {
			s.roots = append(s.roots, root)
		}
	}
	slices.Sort(s.names)
	slices.Sort(s.roots)
	s.front = newFrontEnd(s)
	return s
}

// of lists the names of some kinds, sorted.
func (s *Scope) of(kinds []vocab.Kind) []string {
	return slices.DeleteFunc(slices.Clone(s.names),
		func(name string) bool { return !slices.Contains(kinds, s.byName[name].Kind) })
}

// definitions lists the names of definitions, sorted.
func (s *Scope) definitions() []string { return slices.Sorted(maps.Keys(s.defs)) }

// Symbol finds a name, or nil.
func (s *Scope) Symbol(name string) *Symbol { return s.byName[name] }

// At is the symbol of a slot.
func (s *Scope) At(slot int) *Symbol { return s.symbols[slot] }

// Len is how many slots there are.
func (s *Scope) Len() int { return len(s.symbols) }

// Record is the same scope for conditions that are kept as a record: they may name what is past.
func (s *Scope) Record() *Scope {
	out := *s
	out.record = true
	return &out
}

// WithHints is the same scope with something to say of names that are not in it: what they are elsewhere, or "".
func (s *Scope) WithHints(hints func(name string) string) *Scope {
	out := *s
	out.hints = hints
	return &out
}

// Names lists all names that are not past, sorted.
func (s *Scope) Names() []string { return s.names }
