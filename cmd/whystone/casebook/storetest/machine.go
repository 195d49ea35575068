package storetest

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"whystone/cmd/whystone/casebook"
)

// model is a case as the simplest program would keep it.
type model struct {
	number    string
	day       string
	version   int
	closed    bool
	fields    map[string]string
	readings  map[int]string
	withdrawn map[int]bool
	notes     map[string]string // by id
	truth     string
	verdict   string
	by        map[string]bool
	looked    *casebook.State // as it was looked at some time ago
}

// of is the case as what is done to it is told: as it was looked at, or by its number.
func (x *model) of(rt *rapid.T) *casebook.State {
	if x.looked == nil || rapid.Bool().Draw(rt, "by number") {
		return &casebook.State{Number: x.number}
	}
	return x.looked
}

// Machine does drawn things to a book and to the model, and compares them after each. again opens the store anew, as a
// program that was ended would find it; it may be nil.
func Machine(t *testing.T, open func(rapid.TB) casebook.Store, again func(rapid.TB, casebook.Store) casebook.Store) {
	rapid.Check(t, func(rt *rapid.T) {
		m := &machine{t: rt, clock: NewDay(), store: open(rt), ctx: context.Background()}
		m.book = &casebook.Book{Store: m.store, Now: m.clock.Now, Random: Salt()}
		defer func() { _ = m.store.Close() }()
		actions := map[string]func(*rapid.T){
			"open": m.open, "add": m.add, "correct": m.correct, "withdraw": m.withdraw, "amend": m.amend,
			"close": m.shut, "reopen": m.reopen, "note": m.note, "erase": m.erase, "truth": m.truth, "issue": m.issue,
			"fail": m.fail, "pass": m.pass, "": m.check,
		}
		if again != nil {
			actions["again"] = func(rt *rapid.T) {
				m.store = again(rt, m.store)
				m.book.Store = m.store
			}
		}
		rt.Repeat(actions)
		m.verify()
	})
}

type machine struct {
	t     *rapid.T
	ctx   context.Context
	clock *Day
	store casebook.Store
	book  *casebook.Book
	cases []*model
}

// pass lets time pass; sometimes the clock is put back.
func (m *machine) pass(rt *rapid.T) {
	m.clock.Pass(time.Duration(rapid.SampledFrom([]int{13, 13, -30}).Draw(rt, "hours")) * time.Hour)
}

func (m *machine) some(rt *rapid.T) *model {
	if len(m.cases) == 0 {
		rt.Skip("no case yet")
	}
	return m.cases[rapid.IntRange(0, len(m.cases)-1).Draw(rt, "case")]
}

var (
	people = rapid.SampledFrom([]string{"anna", "ben", "cora"})
	claims = rapid.SampledFrom([]string{"diamond", "ruby", "blue sapphire", ""})
	values = rapid.SampledFrom([]string{"1.54", "[1.544, 1.553]", "{above: 1.81}", `{"between": [1, 2]}`,
		"diamond range"})
	texts = rapid.SampledFrom([]string{"a blue box", "Mrs Smith, Quay 4", "blue as her eyes", "ring\nand receipt"})
)

func (m *machine) open(rt *rapid.T) {
	claim, by, n := claims.Draw(rt, "claim"), people.Draw(rt, "by"), rapid.IntRange(0, 2).Draw(rt, "readings")
	x := &model{day: m.clock.Now().Format(time.DateOnly), version: 1 + n, fields: map[string]string{},
		readings: map[int]string{}, withdrawn: map[int]bool{}, notes: map[string]string{},
		by: map[string]bool{by: true}}
	d := casebook.Deed{Kind: casebook.Opened, Data: casebook.Data{Fields: map[string]string{}}}
	if claim != "" {
		d.Data.Fields["claim"], x.fields["claim"] = claim, claim
	}
	deeds := []casebook.Deed{d}
	for i := range n {
		v := values.Draw(rt, "value")
		deeds, x.readings[i+2] = append(deeds, casebook.Add("ri", v)), v
	}
	got, err := m.book.Open(m.ctx, by, deeds)
	if err != nil {
		rt.Fatal(err)
	}
	x.number = got[0].Number
	for _, other := range m.cases {
		if other.number == x.number {
			rt.Fatalf("the number %s is given twice", x.number)
		}
	}
	m.cases = append(m.cases, x)
}

// do does a deed in the book; it has to be refused or done as the model says. It returns whether it was done.
func (m *machine) do(rt *rapid.T, x *model, seen int, allowed bool, d casebook.Deed) bool {
	by := people.Draw(rt, "by")
	s, err := m.book.Do(m.ctx, by, x.of(rt), seen, nil, d)
	var conflict *casebook.Conflict
	stale := seen != 0 && seen != x.version
	switch {
	case stale && !errors.As(err, &conflict):
		rt.Fatalf("version %d of %s was seen, it is at %d, and the answer is %v", seen, x.number, x.version, err)
	case stale:
		if conflict.Version != x.version || len(conflict.Since) != max(0, x.version-seen) {
			rt.Fatalf("the refusal says %+v", conflict)
		}
		return false
	case allowed != (err == nil):
		rt.Fatalf("%s %s: allowed %v, and the answer is %v", d.Kind, x.number, allowed, err)
	}
	if err != nil {
		return false
	}
	x.version++
	x.by[by] = true
	if s.Version != x.version {
		rt.Fatalf("%s is at version %d, should be at %d", x.number, s.Version, x.version)
	}
	for _, e := range s.Events[x.version-1:] {
		for _, ref := range e.Data.Particulars {
			x.notes[ref.ID] = string(d.Hold[0].Content)
		}
	}
	return true
}

// seen is the version that is said to have been seen, mostly the right one.
func seen(rt *rapid.T, x *model) int {
	return max(1, x.version-rapid.SampledFrom([]int{0, 0, 0, 1}).Draw(rt, "stale"))
}

func (m *machine) add(rt *rapid.T) {
	x, v := m.some(rt), values.Draw(rt, "value")
	if m.do(rt, x, 0, !x.closed, casebook.Add("ri", v)) {
		x.readings[x.version] = v
	}
}

func (m *machine) reading(rt *rapid.T, x *model) (id int, live bool) {
	id = rapid.IntRange(1, x.version).Draw(rt, "reading")
	_, there := x.readings[id]
	return id, there && !x.withdrawn[id]
}

func (m *machine) correct(rt *rapid.T) {
	x, v := m.some(rt), values.Draw(rt, "value")
	id, live := m.reading(rt, x)
	if m.do(rt, x, seen(rt, x), live && !x.closed, casebook.Correct(id, v, "misread")) {
		x.readings[id] = v
	}
}

func (m *machine) withdraw(rt *rapid.T) {
	x := m.some(rt)
	id, live := m.reading(rt, x)
	if m.do(rt, x, seen(rt, x), live && !x.closed, casebook.Withdraw(id, "another stone")) {
		x.withdrawn[id] = true
	}
}

func (m *machine) amend(rt *rapid.T) {
	x, claim := m.some(rt), claims.Draw(rt, "claim")
	if m.do(rt, x, seen(rt, x), !x.closed, casebook.Amend(map[string]string{"claim": claim}, "")) {
		if x.fields["claim"] = claim; claim == "" {
			delete(x.fields, "claim")
		}
	}
}

func (m *machine) shut(rt *rapid.T) {
	x := m.some(rt)
	if m.do(rt, x, seen(rt, x), !x.closed, casebook.Close("")) {
		x.closed = true
	}
}

func (m *machine) reopen(rt *rapid.T) {
	x := m.some(rt)
	if m.do(rt, x, 0, x.closed, casebook.Reopen("")) {
		x.closed = false
	}
}

func (m *machine) note(rt *rapid.T) {
	x := m.some(rt)
	what := rapid.SampledFrom([]casebook.What{casebook.Note, casebook.Customer}).Draw(rt, "what")
	m.do(rt, x, 0, !x.closed, casebook.Write(what, texts.Draw(rt, "text")))
}

func (m *machine) erase(rt *rapid.T) {
	x := m.some(rt)
	if len(x.notes) == 0 {
		m.do(rt, x, 0, false, casebook.Forget([]string{"1/1"}, "asked for"))
		return
	}
	id := rapid.SampledFrom(slices.Sorted(maps.Keys(x.notes))).Draw(rt, "id")
	if m.do(rt, x, 0, true, casebook.Forget([]string{id}, "asked for")) {
		delete(x.notes, id)
	}
}

func (m *machine) truth(rt *rapid.T) {
	x := m.some(rt)
	what := rapid.SampledFrom([]string{"natural-diamond", "glass"}).Draw(rt, "truth")
	if m.do(rt, x, 0, true, casebook.Know(casebook.Finding{Material: what})) {
		x.truth = what
	}
}

func (m *machine) issue(rt *rapid.T) {
	x := m.some(rt)
	what := rapid.SampledFrom([]string{"identified", "narrowed"}).Draw(rt, "verdict")
	text, list := []byte("It is "+what), []byte("[]")
	d := casebook.Deed{Kind: casebook.Issued, Blobs: [][]byte{text, list},
		Data: casebook.Data{Verdict: &casebook.Verdict{
			Told: casebook.Hash(text), Why: casebook.Hash(text), Chain: casebook.Hash(text), Files: casebook.Hash(list),
			Verdict: what}}}
	if m.do(rt, x, x.version, !x.closed, d) {
		x.verdict = what
	}
}

// fail breaks a write off; nothing of it may be left.
func (m *machine) fail(rt *rapid.T) {
	x := m.some(rt)
	if x.closed {
		rt.Skip("closed")
	}
	broken := errors.New("refused")
	_, err := m.book.Do(m.ctx, "anna", x.of(rt), 0, func(_, _ *casebook.State) error { return broken },
		casebook.Add("ri", "1"), casebook.Write(casebook.Note, "x"))
	if !errors.Is(err, broken) {
		rt.Fatal(err)
	}
}

// check compares each case, and what is found, with the model.
func (m *machine) check(rt *rapid.T) {
	err := m.book.Read(m.ctx, func(v casebook.View) error {
		for _, x := range m.cases {
			s, err := casebook.Load(v, x.number)
			if err != nil {
				return err
			}
			if got, want := told(v, s), x.told(); got != want {
				rt.Fatalf("%s is\n%s\nand should be\n%s", x.number, got, want)
			}
			if rapid.IntRange(0, 3).Draw(rt, "looked at") == 0 {
				x.looked = s
			}
		}
		for _, q := range [][]string{{}, {"claim=diamond"}, {"by=ben"}, {"status=open"}, {"verdict=identified"},
			{"truth=glass"}, {"blue"}, {"text=mrs smith"},
			{"from=2031-04-13"}, {"to=2031-04-13", "status=closed"}, {"from=2031-04-12", "to=2031-04-14", "blue",
				"by=anna"}} {
			m.compare(rt, v, q)
		}
		return nil
	})
	if err != nil {
		rt.Fatal(err)
	}
}

func (m *machine) compare(rt *rapid.T, v casebook.View, parts []string) {
	q, err := casebook.ParseQuery(parts)
	if err != nil {
		rt.Fatal(err)
	}
	var got, want []string
	for e, err := range v.Find(q.Terms) {
		if err != nil {
			rt.Fatal(err)
		}
		got = append(got, e.Number)
	}
	for _, x := range slices.Backward(m.cases) {
		if x.meets(parts) {
			want = append(want, x.number)
		}
	}
	if !slices.Equal(got, want) {
		rt.Fatalf("%q finds %v, and should find %v", parts, got, want)
	}
}

func (x *model) meets(parts []string) bool {
	for _, p := range parts {
		key, v, ok := strings.Cut(p, "=")
		if !ok {
			key, v = "text", p
		}
		meets := false
		switch key {
		case "claim":
			meets = x.fields["claim"] == v
		case "by":
			meets = x.by[v]
		case "status":
			meets = x.closed == (v == "closed")
		case "verdict":
			meets = x.verdict == v
		case "truth":
			meets = x.truth == v
		case "from":
			meets = x.day >= v
		case "to":
			meets = x.day <= v
		case "text":
			all := x.fields["claim"]
			for _, n := range x.notes {
				all += " " + n
			}
			have := strings.FieldsFunc(strings.ToLower(all), func(r rune) bool {
				return r == ' ' || r == ',' ||
					r == '\n'
			})
			meets = !slices.ContainsFunc(strings.Fields(v), func(w string) bool { return !slices.Contains(have, w) })
		}
		if !meets {
			return false
		}
	}
	return true
}

func (x *model) told() string {
	return fmt.Sprintln(x.version, x.closed, x.fields, x.readings, x.withdrawn, x.notes, x.truth, x.verdict,
		slices.Sorted(maps.Keys(x.by)))
}

func told(v casebook.View, s *casebook.State) string {
	x := &model{version: s.Version, closed: s.Closed, fields: s.Fields, readings: map[int]string{},
		withdrawn: map[int]bool{}, notes: map[string]string{}, by: map[string]bool{}}
	for _, r := range s.Readings {
		x.readings[r.ID] = r.Text
		if r.Withdrawn != "" {
			x.withdrawn[r.ID] = true
		}
	}
	texts, err := casebook.Texts(v, s)
	if err != nil {
		return err.Error()
	}
	for _, h := range s.Held {
		x.notes[h.ID] = texts[h.ID]
	}
	if len(texts) != len(s.Held) {
		return fmt.Sprintf("%d are held and %d are there", len(s.Held), len(texts))
	}
	if s.Truth != nil {
		x.truth = s.Truth.Material
	}
	if last := s.Last(); last != nil {
		x.verdict = last.Verdict.Verdict
	}
	for _, by := range s.By {
		x.by[by] = true
	}
	return x.told()
}

// verify: the book is whole, its index is that of its events, and an export of everything makes the same book.
func (m *machine) verify() {
	v, err := m.book.Verify(m.ctx)
	if err != nil || !v.Whole() || v.Index {
		m.t.Fatalf("the book is not whole: %+v, %v", v, err)
	}
}
