package casebook

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"whystone/kb/english"
)

// State is what a case has come to: all its events, one after another.
type State struct {
	Number   string
	Called   string
	Opened   int64 // place in the log
	At       time.Time
	Version  int
	Closed   bool
	Fields   map[string]string
	Readings []*Reading // in the order in which they were added, withdrawn ones too
	Verdicts []Told
	Truth    *Finding
	Held     []Held // what is held apart, and not erased
	By       []string
	Events   []*Event

	last Head // its last event in the log, where it was read from there
}

// Reading is one reading as it stands.
type Reading struct {
	ID         int // the version of the case in which it was added
	Observable string
	Text       string // as typed, notes cut out
	Notes      []Ref
	Withdrawn  string // the reason, when it was
	Event      *Event // that gave the text
}

// Told is a verdict that was issued.
type Told struct {
	*Verdict
	Event *Event
}

// Held is something held apart.
type Held struct {
	Ref
	Event *Event
}

// Fold makes the state of a case of its events.
func Fold(events []*Event) (*State, error) {
	s := &State{Fields: map[string]string{}}
	for _, e := range events {
		if err := s.apply(e); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// fieldKeys are the fields of a case that are not its readings, in the order of the case form.
var fieldKeys = []string{"claim", "taken", "desk", "by", "stone", "stake", "correlations", "recorded"}

// Fields lists the fields of a case that can be corrected.
func Fields() []string {
	return slices.DeleteFunc(slices.Clone(fieldKeys), func(k string) bool { return k == "stone" })
}

// KnownField tells whether a case has a field of a name; those of the stone begin with "stone.".
func KnownField(key string) bool {
	top, inside, nested := strings.Cut(key, ".")
	return slices.Contains(fieldKeys, top) && nested == (top == "stone") && (!nested || inside != "")
}

// apply does what an event says. An event that can't follow what came before is refused, and s must not be used then.
func (s *State) apply(e *Event) error {
	if e.Version != s.Version+1 || (e.Kind == Opened) != (s.Version == 0) || s.Version > 0 && e.Case != s.Number {
		return fmt.Errorf("event %d (%s) does not follow version %d of the case", e.Seq, e.Kind, s.Version)
	}
	if s.Closed && e.Kind != Reopened && e.Kind != Erased && e.Kind != Truth {
		return fmt.Errorf("%s is closed; reopen it first", s.Number)
	}
	d := &e.Data
	for _, p := range d.Particulars {
		s.Held = append(s.Held, Held{p, e})
	}
	var err error
	switch e.Kind {
	case Opened:
		s.Number, s.Called, s.Opened, s.At = e.Case, d.Called, e.Seq, e.At
		err = s.fields(d.Fields)
	case Changed:
		err = s.fields(d.Fields)
	case Added:
		s.Readings = append(s.Readings, &Reading{ID: e.Version, Observable: d.Observable, Text: d.Text,
			Notes: d.Particulars, Event: e})
	case Corrected, Withdrawn:
		err = s.reading(e)
	case Issued:
		if d.Verdict == nil {
			return errors.New("a verdict is issued, and none is given")
		}
		s.Verdicts = append(s.Verdicts, Told{d.Verdict, e})
	case Truth:
		if d.Truth == nil || d.Truth.Material == "" {
			return errors.New("the truth is recorded, and no material is given")
		}
		s.Truth = d.Truth
	case Closed, Reopened:
		if s.Closed == (e.Kind == Closed) {
			return fmt.Errorf("%s is %s already", s.Number, map[bool]string{true: "closed", false: "open"}[s.Closed])
		}
		s.Closed = e.Kind == Closed
	case Erased:
		err = s.erase(d.Erase)
	case Noted, Pictured:
		if len(d.Particulars) == 0 {
			return errors.New("a note or picture is recorded, and none is given")
		}
	default:
		err = fmt.Errorf("event %d: a case has no event %q", e.Seq, e.Kind)
	}
	if err != nil {
		return err
	}
	s.Version = e.Version
	s.Events = append(s.Events, e)
	if !slices.Contains(s.By, e.By) {
		s.By = append(s.By, e.By)
	}
	return nil
}

func (s *State) fields(fields map[string]string) error {
	for _, key := range slices.Sorted(maps.Keys(fields)) {
		if !KnownField(key) {
			return fmt.Errorf("a case has no field %q", key)
		}
		if s.Fields[key] = fields[key]; fields[key] == "" {
			delete(s.Fields, key)
		}
	}
	return nil
}

func (s *State) reading(e *Event) error {
	r := s.Reading(e.Data.Reading)
	switch {
	case r == nil:
		return fmt.Errorf("%s has no reading %d", s.Number, e.Data.Reading)
	case r.Withdrawn != "":
		return fmt.Errorf("reading %d of %s was withdrawn: %s", r.ID, s.Number, r.Withdrawn)
	case e.Data.Because == "":
		return fmt.Errorf("reading %d of %s is corrected or withdrawn, and no reason is given", r.ID, s.Number)
	case e.Kind == Withdrawn:
		r.Withdrawn = e.Data.Because
		return nil
	}
	r.Text, r.Notes, r.Event = e.Data.Text, e.Data.Particulars, e
	return nil
}

func (s *State) erase(ids []string) error {
	for _, id := range ids {
		i := slices.IndexFunc(s.Held, func(h Held) bool { return h.ID == id })
		if i < 0 {
			return fmt.Errorf("%s has nothing to erase under %s", s.Number, id)
		}
		s.Held = slices.Delete(s.Held, i, i+1)
	}
	return nil
}

// HeldOf lists the ids of what is held of the customer, of notes (those of readings too), and of pictures with what
// they show.
func (s *State) HeldOf(customer, notes, pictures bool) []string {
	wanted := map[What]bool{Customer: customer, Note: notes, ReadingNote: notes, Picture: pictures, Caption: pictures}
	held := slices.DeleteFunc(slices.Clone(s.Held), func(h Held) bool { return !wanted[h.What] })
	return english.Each(held, func(h Held) string { return h.ID })
}

// Reading finds a reading by its number, or nil.
func (s *State) Reading(id int) *Reading {
	if i := slices.IndexFunc(s.Readings, func(r *Reading) bool { return r.ID == id }); i >= 0 {
		return s.Readings[i]
	}
	return nil
}

// Live lists the readings that were not withdrawn.
func (s *State) Live() []*Reading {
	return slices.DeleteFunc(slices.Clone(s.Readings), func(r *Reading) bool { return r.Withdrawn != "" })
}

// Since lists the events after a version.
func (s *State) Since(version int) []*Event { return s.Events[min(max(version, 0), len(s.Events)):] }

// AtVersion is the state at an earlier version.
func (s *State) AtVersion(version int) (*State, error) {
	if version < 1 || version > s.Version {
		return nil, fmt.Errorf("%s has the versions 1 to %d, and no %d", s.Number, s.Version, version)
	}
	return Fold(s.Events[:version])
}

// Last is the verdict that was issued last, or nil.
func (s *State) Last() *Told {
	if len(s.Verdicts) == 0 {
		return nil
	}
	return &s.Verdicts[len(s.Verdicts)-1]
}
