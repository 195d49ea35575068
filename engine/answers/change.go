package answers

import (
	"slices"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/diff"
	"whystone/engine/phrase"
	"whystone/kb/casefile"
)

// MaxChanges is how many readings may have to change.
const MaxChanges = 3

// Change is what would change a verdict.
type Change struct {
	Head
	phrase.Told
	// Changes are all smallest changes: of as few readings as possible. Of those of the same readings that lead to the
	// same verdict one is told, with how many others do.
	Changes  []Changed `json:"changes"`
	Searched int       `json:"searched"` // changes of up to so many readings were tried
}

// Changed is a change of readings, and what it would make of the verdict.
type Changed struct {
	Readings []Altered      `json:"readings"`
	To       wording.Result `json:"to"`
	Others   int            `json:"others"` // how many more changes of the same readings lead to the same
	phrase.Told
}

// Altered is a reading that would have to be another.
type Altered struct {
	Name  string            `json:"name"`
	From  string            `json:"from"`
	To    string            `json:"to"`
	Other *casefile.Reading `json:"-"` // what To tells
}

// Change finds the smallest changes of readings that would flip the verdict: make it of another class, or name
// something else. The readings are possible ones, of tests that can be done again without harm.
func (a *Asker) Change(c *casefile.Case, m engine.Moment) *Change {
	d := a.decide(c, m.On)
	out := &Change{Head: head(c, &d), Changes: []Changed{}}
	s := a.search(c, m.On, &d)
	tried := 0
	for size := 1; size <= min(MaxChanges, len(s.open)) && len(out.Changes) == 0; size++ {
		if tried += s.cases(size); tried > maxTried {
			break
		}
		out.Searched = size
		out.Changes = s.flips(size)
	}
	out.Told = changeSays(out, len(s.open)).Told()
	return out
}

// search looks for changes of one case.
type search struct {
	a    *Asker
	c    *casefile.Case
	on   time.Time
	d    *engine.Decision
	open []int // the readings that could be others, as indexes
	alts map[int][]*casefile.Reading
}

func (a *Asker) search(c *casefile.Case, on time.Time, d *engine.Decision) *search {
	s := &search{a: a, c: c, on: on, d: d, alts: map[int][]*casefile.Reading{}}
	able := a.able(c, on)
	for i, r := range c.Readings {
		if alts := a.alternatives(c, r, able); len(alts) > 0 {
			s.open, s.alts[i] = append(s.open, i), alts
		}
	}
	return s
}

// cases is how many cases have to be judged for changes of a number of readings.
func (s *search) cases(size int) int {
	total := 0
	engine.Sets(len(s.open), size, func(set []int) bool {
		n := 1
		for _, k := range set {
			n *= len(s.alts[s.open[k]])
		}
		total += n
		return total <= maxTried
	})
	return total
}

// flips lists the changes of a number of readings that flip the verdict.
func (s *search) flips(size int) []Changed {
	out := []Changed{}
	engine.Sets(len(s.open), size, func(set []int) bool {
		from := len(out)
		s.each(set, func(altered []*casefile.Reading) {
			d := s.judge(set, altered)
			if diff.SameVerdict(&d, s.d) {
				return
			}
			to := wording.Of(&d)
			for i := from; i < len(out); i++ {
				if out[i].To.Alike(&to) {
					out[i].Others++
					return
				}
			}
			out = append(out, s.changed(set, altered, &d))
		})
		return true
	})
	// What names something else is told first; of the same kind, the readings keep their order.
	order := []string{engine.Identified.String(), engine.Narrowed.String(), engine.Inconclusive.String(),
		engine.Contradictory.String()}
	slices.SortStableFunc(out, func(x, y Changed) int {
		return slices.Index(order, x.To.Verdict) - slices.Index(order, y.To.Verdict)
	})
	return out
}

// each calls f with every combination of alternatives of a set of readings.
func (s *search) each(set []int, f func(altered []*casefile.Reading)) {
	altered := make([]*casefile.Reading, len(set))
	var rec func(k int)
	rec = func(k int) {
		if k == len(set) {
			f(altered)
			return
		}
		for _, x := range s.alts[s.open[set[k]]] {
			altered[k] = x
			rec(k + 1)
		}
	}
	rec(0)
}

func (s *search) judge(set []int, altered []*casefile.Reading) engine.Decision {
	c := *s.c
	c.Readings = append([]*casefile.Reading(nil), s.c.Readings...)
	for i, k := range set {
		c.Readings[s.open[k]] = altered[i]
	}
	return s.a.decide(&c, s.on)
}

func (s *search) changed(set []int, altered []*casefile.Reading, d *engine.Decision) Changed {
	to := d.Reason()
	says := phrase.Reason{Code: phrase.IfChanged, Why: &to}
	out := Changed{To: wording.Of(d)}
	for i, k := range set {
		old := s.c.Readings[s.open[k]]
		x := Altered{old.Name(), phrase.ReadingText(old), phrase.ReadingText(altered[i]), altered[i]}
		out.Readings = append(out.Readings, x)
		says.Then = append(says.Then, phrase.Reason{Code: phrase.Instead, Observables: []string{x.Name}, Text: x.To,
			Readings: []*casefile.Reading{old}})
	}
	out.Told = says.Told()
	return out
}

func changeSays(c *Change, open int) phrase.Reason {
	switch {
	case open == 0:
		return phrase.Reason{Code: phrase.NoneCanChange}
	case len(c.Changes) == 0:
		return phrase.Reason{Code: phrase.NoChange, Count: c.Searched}
	case len(c.Changes[0].Readings) == 1:
		return phrase.Reason{Code: phrase.OneChanges}
	}
	return phrase.Reason{Code: phrase.SomeChange, Count: len(c.Changes[0].Readings)}
}
