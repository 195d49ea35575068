package casebook

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"whystone/kb/casefile"
)

// Book is a casebook. It is the only way to write to a store.
type Book struct {
	Store  Store
	Now    func() time.Time
	Random io.Reader // of salts
	// Verified tells that whoever does something has shown that it is they.
	Verified bool
}

// NotFound says that there is no such case.
type NotFound struct{ Name string }

func (e *NotFound) Error() string { return fmt.Sprintf("the casebook has no case %s", e.Name) }

// Conflict says that a case has changed since it was seen.
type Conflict struct {
	Number        string
	Seen, Version int
	Since         []*Event
}

func (e *Conflict) Error() string {
	return fmt.Sprintf("%s is at version %d, and version %d was seen", e.Number, e.Version, e.Seen)
}

// ErrUnseen says that something needs the version that was seen.
var ErrUnseen = errors.New("what corrects, withdraws or closes needs the version of the case that was seen")

// Deed is one thing to be done to a case.
type Deed struct {
	Kind  Kind
	Data  Data
	Hold  []Hold   // what is to be held apart
	Blobs [][]byte // what the event names by its hash
}

// Hold is something that is to be held apart.
type Hold struct {
	What    What
	Type    string
	Content []byte
	At      int
}

// needsSeen tells whether a deed changes what somebody else may have changed meanwhile. What only adds does not.
func (d *Deed) needsSeen() bool {
	return slices.Contains([]Kind{Corrected, Withdrawn, Changed, Closed}, d.Kind)
}

// check refuses what no deed says. What was written before it was checked is read all the same.
func (d *Deed) check() error {
	if f := d.Data.Truth; f != nil && f.Dated != "" {
		if _, ok := casefile.ParseTime(f.Dated, nil); !ok {
			return fmt.Errorf("the report's date %q is no date; write 2031-04-12", f.Dated)
		}
	}
	return nil
}

// Do does something to a case, all of it or nothing. The case is as it was looked at, or has its number alone. Seen is
// the version by which it was decided on; 0 when it was not looked at. check may refuse what the case would come to.
// The state that comes back is durable.
func (b *Book) Do(ctx context.Context, by string, s *State, seen int, check func(before, after *State) error,
	deeds ...Deed) (*State, error) {
	var after *State
	err := b.write(ctx, by, func(w *writing) error {
		before, err := current(w.tx, s)
		if err != nil {
			return err
		}
		if seen != 0 && seen != before.Version {
			return &Conflict{Number: s.Number, Seen: seen, Version: before.Version, Since: before.Since(seen)}
		}
		if seen == 0 && slices.ContainsFunc(deeds, func(d Deed) bool { return d.needsSeen() }) {
			return ErrUnseen
		}
		var e Entry
		var terms []string
		moves := !onlyReadings(before, w.by, deeds)
		if moves {
			if e, terms, err = standing(w.tx, before); err != nil {
				return err
			}
		}
		if after, err = Fold(before.Events); err != nil {
			return err
		}
		if err := w.do(after, deeds); err != nil {
			return err
		}
		if check != nil {
			if err := check(before, after); err != nil {
				return err
			}
		}
		if !moves {
			return nil
		}
		return w.index(after, indexed{string(e.Summary), terms})
	})
	if err != nil {
		return nil, err
	}
	return after, nil
}

// Open opens cases, all of them or none. The first deed of each is to open it.
func (b *Book) Open(ctx context.Context, by string, cases ...[]Deed) ([]*State, error) {
	var out []*State
	err := b.write(ctx, by, func(w *writing) error {
		out = nil
		year := w.at.Year()
		running, err := lastNumber(w.tx, year)
		if err != nil {
			return err
		}
		for _, deeds := range cases {
			running++
			s := &State{Number: Number(year, running), Fields: map[string]string{}}
			if err := w.do(s, deeds); err != nil {
				return err
			}
			if err := w.index(s, indexed{}); err != nil {
				return err
			}
			out = append(out, s)
		}
		return nil
	})
	return out, err
}

// lastNumber is the last running number of a year that was given out.
func lastNumber(v View, year int) (int, error) {
	last, err := v.Last(year)
	if err != nil {
		return 0, err
	}
	ofBook, err := v.Case("")
	if err != nil {
		return 0, err
	}
	for _, r := range ofBook {
		e, err := r.Event()
		if err != nil {
			return 0, err
		}
		last = max(last, e.Data.Numbers[fmt.Sprint(year)]-1)
	}
	return last, nil
}

// ErrNobody is why nothing is written that nobody answers for.
var ErrNobody = errors.New("nobody is named who does this")

// writing is a write at work.
type writing struct {
	*Book
	tx   Tx
	by   string
	at   time.Time
	head Head
}

// write is the one way in which anything is written.
func (b *Book) write(ctx context.Context, by string, do func(*writing) error) error {
	if by = strings.TrimSpace(by); by == "" {
		return ErrNobody
	}
	return b.Store.Write(ctx, func(tx Tx) error {
		head, err := tx.Head()
		if err != nil {
			return err
		}
		return do(&writing{Book: b, tx: tx, by: by, at: b.Now(), head: head})
	})
}

// do appends events to a case.
func (w *writing) do(s *State, deeds []Deed) error {
	var c Change
	for _, d := range deeds {
		if err := d.check(); err != nil {
			return err
		}
		e := &Event{Format: Format, Seq: w.head.Seq + 1, Previous: w.head.Hash, Case: s.Number, Version: s.Version + 1,
			Kind: d.Kind, By: w.by, Verified: w.Verified, At: w.at.UTC(), Data: d.Data}
		for i, h := range d.Hold {
			p := Particular{ID: fmt.Sprintf("%d/%d", e.Seq, i+1), Case: s.Number, Salt: make([]byte, 32),
				Content: h.Content}
			if _, err := io.ReadFull(w.Random, p.Salt); err != nil {
				return err
			}
			c.Particulars = append(c.Particulars, p)
			e.Data.Particulars = append(slices.Clip(e.Data.Particulars),
				Ref{ID: p.ID, What: h.What, Type: h.Type, Hash: p.Hash(), At: h.At})
		}
		r, err := e.Seal()
		if err != nil {
			return err
		}
		if e, err = r.Event(); err != nil { // as it will be read
			return err
		}
		if err := s.apply(e); err != nil {
			return err
		}
		c.Records, c.Blobs, c.Erase = append(c.Records, r), append(c.Blobs, d.Blobs...),
			append(c.Erase, e.Data.Erase...)
		w.head = Head{Seq: r.Seq, Hash: r.Hash}
		s.last = w.head
	}
	return w.tx.Put(c)
}

// onlyReadings tells whether deeds leave the index as it is: readings without notes, by somebody who did something to
// the case before.
func onlyReadings(s *State, by string, deeds []Deed) bool {
	return slices.Contains(s.By, by) && !slices.ContainsFunc(deeds, func(d Deed) bool {
		return len(d.Hold) > 0 || !slices.Contains([]Kind{Added, Corrected, Withdrawn}, d.Kind)
	})
}

// indexed is how a case stands in the index.
type indexed struct {
	summary string
	terms   []string
}

// standing is how a case is to stand in the index.
func standing(v View, s *State) (Entry, []string, error) {
	texts, err := textsOf(v, s)
	if err != nil {
		return Entry{}, nil, err
	}
	sum := s.Summary()
	e, err := s.entry(sum)
	return e, s.terms(sum, texts), err
}

// index brings the index from how a case stood in it, if it did, to what it is now.
func (w *writing) index(s *State, old indexed) error {
	now, terms, err := standing(w.tx, s)
	if err != nil {
		return err
	}
	ix := Indexing{Entry: now, Add: without(terms, old.terms), Drop: without(old.terms, terms)}
	if len(ix.Add)+len(ix.Drop) == 0 && old.summary == string(now.Summary) {
		return nil
	}
	return w.tx.Put(Change{Index: []Indexing{ix}})
}

// without lists what is in a and not in b; both are sorted.
func without(a, b []string) []string {
	return slices.DeleteFunc(slices.Clone(a), func(x string) bool {
		_, there := slices.BinarySearch(b, x)
		return there
	})
}

// textsOf gives what is held apart of a case, pictures left out, by id.
func textsOf(v View, s *State) (map[string]string, error) {
	out := map[string]string{}
	for _, h := range s.Held {
		if h.What == Picture {
			continue
		}
		p, err := v.Particular(h.ID)
		if err != nil {
			return nil, err
		}
		if p != nil {
			out[h.ID] = string(p.Content)
		}
	}
	return out, nil
}

// current is a case as it is now: as it was looked at, when its last event still is the last, and read anew else. The
// hash of that event stands for all events before it.
func current(v View, s *State) (*State, error) {
	if s.last.Seq > 0 {
		if last, err := v.CaseHead(s.Number); err != nil || last == s.last {
			return s, err
		}
	}
	return Load(v, s.Number)
}

// Load reads a case by its number.
func Load(v View, number string) (*State, error) {
	records, err := v.Case(number)
	if err != nil {
		return nil, err
	}
	if len(records) == 0 || number == "" {
		return nil, &NotFound{Name: number}
	}
	events := make([]*Event, len(records))
	for i := range records {
		if events[i], err = records[i].Event(); err != nil {
			return nil, err
		}
	}
	s, err := Fold(events)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	end := records[len(records)-1]
	s.last = Head{Seq: end.Seq, Hash: end.Hash}
	return s, nil
}

// Find reads a case by its number, as it is said or typed, or by what others call it.
func Find(v View, name string) (*State, error) {
	number, ok, err := ParseNumber(name)
	if ok {
		if err != nil {
			return nil, err
		}
		return Load(v, number)
	}
	var found []string
	for e, err := range v.Find(Terms{All: []string{"called:" + fold(name)}}) {
		if err != nil {
			return nil, err
		}
		if found = append(found, e.Number); len(found) == mostAlike {
			break
		}
	}
	switch len(found) {
	case 0:
		return nil, &NotFound{Name: name}
	case 1:
		return Load(v, found[0])
	}
	return nil, fmt.Errorf("several cases are called %s: %s; say which by its number", name, strings.Join(found, ", "))
}

// mostAlike is how many cases of one name are listed.
const mostAlike = 5

// Read looks at the book as it is at one moment.
func (b *Book) Read(ctx context.Context, do func(View) error) error { return b.Store.Read(ctx, do) }

// Texts gives what is held apart of a case, by id: customer's particulars, notes, and pictures too.
func Texts(v View, s *State) (map[string]string, error) {
	all, err := v.Particulars(s.Number)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, p := range all {
		out[p.ID] = string(p.Content)
	}
	return out, nil
}
