package casefile

import (
	"math"
	"strings"
	"unicode/utf8"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Remembered is what a Skimmer remembers of an observable.
type Remembered struct {
	of      *vocab.Observable
	place   int                 // in the vocabulary
	values  [2]map[string]*Said // by what was written: JSON, or plain
	numbers map[uint64]*Reading // by the bits of what was written as a number
	names   []string            // of its features, in quotes; empty where JSON writes one otherwise
	// pattern is a number, or a set of features, as the Reader has read one: all others that are written so are like it
	// but for how much they are, or what they name. Sets of features are too many to be remembered one by one.
	pattern *Said
	limits  [2]float64 // of such numbers
	byValue *reckoned  // how the uncertainty of such a number follows from that alone, or nil
}

// Said is what the text of a reading was read as.
type Said struct {
	readings []*Reading
	// anew: it is read by the Reader with each case, as what it says follows from the stone in more than one way.
	anew    bool
	follows bool // something follows from the stone: what is below
	// test is the number, among those whose readings a stone may spoil, of the test of its only reading; -1: none.
	test int
	// reckoned is how the uncertainty of its only reading follows from the stone, or nil.
	reckoned *reckoned
	raw      string // how it was written, if it is remembered
}

// found is a reading of the record at hand, before it is known what follows from the stone.
type found struct {
	Again
	of    *Remembered
	lasts bool // it can be put again
	value Member
}

// Again is what a text was read as, to be put again where the same text comes again.
type Again struct {
	said *Said
	is   *Reading // which is otherwise as said has it; nil: it is those of said
}

// reckoned is what the Reader asked for an uncertainty.
type reckoned struct {
	yield *vocab.Yield
	in    *vocab.Instrument
}

// asking is a Reader that notes what it would ask of the stone, and is told nothing.
type asking struct {
	rd      Reader
	last    reckoned
	reckons int
}

func (a *asking) of(rd *Reader) {
	a.rd = *rd
	a.rd.Spoils = nil
	if rd.Reckon != nil {
		a.rd.Reckon = func(_ *Case, y *vocab.Yield, in *vocab.Instrument, _ float64) float64 {
			a.last, a.reckons = reckoned{y, in}, a.reckons+1
			return 0
		}
	}
}

// member reads the member of the readings at which a text stands.
func (s *Skimmer) member(o *object) bool {
	of := s.called(o.key)
	if of == nil || !s.room.first(of.of) {
		return false
	}
	if of.of.Kind == vocab.Features { // it is read while it is passed over
		if seen, lookedFor, ok := o.namedFeatures(of); ok {
			return s.features(of, Member{Raw: o.value()}, seen, lookedFor, false)
		}
		o.at = o.from
	}
	return o.pass() && s.read(of, Member{Raw: o.value()})
}

// called is what is remembered of an observable. Most archives have them in their order.
func (s *Skimmer) called(name string) *Remembered {
	begins := start(name)
	for i := s.last + 1; i < len(s.starts); i++ {
		if s.starts[i] == begins && s.ordered[i].of.Name == name {
			s.last = i
			return s.ordered[i]
		}
	}
	return s.observables[name]
}

// start is the first eight bytes of a name.
func start(name string) (begins uint64) {
	for i := range min(8, len(name)) {
		begins |= uint64(name[i]) << (8 * i)
	}
	return begins
}

// Of is what the skimmer remembers of an observable; nil when there is none of that name.
func (s *Skimmer) Of(observable string) *Remembered { return s.observables[observable] }

// PutReading takes in a reading of an observable. Whoever says that the same text comes again is told whether it may be
// put again as what it was read as.
func (s *Skimmer) PutReading(of *Remembered, v Member, comesAgain bool) (as Again, again, ok bool) {
	if of == nil || !s.room.first(of.of) {
		return as, false, false
	}
	named := false
	if of.of.Kind == vocab.Features && !v.Plain {
		o := object{text: v.Raw}
		var seen, lookedFor vocab.Set
		seen, lookedFor, named = o.namedFeatures(of)
		if named = named && o.at == len(v.Raw); named {
			ok = s.features(of, v, seen, lookedFor, comesAgain)
		}
	}
	if !named {
		ok = s.read(of, v)
	}
	if !ok {
		return as, false, false
	}
	last := &s.found[len(s.found)-1]
	return last.Again, last.lasts, true
}

// Word is what a plain text was read as, if that is known and may be put again.
func (of *Remembered) Word(plain string) (as Again, ok bool) {
	said := of.values[1][plain]
	return Again{said: said}, said != nil && !said.anew
}

// PutAgain takes in a reading whose text was read before.
func (s *Skimmer) PutAgain(of *Remembered, as Again) bool {
	s.found = append(s.found, found{Again: as, of: of})
	return s.room.first(of.of)
}

// read finds what a value was read as, or reads it.
func (s *Skimmer) read(of *Remembered, v Member) bool {
	if of.of.Kind == vocab.Quantity && !v.Plain {
		if x, ok := v.number(); ok && s.hasPattern(of, v) {
			return s.quantity(of, v, x)
		}
	}
	said := of.values[v.plain()][v.Raw]
	if said == nil {
		if said = s.memory.find(of.of, v); said == nil {
			if said = s.ask(of.of, v); said == nil {
				return false
			}
			if how := said.byValue(s.rd); how != nil {
				s.rd.reckon(&s.room.Case, said.readings[0], how.yield, how.in)
			}
			if len(v.Raw) <= longest {
				said = s.memory.keep(of.of, v, said, said.readings)
			}
		}
		if said.raw != "" {
			of.values[v.plain()][said.raw] = said
		}
	}
	s.found = append(s.found, found{Again: Again{said: said}, of: of, lasts: !said.anew, value: v})
	return true
}

// quantity reads a number as the pattern has it, and remembers it while there is room.
func (s *Skimmer) quantity(of *Remembered, v Member, x float64) bool {
	f := found{Again: Again{of.pattern, of.numbers[math.Float64bits(x)]}, of: of, lasts: true}
	if f.is == nil {
		kept := s.memory.find(of.of, v)
		if kept == nil {
			var out diag.List
			f.is = s.room.reading(of.pattern.readings[0])
			f.is.Value = x
			if how := of.byValue; how != nil {
				s.rd.reckon(&s.room.Case, f.is, how.yield, how.in)
			}
			if !withinReach(f.is, of.limits, "", &syntax.Node{}, &out) {
				return false
			}
			kept = s.memory.keep(of.of, v, of.pattern, []*Reading{f.is})
		}
		if f.lasts = kept.raw != ""; f.lasts {
			f.is = kept.readings[0]
			of.numbers[math.Float64bits(x)] = f.is
		}
	}
	s.found = append(s.found, f)
	return true
}

// features reads a set of features as the pattern has it, and keeps it while there is room, if it comes again.
func (s *Skimmer) features(of *Remembered, v Member, seen, lookedFor vocab.Set, comesAgain bool) bool {
	lookedFor.Union(seen)
	if lookedFor.Empty() {
		return false
	}
	if of.pattern == nil {
		if !s.hasPattern(of, v) {
			return false
		}
		s.memory.alone(of.pattern)
	}
	f := found{Again: Again{of.pattern, s.room.reading(of.pattern.readings[0])}, of: of}
	f.is.Seen, f.is.LookedFor = seen, lookedFor
	if f.lasts = comesAgain && s.memory.room(); f.lasts {
		kept := *f.is
		f.is = &kept
	}
	s.found = append(s.found, f)
	return true
}

// ask has the Reader read a value without a stone.
func (s *Skimmer) ask(o *vocab.Observable, v Member) *Said {
	var out diag.List
	s.asks.reckons = 0
	given := s.asks.rd.observable(&Case{}, o, v.node(), &out)
	if len(out) > 0 {
		return nil
	}
	said := &Said{readings: given, test: -1}
	for _, r := range parts(given) {
		r.Span = diag.Span{}
		if n := s.spoilers.number(r); n >= 0 {
			said.test = n
		}
	}
	for _, r := range given {
		r.Span = diag.Span{}
	}
	alone := len(given) == 1 && given[0].Parts == nil
	said.anew = !alone && (said.test >= 0 || s.asks.reckons > 0)
	if alone && s.asks.reckons > 0 {
		is := s.asks.last
		said.reckoned = &is
	}
	said.follows = said.test >= 0 || said.reckoned != nil
	return said
}

// byValue is how the uncertainty of a reading's value follows from that alone, if it does: nothing of it is left to
// follow from the stone.
func (said *Said) byValue(rd *Reader) *reckoned {
	how := said.reckoned
	if how == nil || !rd.ByValue(how.yield) {
		return nil
	}
	said.reckoned, said.follows = nil, said.test >= 0
	return how
}

// settle adds all readings to the case, with what follows from its stone, in their order.
func (s *Skimmer) settle() bool {
	c, last, ordered := &s.room.Case, -1, true
	for i := range s.found {
		f := &s.found[i]
		ordered = ordered && f.of.place > last && (f.is != nil || len(f.said.readings) == 1)
		last = f.of.place
		switch {
		case f.said.anew:
			if !s.anew(f.of.of, f.value) {
				return false
			}
			ordered = false
		case f.said.follows:
			s.follow(f)
		case f.is != nil:
			c.Readings = append(c.Readings, f.is)
		default:
			c.Readings = append(c.Readings, f.said.readings...)
		}
	}
	if len(c.Readings) > MaxReadings {
		return false
	}
	if !ordered {
		sortReadings(c.Readings)
	}
	return true
}

// follow adds a reading of which more follows from the stone.
func (s *Skimmer) follow(f *found) {
	r := f.is
	if r == nil {
		r = f.said.readings[0]
	}
	if how := f.said.reckoned; how != nil {
		own := s.room.reading(r)
		if s.rd.reckon(&s.room.Case, own, how.yield, how.in); own.U != r.U || own.HighU != r.HighU {
			own.Known = 0
			r = own
		}
	}
	if test := f.said.test; test >= 0 && r.Usable() {
		if why := s.spoilers.why(s.rd, s.room, test); why != "" {
			r = s.room.reading(r)
			r.Spoilt, r.Known = why, 0
		}
	}
	s.room.Case.Readings = append(s.room.Case.Readings, r)
}

// sortReadings is a stable sort for what is nearly in order, as most who write archives keep one.
func sortReadings(all []*Reading) {
	for i := 1; i < len(all); i++ {
		for k := i; k > 0 && compareReadings(all[k-1], all[k]) > 0; k-- {
			all[k-1], all[k] = all[k], all[k-1]
		}
	}
}

// anew has the Reader read a value of a case whose stone was read.
func (s *Skimmer) anew(o *vocab.Observable, v Member) bool {
	var out diag.List
	c := &s.room.Case
	c.Readings = append(c.Readings, s.rd.observable(c, o, v.node(), &out)...)
	return len(out) == 0
}

// hasPattern tells whether there is a pattern, or makes one of a value that is like all others written so.
func (s *Skimmer) hasPattern(o *Remembered, v Member) bool {
	if o.pattern != nil {
		return true
	}
	said := s.ask(o.of, v)
	if said == nil || said.anew || len(said.readings) != 1 {
		return false
	}
	o.pattern, o.byValue = said, said.byValue(s.rd)
	if o.of.Kind == vocab.Quantity {
		o.limits = s.rd.limits(said.readings[0], s.rd.Vocabulary.Yield(o.of.Test, o.of))
	}
	return true
}

// namedFeatures reads a list of features seen, or an object that has it under "features", that of those looked for
// under "looked_for", or both, and nothing else; each by its name as the vocabulary has it.
func (o *object) namedFeatures(of *Remembered) (seen, lookedFor vocab.Set, ok bool) {
	if o.text[o.at] == '[' {
		ok = o.listed(of, &seen)
		return seen, lookedFor, ok
	}
	members := object{text: o.text, at: o.at}
	given := 0
	for members.next() {
		to, bit := &seen, 1
		switch members.key {
		case "features":
		case "looked_for":
			to, bit = &lookedFor, 2
		default:
			return seen, lookedFor, false
		}
		if given&bit != 0 || !members.listed(of, to) {
			return seen, lookedFor, false
		}
		given |= bit
	}
	o.at = members.at
	return seen, lookedFor, members.done && given != 0
}

// listed passes over a list of features' names. Most lists follow the order of the vocabulary, so that each name is
// looked for from the one before on.
func (o *object) listed(of *Remembered, to *vocab.Set) bool {
	if o.skip() != '[' {
		return false
	}
	o.at++
	if o.skip() == ']' {
		o.at++
		return true
	}
	for at := 0; ; o.at++ {
		if o.skip() != '"' {
			return false
		}
		if at = of.named(o.text[o.at:], at); at < 0 {
			return false
		}
		o.at += len(of.names[at])
		to.Add(at)
		switch o.skip() {
		case ']':
			o.at++
			return true
		case ',':
		default:
			return false
		}
	}
}

// named is the feature with whose name, in quotes, a text begins; it is looked for from a place on. It is -1 when there
// is none.
func (of *Remembered) named(text string, from int) int {
	for i := range of.names {
		if i += from; i >= len(of.names) {
			i -= len(of.names)
		}
		if name := of.names[i]; name != "" && strings.HasPrefix(text, name) {
			return i
		}
	}
	return -1
}

// quotedNames are the names of features as JSON writes them, those that it writes without escapes.
func quotedNames(o *vocab.Observable) []string {
	if o.Kind != vocab.Features {
		return nil
	}
	out := make([]string, len(o.Outcomes))
	for i := range out {
		if name := `"` + o.Outcomes[i].Name + `"`; !strings.ContainsFunc(o.Outcomes[i].Name, escaped) {
			out[i] = name
		}
	}
	return out
}

func escaped(r rune) bool { return r < ' ' || r == '"' || r == '\\' || r == utf8.RuneError }

// stake is the stake of a case.
func (s *Skimmer) stake(v Member) (*float64, bool) {
	x, ok := v.number()
	return s.room.number(x), ok && x >= 0
}

// ofStone reads what is said of the stone, by its place among stoneKeys.
func (s *Skimmer) ofStone(at int, v Member) (ok bool) {
	known := &s.room.Case.Stone
	switch at {
	case 0, 1, 2, 3:
		return truth(v, [...]**bool{&known.Mounted, &known.Warm, &known.Wet, &known.Coated}[at])
	case 4, 5, 6, 7:
		x, ok := v.number()
		*[...]**float64{&known.Carat, &known.Length, &known.Width, &known.Depth}[at-4] = s.room.number(x)
		return ok && possible(at-4, x)
	case 8, 9:
		var is claimed
		is, ok = s.claim(v, stoneKeys[at])
		*[...]*string{&known.Cut, &known.Setting}[at-8] = is.folded
		return ok
	}
	_, _, ok = s.PutReading(s.observables[stoneKeys[at]], v, false)
	return ok
}

var yes, no = true, false

func truth(v Member, to **bool) bool {
	switch {
	case v.Plain:
		return false
	case v.Raw == "true":
		*to = &yes
	case v.Raw == "false":
		*to = &no
	default:
		return false
	}
	return true
}
