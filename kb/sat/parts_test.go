package sat

import (
	"math"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/eval"
	"whystone/kb/vocab"
)

// TestLaws: And, Or and Not are those of two-valued logic, and Not of Not is the formula itself.
func TestLaws(t *testing.T) {
	a, b := lit(literal{ask: holds}), lit(literal{dim: 1, ask: holds})
	for name, same := range map[string]bool{
		"and of nothing":        And() == True,
		"or of nothing":         Or() == False,
		"and with true":         And(a, True) == a,
		"and with false":        And(a, False, b) == False,
		"or with false":         Or(False, a) == a,
		"or with true":          Or(a, True) == True,
		"not true":              Not(True) == False,
		"not false":             Not(False) == True,
		"not not":               Not(Not(a)) == a && Not(Not(And(a, b))).op == opAnd,
		"and of and is flat":    len(And(And(a, b), Not(a)).kids) == 3,
		"or of or is flat":      len(Or(Or(a, b), Not(a)).kids) == 3,
		"or within and is not":  len(And(Or(a, b), a).kids) == 2,
		"a part counts once":    And(a, a) == a && len(Or(a, b, a, b).kids) == 2,
		"a literal is negated":  Not(a).lit.not && !a.lit.not,
		"not and is or of nots": Not(And(a, b)).op == opOr && Not(And(a, b)).kids[1] == Not(b),
		"not or is and of nots": Not(Or(a, b)).op == opAnd && Not(Or(a, b)).kids[0] == Not(a),
	} {
		if !same {
			t.Error(name)
		}
	}
	left, right := And(a, b), []*Formula{a, b}
	if And(left, Not(a)); !slices.Equal(left.kids, right) {
		t.Error("joining changed a part")
	}
}

// quiet is a dimension of each kind. The quantity reads from 1 to 3 of 0 to 4.
func quiet(k kind) *dim {
	return &dim{kind: k, states: anyState, truths: yes | no, reach: [2]float64{1, 3}, span: [2]float64{0, 4},
		plain: 0b111}
}

// TestAssert: what is left when literals are taken in, one after another: the states of any reading, and of a sharp
// one.
func TestAssert(t *testing.T) {
	l := func(a ask, x float64) literal { return literal{ask: a, cut: x} }
	not := func(l literal) literal { l.not = true; return l }
	in := func(a ask, m uint64) literal { return literal{ask: a, mask: m} }
	at := func(a ask, f int) literal { return literal{ask: a, feature: f} }
	is := func(a ask) literal { return literal{ask: a} }
	words := func(a ask, w ...string) literal { return literal{ask: a, words: w} }
	for _, c := range []struct {
		kind       kind
		literals   []literal
		any, sharp status
	}{
		{quantity, nil, anyState, anyState},
		{quantity, []literal{is(ready)}, there, there},
		{quantity, []literal{not(is(ready))}, missing | vague, missing | vague},
		{quantity, []literal{is(unclear)}, vague, vague},
		{quantity, []literal{not(is(unclear))}, missing | there, missing | there},
		{quantity, []literal{is(unclear), is(ready)}, 0, 0},
		{quantity, []literal{not(is(unclear)), not(is(ready))}, missing, missing},
		{quantity, []literal{l(hiBelow, 2)}, there, there},
		{quantity, []literal{not(l(hiBelow, 2))}, anyState, anyState},
		{quantity, []literal{l(hiBelow, 1)}, there, 0},      // below the limit: a bound only
		{quantity, []literal{l(hiAtMost, 1)}, there, there}, // the limit itself can be read
		{quantity, []literal{l(loAbove, 3)}, there, 0},
		{quantity, []literal{l(loAbove, 3.5)}, 0, 0}, // beyond the limit nothing is told from more
		{quantity, []literal{l(hiBelow, 0.5)}, 0, 0},
		{quantity, []literal{l(loAtLeast, 2), l(hiAtMost, 2)}, there, there},
		{quantity, []literal{l(loAtLeast, 2), l(hiBelow, 2)}, 0, 0},
		{quantity, []literal{l(loAbove, 2), l(hiAtMost, 2)}, 0, 0},
		{quantity, []literal{not(l(hiBelow, 2)), not(l(loAtLeast, 2)), is(ready)}, there, 0}, // it straddles
		{quantity, []literal{not(l(hiBelow, 2)), not(l(loAtLeast, 2))}, anyState, missing | vague},
		{quantity, []literal{not(l(hiAtMost, 2)), not(l(loAbove, 2)), is(ready)}, there, 0},
		{quantity, []literal{not(l(hiAtMost, 2)), not(l(loAtLeast, 2.5)), is(ready)}, there, there},
		{choice, []literal{in(inside, 0b011)}, there, there},
		{choice, []literal{in(inside, 0b011), in(outside, 0b011)}, 0, 0},
		{choice, []literal{in(inside, 0)}, 0, 0},
		{choice, []literal{in(outside, 0b111)}, 0, 0},
		{choice, []literal{is(ready), not(in(inside, 0b001)), not(in(outside, 0b001))}, there, 0}, // it and another
		{choice, []literal{is(ready), not(in(inside, 0b011)), not(in(inside, 0b110))}, there, 0},
		{choice, []literal{is(ready), not(in(inside, 0b001)), in(inside, 0b001)}, 0, 0},
		{features, []literal{at(seen, 1)}, there, there},
		{features, []literal{at(seen, 1), at(unseen, 1)}, 0, 0},
		{features, []literal{at(seen, 1), at(unseen, 2)}, there, there},
		{features, []literal{is(ready), not(at(seen, 1)), not(at(unseen, 1))}, there, 0}, // nobody looked for it
		{features, []literal{at(seen, 70), not(at(seen, 70))}, 0, 0},
		{truth, []literal{is(holds)}, there, there},
		{truth, []literal{is(holds), is(fails)}, 0, 0},
		{truth, []literal{not(is(holds)), not(is(fails))}, missing | vague, missing | vague},
		{opaque, []literal{is(ready), not(is(holds)), not(is(fails))}, 0, 0}, // of truths yes and no
		{text, []literal{words(among, "a", "b"), words(among, "b", "c")}, there, there},
		{text, []literal{words(among, "a"), words(besides, "a")}, 0, 0},
		{text, []literal{words(among, "")}, 0, 0}, // an empty text is none
		{text, []literal{words(besides, "a"), not(words(among, "b"))}, there, there},
		{text, []literal{not(words(besides, "a")), not(words(among, "a"))}, missing | vague, missing | vague},
		{number, []literal{l(hiBelow, 1)}, 0, 0}, // below what can be
		{number, []literal{l(loAtLeast, 2), l(hiAtMost, 2)}, there, there},
		{number, []literal{is(ready), not(l(hiBelow, 2)), not(l(loAtLeast, 2))}, 0, 0}, // a number is no interval
	} {
		for _, mode := range []Mode{AnyReading, Sharp} {
			d := quiet(c.kind)
			k, want := free(d), c.any
			if mode == Sharp {
				want = c.sharp
			}
			left := true
			for i := range c.literals {
				left = left && k.assert(d, &c.literals[i], bool(mode))
			}
			if !left {
				k.status = 0
			}
			if k.status != want {
				t.Errorf("kind %d, %+v, sharp %v: left %03b, want %03b", c.kind, c.literals, mode, k.status, want)
			}
		}
	}
}

// TestZero: no uncertainty is lost in zero, so that nothing reads it exactly but what claims to have none; and a weight
// is above zero, while nothing keeps a stake from being it.
func TestZero(t *testing.T) {
	d := &dim{kind: quantity, states: there, reach: [2]float64{0, 3}, span: [2]float64{0, 4}}
	zero := literal{ask: hiAtMost}
	for _, exact := range []bool{false, true} {
		d.exact = exact
		if c := free(d); c.assert(d, &zero, false) != exact {
			t.Errorf("exact %v", exact)
		}
	}
	rs := fixed(t, "  - {rule: a, says: s, source: s, if: stone.carat <= 0, cautions: x}\n  - {rule: b, says: s, "+
		"source: s, if: stake <= 0, cautions: x}\n")
	s := NewSpace(rs)
	for id, want := range map[string]Answer{"a": No, "b": Yes} {
		if _, got := s.Satisfy(s.Fires(rs.Rule(id)), AnyReading); got != want {
			t.Errorf("%s: %d", id, got)
		}
	}
}

// TestBetween: a number between two ends lies there, has few figures where there is room, and is found wherever there
// is one.
func TestBetween(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		e    ends
		want string
	}{
		{ends{min: 1, max: 2}, "1.5"}, {ends{min: 1, max: 3}, "2"}, {ends{min: -inf, max: inf}, "1"},
		{ends{min: 3, max: inf}, "4"},
		{ends{min: -inf, max: 3}, "2"}, {ends{min: 1.81, max: 1.81}, "1.81"}, {ends{min: 1.544, max: 1.553}, "1.55"},
		{ends{min: 0, max: 0.004, minOpen: true}, "0.002"}, {ends{min: 2, max: 1}, ""},
		{ends{min: 1, max: 1, minOpen: true}, ""},
		{ends{min: 1, max: math.Nextafter(1, 2), minOpen: true}, "1.0000000000000002"},
		{ends{min: math.MaxFloat64, max: inf}, "1.7976931348623157e+308"},
	} {
		if got, ok := between(c.e); got != c.want || ok != (c.want != "") {
			t.Errorf("%+v: %q, want %q", c.e, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		e := ends{min: rapid.Float64().Draw(t, "min"), max: rapid.Float64().Draw(t, "max"),
			minOpen: rapid.Bool().Draw(t, "minOpen"), maxOpen: rapid.Bool().Draw(t, "maxOpen")}
		if e.max < e.min {
			e.min, e.max = e.max, e.min
		}
		text, ok := between(e)
		neighbours := e.minOpen && e.maxOpen && math.Nextafter(e.min, math.Inf(1)) == e.max
		if ok == (e.empty() || neighbours) {
			t.Fatalf("%+v: %q", e, text)
		}
		if !ok {
			return
		}
		x, err := strconv.ParseFloat(text, 64)
		if err != nil || x < e.min || x > e.max || x == e.min && e.minOpen || x == e.max && e.maxOpen {
			t.Fatalf("%s is not within %+v", text, e)
		}
	})
}

// pigeons says that n pigeons sit in n-1 holes, each alone: it can't be, and is hard to tell (Haken 1985, from memory).
func pigeons(s *Space, n int) *Formula {
	var sits [][]*Formula
	for range n {
		var row []*Formula
		for range n - 1 {
			row = append(row, lit(literal{dim: s.add(&dim{kind: truth, slot: -1, states: there, truths: yes | no}),
				ask: holds}))
		}
		sits = append(sits, row)
	}
	var all []*Formula
	for i := range sits {
		all = append(all, Or(sits[i]...))
		for j := range i {
			for hole := range n - 1 {
				all = append(all, Or(Not(sits[i][hole]), Not(sits[j][hole])))
			}
		}
	}
	return And(all...)
}

// TestUnknown: a search that is given up is told as such, and not taken for "no"; one that is found or done is not.
func TestUnknown(t *testing.T) {
	rs := fixed(t, "  - {rule: a, says: s, source: s, if: glow > 2, cautions: x}\n")
	s := NewSpace(rs)
	for n, want := range map[int]Answer{3: No, 5: No, 12: Unknown} {
		hard := pigeons(s, n)
		if box, got := s.Satisfy(hard, AnyReading); got != want || box != nil {
			t.Errorf("%d pigeons: %d, want %d", n, got, want)
		}
		easy := Or(hard, s.Fires(rs.Rule("a")))
		boxes := 0
		_, first := s.Satisfy(easy, AnyReading)
		all := s.Each(easy, AnyReading, func(*Box) bool { boxes++; return true })
		if first == No || boxes > 1 || want == No && (first != Yes || all != Yes || boxes != 1) || want == Unknown &&
			all != Unknown {
			t.Errorf("%d pigeons, or what can be: first %d, all %d, of %d boxes", n, first, all, boxes)
		}
	}
}

// TestAsk compares what can be asked of one reading with every way of reading it.
func TestAsk(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBase(t, true)
		rs := loaded(t, b.files())
		g := &grid{b: b, rs: rs}
		run := eval.New(rs)
		for _, name := range []string{rapid.SampledFrom(readings).Draw(t, "reading")} {
			o := rs.Vocabulary.Observable(name)
			for _, a := range g.axis(t, name) {
				run.Do(a.c, anyDay)
				slot := run.State.Slots[o.Index]
				var is []*Formula // that are true of the reading
				s := NewSpace(rs)
				say := func(f *Formula, yes bool) {
					if !yes {
						f = Not(f)
					}
					is = append(is, f)
				}
				there := len(a.c.Readings) > 0 && a.c.Readings[0].Usable()
				say(s.Read(o), there)
				for i, low := range b.cuts[name] {
					high := b.cuts[name][(i+1)%len(b.cuts[name])]
					say(s.Within(o, low, high), there && low <= slot.Lo && slot.Hi <= high)
					say(s.Touches(o, low, high), there && slot.Lo <= high && slot.Hi >= low)
				}
				for m := uint64(1); o.Kind == vocab.Choice && m < 1<<len(o.Outcomes); m++ {
					say(s.Among(o, m), there && slot.Set&^m == 0)
				}
				for i := range o.Outcomes {
					if o.Kind == vocab.Features {
						say(s.Seen(o, i), there && slot.Seen.Has(i))
						say(s.Unseen(o, i), there && slot.Unseen.Has(i))
					}
				}
				if _, answer := s.Satisfy(And(is...), AnyReading); answer != Yes {
					t.Fatalf("%s, %+v: there is no such reading", name, slot)
				}
			}
		}
	})
}
