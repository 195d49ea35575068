package engine

import (
	"math"
	"math/bits"
	"slices"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// item is one piece of evidence of a case: a reading, or a rule that fires, with what that says of each leaf.
type item struct {
	*vector
	reading *casefile.Reading // of a reading; of two combined the first
	second  *casefile.Reading // of two combined
	place   string            // a second place of the stone, which makes another contribution
	// Of what one quantity says by another: the readings of that other, and the leaves of which it says nothing.
	first  []*casefile.Reading
	hushed leafSet
}

// vector is what a reading, or a rule that fires, says of each leaf. It is the same in every case in which the reading
// is, so that it can be kept: see remember.go. What weighing looks at of every item comes first, so that it lies
// together in memory.
type vector struct {
	none     bool // says nothing of any leaf
	kept     bool
	whole    bool // of one that is kept and no quantity: levels has all that it says
	unseen   bool // of a feature: looked for and not seen
	rulesOut bool // excludes some leaf
	apart    bool // of a quantity: does not say the same of all leaves whose sheets do
	rank     int  // by name, among all names: the tie-break between items
	family   int
	unlisted float64   // contribution to what the ruleset lacks; of rules only
	c        []float64 // by leaf; of a quantity only where known says so. Not written to when it is a sheet's or rule's
	excludes leafSet
	known    leafSet
	tests    testSet
	levels   levels
	span     float64 // of one that is whole: how far apart all that it says lies, 0 included
	key      int     // of what it rests on; items alike in it are one contribution

	name    string // told to people
	blunder float64
	own     *memory // what c, known and excludes are when they are the vector's own
	follows
	rule    *kb.Rule // of a rule
	base    *vector  // of one of which another item says something in its place: what it says of the other leaves
	feature int
	read    *casefile.Line // of a line that was read by its place, or with its strength
	q       *quantityItem
}

// quantityItem is what a quantity's item needs to compute contributions when they are wanted.
type quantityItem struct {
	line       *line
	form       casefile.Form
	x, u       float64
	lo, hi     float64 // of an interval
	resolution float64
	span       [2]float64
	high       float64 // of the low of two rays: the other
	highU      float64
	rays       bool // x is the low one of two rays
	difference bool // x is the difference of two rays
}

// gather makes the items of a case after the rules have run.
func (j *Judge) gather(c *casefile.Case) {
	j.begin()
	j.speaking = append(j.speaking[:0], make([]bool, len(c.Readings))...)
	j.readings = 0
	j.combined = j.combined[:0]
	j.disagree = j.disagree[:0]
	j.combine(c)
	var last *vocab.Observable
	places, pairs := 0, 0 // of the observable, so far
	for k, r := range c.Readings {
		if r.Observable != last {
			places, pairs, last = 0, 0, r.Observable
		}
		if !j.counts(r) {
			continue
		}
		if j.isCombined(r) {
			if slices.ContainsFunc(j.items, func(it item) bool {
				return (it.reading == r ||
					it.second == r) && !it.none
			}) {
				j.speaks(k)
			}
			continue
		}
		from := len(j.items)
		j.readingItems(r)
		for i := from; i < len(j.items); i++ {
			if it := j.items[i].vector; !it.none {
				j.speaks(k)
			}
			earlier := places
			if r.Form == casefile.Pair && i > from {
				earlier = pairs // it is the difference of the rays
			}
			if earlier > 0 {
				j.items[i].place = r.Where
			}
		}
		places++
		if r.Form == casefile.Pair {
			pairs++
		}
	}
	j.relate(c)
	for _, i := range j.e.weighing {
		if j.run.Rules[i] == logic.Holds {
			j.ruleItem(i, c)
		}
	}
}

// speaks notes that a reading says something of some material, by a sheet or by a rule that fires.
func (j *Judge) speaks(k int) {
	if !j.speaking[k] {
		j.speaking[k] = true
		j.readings++
	}
}

// begin forgets the evidence of the last case.
func (j *Judge) begin() {
	j.items, j.used = j.items[:0], 0
}

// counts tells whether a reading is usable and not set aside.
func (j *Judge) counts(r *casefile.Reading) bool {
	return r.Usable() && j.run.Ready(r.Observable)
}

func (j *Judge) isCombined(r *casefile.Reading) bool {
	for _, c := range j.combined {
		if c == r {
			return true
		}
	}
	return false
}

// put puts a vector into the case.
func (j *Judge) put(v *vector) *item {
	j.items = append(j.items, item{vector: v})
	return &j.items[len(j.items)-1]
}

// newItem takes a free vector, with its memory.
func (j *Judge) newItem() *item {
	if j.used == len(j.spare) {
		j.spare = append(j.spare, &vector{own: j.e.newMemory()})
	}
	v := j.spare[j.used]
	j.used++
	own := v.own
	clear(own.excludes)
	own.q.line = nil
	*v = vector{own: own, c: own.c, known: j.e.all, excludes: own.excludes, q: own.q, feature: -1}
	return j.put(v)
}

func (e *Engine) newMemory() *memory {
	sets := make(leafSet, 2*e.words)
	return &memory{c: e.numbers(), known: sets[:e.words:e.words], excludes: sets[e.words:], q: new(quantityItem)}
}

// memory is a vector's own, used again for the next case.
type memory struct {
	c               []float64
	known, excludes leafSet
	q               *quantityItem
}

func (j *Judge) from(it *item, r *casefile.Reading, l *line) {
	it.reading, it.family, it.key, it.blunder = r, l.family, l.key, r.Blunder
	it.name, it.rank = r.Observable.Name, l.rank
	if len(r.Tests) == 1 && r.Tests[0] == r.Observable.Test {
		declared := &j.e.lines[r.Observable.Index] // the line may be that of the rays' difference
		it.tests = declared.tests
		return
	}
	for _, t := range r.Tests {
		it.tests.Add(j.e.tests[t])
	}
}

// readingItems makes the items of one reading: one, but for features one each, and for two rays two.
func (j *Judge) readingItems(r *casefile.Reading) {
	l := &j.e.lines[r.Observable.Index]
	switch r.Form {
	case casefile.Choice:
		if !j.recalled(r, 0) {
			it := j.newItem()
			j.from(it, r, l)
			j.choiceItem(it, l)
			j.keep(it, r, 0)
		}
	case casefile.Features:
		kept := j.recall(r)
		for k, word := range r.LookedFor.Words {
			for ; word != 0; word &= word - 1 {
				f := k<<6 + bits.TrailingZeros64(word)
				n, unseen := 2*f, !r.Seen.Has(f)
				if unseen {
					n++
				}
				v, at := kept.at(n), r.LineOf(f)
				switch {
				case at >= 0:
					j.lineItem(r, l, at)
				case v == nil:
					j.oneFeature(r, l, f, unseen, n)
				case !v.none:
					j.put(v).reading = r
				}
			}
		}
		for n := range r.Lines {
			if !r.Sure(&r.Lines[n]) {
				j.lineItem(r, l, n)
			}
		}
	default:
		j.quantityItems(r, l)
	}
}

func (j *Judge) oneFeature(r *casefile.Reading, l *line, f int, unseen bool, n int) {
	it := j.newItem()
	j.from(it, r, l)
	it.feature, it.unseen = f, unseen
	j.featureItem(it, l)
	j.keep(it, r, n)
}

func (j *Judge) choiceItem(it *item, l *line) {
	o := it.reading.Outcome
	if it.none = l.silent[o]; it.none {
		return
	}
	it.excludes, it.rulesOut = l.never[o], !l.never[o].empty()
	if l.blunder[o] == it.blunder {
		it.c = l.fixed[o]
		return
	}
	any := j.e.anyChoice(l.observable, l.observable.Meaning(o))
	for i, p := range l.shares[o] {
		it.c[i] = 0
		if !math.IsNaN(p) {
			it.c[i] = contribution(p, any, it.blunder)
		}
	}
}

func (j *Judge) featureItem(it *item, l *line) {
	it.key, it.name, it.rank = l.keys[it.feature], l.labels[it.feature], l.ranks[it.feature]
	if it.none = l.silent[it.feature]; it.none {
		return
	}
	background := l.observable.Outcomes[it.feature].Background
	if !it.unseen {
		it.excludes, it.rulesOut = l.never[it.feature], !l.never[it.feature].empty()
	}
	for i, p := range l.features[it.feature] {
		it.c[i] = 0
		switch {
		case math.IsNaN(p):
		case it.unseen:
			it.c[i] = contribution(1-p, 1-background, it.blunder)
		default:
			it.c[i] = contribution(p, background, it.blunder)
		}
	}
}

func (j *Judge) quantityItems(r *casefile.Reading, l *line) {
	if !j.recalled(r, 0) {
		j.quantityItem(r, l)
	}
	if r.Form == casefile.Pair {
		j.differenceItem(r)
	}
}

func (j *Judge) quantityItem(r *casefile.Reading, l *line) {
	it := j.newItem()
	j.from(it, r, l)
	o := r.Observable
	*it.q = quantityItem{line: l, form: r.Form, x: r.Value, u: r.U, lo: r.Lo, hi: r.Hi, resolution: o.Resolution,
		span: o.Span}
	switch r.Form {
	case casefile.Interval:
		it.q.u = r.Noise
	case casefile.Pair:
		it.q.rays, it.q.high, it.q.highU = true, r.High, r.HighU
	}
	j.exclude(it)
	j.keep(it, r, 0)
}

// differenceItem is the birefringence that two rays give, unless it was read by itself.
func (j *Judge) differenceItem(r *casefile.Reading) {
	if j.givesDifference(r) {
		j.addDifference(r)
	}
}

func (j *Judge) addDifference(r *casefile.Reading) {
	if j.recalled(r, 1) {
		return
	}
	d := j.e.birefringence
	l := &j.e.lines[d.Index]
	it := j.newItem()
	j.from(it, r, l)
	it.name, it.rank = d.Name, l.rank
	*it.q = quantityItem{line: l, form: casefile.Value, x: r.High - r.Value, u: math.Hypot(r.U, r.HighU),
		resolution: d.Resolution, span: d.Span, difference: true}
	j.exclude(it)
	j.keep(it, r, 1)
}

// givesDifference tells whether a reading's two rays stand for the birefringence: nobody gave it by itself, and no rule
// sets it aside.
func (j *Judge) givesDifference(r *casefile.Reading) bool {
	if r.Form != casefile.Pair || !j.run.FromRays() {
		return false
	}
	return j.run.Ready(j.e.birefringence)
}

// combine joins readings of two observables of one property, where they agree as repeats do.
func (j *Judge) combine(c *casefile.Case) {
	for i, a := range c.Readings {
		if !j.e.paired[a.Observable.Index] || a.Form != casefile.Value || !j.counts(a) || j.isCombined(a) {
			continue
		}
		for _, b := range c.Readings[i+1:] {
			if b.Form != casefile.Value || b.Observable == a.Observable ||
				b.Observable.Property != a.Observable.Property || !j.counts(b) || j.isCombined(b) {
				continue
			}
			if !j.alone(c, a) || !j.alone(c, b) {
				continue
			}
			s, ok := quantity.Combine([]quantity.Sample{{Value: a.Value, U: a.U}, {Value: b.Value, U: b.U}})
			if !ok {
				j.disagree = append(j.disagree, a, b)
				continue
			}
			j.combinedItem(a, b, s)
			break
		}
	}
}

// alone tells whether an observable was read in one place only.
func (j *Judge) alone(c *casefile.Case, r *casefile.Reading) bool {
	for _, o := range c.Readings {
		if o != r && o.Observable == r.Observable && o.Usable() {
			return false
		}
	}
	return true
}

func (j *Judge) combinedItem(a, b *casefile.Reading, s quantity.Sample) {
	l := &j.e.lines[a.Observable.Index]
	it := j.newItem()
	j.from(it, a, l)
	for _, t := range b.Tests {
		it.tests.Add(j.e.tests[t])
	}
	both := j.e.joint[[2]int{a.Observable.Index, b.Observable.Index}]
	it.second, it.key, it.name, it.rank = b, both.key, both.name, both.rank
	it.blunder = math.Max(a.Blunder, b.Blunder)
	span := [2]float64{math.Min(a.Observable.Span[0], b.Observable.Span[0]),
		math.Max(a.Observable.Span[1], b.Observable.Span[1])}
	*it.q = quantityItem{line: l, form: casefile.Value, x: s.Value, u: s.U, span: span,
		resolution: math.Max(a.Observable.Resolution, b.Observable.Resolution)}
	j.exclude(it)
	j.combined = append(j.combined, a, b)
}

// ruleItem is what a rule that holds says: how much of it is a blunder depends on the readings that it looks at.
func (j *Judge) ruleItem(at int, c *casefile.Case) {
	l := &j.e.evidence[at]
	var tests testSet
	blunder := 0.0
	for k, r := range c.Readings {
		if !j.counts(r) || !j.observes(l.rule, r) {
			continue
		}
		j.speaks(k)
		blunder = math.Max(blunder, r.Blunder)
		for _, t := range r.Tests {
			tests.Add(j.e.tests[t])
		}
	}
	if tests.Empty() {
		blunder, tests = l.declared, l.tests
	}
	if v := j.ruleVector(at, blunder, tests); v != nil {
		j.put(v)
		return
	}
	it := j.newItem()
	it.rule, it.family, it.key, it.unlisted = l.rule, l.family, l.key, l.unlisted
	it.name, it.rank = l.rule.ID, l.rank
	it.blunder, it.tests, it.excludes, it.rulesOut = blunder, tests, l.exclude, !l.exclude.empty()
	if l.exclude.empty() {
		it.c = l.c
	} else {
		copy(it.c, l.c)
		floor := math.Log(it.blunder)
		for i := range it.c {
			if l.exclude.has(i) {
				it.c[i] = floor
			}
		}
	}
	j.keepRule(at, it)
}

// observes tells whether a rule names what a reading gives; two rays give the birefringence too.
func (j *Judge) observes(r *kb.Rule, reading *casefile.Reading) bool {
	for _, o := range r.Observes {
		if o == reading.Observable || o == j.e.birefringence && j.givesDifference(reading) {
			return true
		}
	}
	return false
}
