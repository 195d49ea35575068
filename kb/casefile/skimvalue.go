package casefile

import (
	"slices"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Remembered is what a Skimmer remembers of an observable.
type Remembered struct {
	of     *vocab.Observable
	values [2]map[string]*Said // by what was written: JSON, or plain
	// pattern is a number, or a set of features, as the Reader has read one: all others that are written so are like it
	// but for how much they are, or what they name. Sets of features are too many to be remembered one by one.
	pattern *Said
	limits  [2]float64 // of such numbers
}

// Said is what the text of a reading was read as.
type Said struct {
	readings []*Reading
	raw      string // how it was written, if it is remembered
	// test is the number, among those whose readings a stone may spoil, of the test of its only reading; -1: none.
	test int
	// reckoned is how the uncertainty of its only reading follows from the stone, or nil.
	reckoned *reckoned
	// anew: it is read by the Reader with each case, as what it says follows from the stone in more than one way.
	anew bool
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

// readings reads all readings of a record, and puts them into their order.
func (s *Skimmer) readings(p *Parts, room *Room) bool {
	for i := range p.Readings {
		if !s.reading(&p.Readings[i], room) {
			return false
		}
	}
	if len(room.Case.Readings) > MaxReadings {
		return false
	}
	sortReadings(room.Case.Readings)
	return true
}

// sortReadings is a stable sort for what is nearly in order, as most who write archives keep one.
func sortReadings(all []*Reading) {
	for i := 1; i < len(all); i++ {
		for k := i; k > 0 && compareReadings(all[k-1], all[k]) > 0; k-- {
			all[k-1], all[k] = all[k], all[k-1]
		}
	}
}

// reading reads what is given for one observable.
func (s *Skimmer) reading(m *Member, room *Room) bool {
	o := m.Of
	if o == nil {
		o = s.observables[m.Key]
	}
	if o == nil || !room.first(o.of) {
		return false
	}
	if m.Was != nil && *m.Was != nil {
		return s.put(*m.Was, m, room)
	}
	if o.of.Kind == vocab.Features && !m.Plain { // lists of features are hardly ever alike: most are not remembered
		if seen, lookedFor, ok := namedFeatures(o.of, m.Raw); ok {
			return s.features(o, m, seen, lookedFor, room)
		}
	}
	v := o.values[m.plain()][m.Raw]
	if v == nil {
		if v = s.memory.find(o.of, m); v != nil {
			o.values[m.plain()][v.raw] = v
		}
	}
	if v == nil && o.of.Kind == vocab.Quantity && !m.Plain {
		if x, ok := m.number(); ok && s.hasPattern(o, m) {
			return s.quantity(o, m, x, room)
		}
	}
	if v == nil {
		if v = s.learn(o, m); v == nil {
			return false
		}
	}
	m.was(v)
	return s.put(v, m, room)
}

// Of is what the skimmer remembers of an observable; nil when there is none of that name.
func (s *Skimmer) Of(observable string) *Remembered { return s.observables[observable] }

// was keeps what a value was read as, if whoever cut it out asks for that, and it does not follow from the stone.
func (m *Member) was(v *Said) {
	if m.Was != nil && !v.anew {
		*m.Was = v
	}
}

// learn has the Reader read a value, and remembers what it was read as; nil when it can't be used.
func (s *Skimmer) learn(o *Remembered, m *Member) *Said {
	v := s.ask(o.of, m)
	if v != nil && len(m.Raw) <= longest {
		v = s.keep(o, m, v)
	}
	return v
}

// keep remembers what a value was read as, while there is room.
func (s *Skimmer) keep(o *Remembered, m *Member, v *Said) *Said {
	v, kept := s.memory.keep(o.of, m, v)
	if kept {
		o.values[m.plain()][v.raw] = v
	}
	return v
}

// ask has the Reader read a value without a stone.
func (s *Skimmer) ask(o *vocab.Observable, m *Member) *Said {
	var out diag.List
	s.asks.reckons = 0
	given := s.asks.rd.observable(&Case{}, o, m.node(), &out)
	if len(out) > 0 {
		return nil
	}
	v := &Said{readings: given, test: -1}
	for _, r := range parts(given) {
		r.Span = diag.Span{}
		if n := s.spoilers.number(r); n >= 0 {
			v.test = n
		}
	}
	for _, r := range given {
		r.Span = diag.Span{}
	}
	alone := len(given) == 1 && given[0].Parts == nil
	v.anew = !alone && (v.test >= 0 || s.asks.reckons > 0)
	if alone && s.asks.reckons > 0 {
		is := s.asks.last
		v.reckoned = &is
	}
	return v
}

// put adds to a case what a value was read as, with what follows from the case's stone.
func (s *Skimmer) put(v *Said, m *Member, room *Room) bool {
	c := &room.Case
	if v.anew {
		return s.anew(m, c)
	}
	if v.test < 0 && v.reckoned == nil {
		c.Readings = append(c.Readings, v.readings...)
		return true
	}
	r := v.readings[0]
	if v.reckoned != nil {
		own := room.reading(r)
		if s.rd.reckon(c, own, v.reckoned.yield, v.reckoned.in); own.U != r.U || own.HighU != r.HighU {
			own.Known = 0
			r = own
		}
	}
	s.add(room, r, v.test)
	return true
}

// add adds a reading, which the stone may spoil.
func (s *Skimmer) add(room *Room, r *Reading, test int) {
	if test >= 0 && r.Usable() {
		if why := s.spoilers.why(s.rd, room, test); why != "" {
			spoilt := room.reading(r)
			spoilt.Spoilt, spoilt.Known = why, 0
			r = spoilt
		}
	}
	room.Case.Readings = append(room.Case.Readings, r)
}

// anew has the Reader read a value of a case whose stone was read.
func (s *Skimmer) anew(m *Member, c *Case) bool {
	var out diag.List
	o := s.observables[m.Key].of
	given := s.rd.observable(c, o, m.node(), &out)
	c.Readings = append(c.Readings, given...)
	return len(out) == 0
}

// hasPattern tells whether there is a pattern, or makes one of a value that is like all others written so.
func (s *Skimmer) hasPattern(o *Remembered, m *Member) bool {
	if o.pattern != nil {
		return true
	}
	v := s.ask(o.of, m)
	if v == nil || v.anew || len(v.readings) != 1 {
		return false
	}
	o.pattern = v
	if o.of.Kind == vocab.Quantity {
		o.limits = s.rd.limits(v.readings[0], s.rd.Vocabulary.Yield(o.of.Test, o.of))
	}
	return true
}

// quantity reads a number as the pattern has it, and remembers it while there is room.
func (s *Skimmer) quantity(o *Remembered, m *Member, x float64, room *Room) bool {
	var out diag.List
	r := room.reading(o.pattern.readings[0])
	if r.Value = x; !withinReach(r, o.limits, "", &syntax.Node{}, &out) {
		return false
	}
	v := &room.value
	*v = Said{readings: append(v.readings[:0], r), test: o.pattern.test, reckoned: o.pattern.reckoned}
	if v = s.keep(o, m, v); v != &room.value {
		m.was(v)
	}
	return s.put(v, m, room)
}

// features reads a set of features as the pattern has it.
func (s *Skimmer) features(o *Remembered, m *Member, seen, lookedFor vocab.Set, room *Room) bool {
	lookedFor.Union(seen)
	if lookedFor.Empty() {
		return false
	}
	if o.pattern == nil {
		if !s.hasPattern(o, m) {
			return false
		}
		s.memory.alone(o.pattern)
	}
	r := room.reading(o.pattern.readings[0])
	r.Seen, r.LookedFor = seen, lookedFor
	if m.Was != nil && s.memory.room() {
		kept := *r
		m.was(&Said{readings: []*Reading{&kept}, test: o.pattern.test})
	}
	s.add(room, r, o.pattern.test)
	return true
}

// namedFeatures reads a list of features seen, or an object that has it under "features", that of those looked for
// under "looked_for", or both, and nothing else; each by its name as the vocabulary has it.
func namedFeatures(o *vocab.Observable, raw string) (seen, lookedFor vocab.Set, ok bool) {
	if raw[0] == '[' {
		list := object{text: raw}
		ok = list.listed(o, &seen) && list.at == len(raw)
		return seen, lookedFor, ok
	}
	members := object{text: raw}
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
		if given&bit != 0 || !members.listed(o, to) {
			return seen, lookedFor, false
		}
		given |= bit
	}
	return seen, lookedFor, members.done && members.at == len(raw) && given != 0
}

// listed passes over a list of features' names. Most lists follow the order of the vocabulary, so that each name is
// looked for from the one before on.
func (list *object) listed(o *vocab.Observable, to *vocab.Set) bool {
	if list.skip() != '[' {
		return false
	}
	list.at++
	if list.skip() == ']' {
		list.at++
		return true
	}
	for at := 0; ; list.at++ {
		word, ok := list.string()
		if !ok {
			return false
		}
		if at = named(o, word, at); at < 0 {
			return false
		}
		to.Add(at)
		switch list.skip() {
		case ']':
			list.at++
			return true
		case ',':
		default:
			return false
		}
	}
}

// named is the feature of a name, looked for from a place on, or -1.
func named(o *vocab.Observable, word string, from int) int {
	for i := from; i < len(o.Outcomes); i++ {
		if o.Outcomes[i].Name == word {
			return i
		}
	}
	for i := range from {
		if o.Outcomes[i].Name == word {
			return i
		}
	}
	return -1
}

// stone reads the stone, and the readings that are accepted under it.
func (s *Skimmer) stone(p *Parts, room *Room) bool {
	c, known := &room.Case, &room.Case.Stone
	if m := &p.Top[partStake]; m.given() {
		x, ok := m.number()
		if !ok || x < 0 {
			return false
		}
		c.Stake = room.number(x)
	}
	given := 0
	for i := range p.Stone {
		m := &p.Stone[i]
		at := slices.Index(stoneKeys, m.Key)
		if at < 0 || given>>at&1 == 1 {
			return false
		}
		given |= 1 << at
		if !m.given() {
			continue
		}
		ok := true
		switch at {
		case 0, 1, 2, 3:
			ok = truth(m, [...]**bool{&known.Mounted, &known.Warm, &known.Wet, &known.Coated}[at])
		case 4, 5, 6, 7:
			var x float64
			if x, ok = m.number(); ok && x > 0 {
				*[...]**float64{&known.Carat, &known.Length, &known.Width, &known.Depth}[at-4] = room.number(x)
			}
			ok = ok && x > 0
		case 8, 9:
			var is claimed
			is, ok = s.claim(m)
			*[...]*string{&known.Cut, &known.Setting}[at-8] = is.folded
		}
		if !ok {
			return false
		}
	}
	for i := range p.Stone { // the readings come last: they may follow from the rest
		if m := &p.Stone[i]; (m.Key == vocab.Colour || m.Key == vocab.Transparency) && m.given() &&
			!s.reading(m, room) {
			return false
		}
	}
	return true
}

var yes, no = true, false

func truth(m *Member, to **bool) bool {
	switch {
	case m.Plain:
		return false
	case m.Raw == "true":
		*to = &yes
	case m.Raw == "false":
		*to = &no
	default:
		return false
	}
	return true
}
