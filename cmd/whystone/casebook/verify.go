package casebook

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"

	"github.com/gowebpki/jcs"
)

// Wrong is something that is not as it was written.
type Wrong struct {
	Seq     int64  `json:"event,omitempty"` // place in the log; 0: it is about no one event
	Case    string `json:"case,omitempty"`
	Version int    `json:"version,omitempty"`
	Says    string `json:"says"`
}

// Verification is what was found of a book.
type Verification struct {
	Head   string  `json:"head"`
	Events int64   `json:"events"`
	Cases  int     `json:"cases"`
	Erased int     `json:"erased"` // particulars that were erased
	Wrong  []Wrong `json:"wrong"`  // the first bad event first
	// Index says that the index does not agree with the events; it can be made anew of them.
	Index bool `json:"index_differs"`
}

// Whole tells whether nothing is wrong with the log itself.
func (v *Verification) Whole() bool { return len(v.Wrong) == 0 }

// mostWrong is how much is listed.
const mostWrong = 20

// verifying is a verification at work.
type verifying struct {
	view View
	Verification
	versions map[string]int
	cases    []string // in the order of their opening
	held     map[string]bool
	checked  map[string]bool // blobs
	sum      indexSum
}

// Verify goes through the whole log: each event's place and hash, the chain of hashes, what is held apart, the texts
// and files that events name, and whether each event can follow those before it. Heads are those of reports.
func (b *Book) Verify(ctx context.Context, heads ...Head) (*Verification, error) {
	var out *Verification
	err := b.Read(ctx, func(v View) error {
		w := &verifying{view: v, versions: map[string]int{}, held: map[string]bool{}, checked: map[string]bool{}}
		if err := w.chain(heads); err != nil {
			return err
		}
		if err := w.folds(); err != nil {
			return err
		}
		if err := w.leftOver(); err != nil {
			return err
		}
		slices.SortStableFunc(w.Wrong, func(a, b Wrong) int {
			return cmp.Compare(uint64(a.Seq-1), uint64(b.Seq-1)) // what is about no one event comes last
		})
		out = &w.Verification
		return nil
	})
	return out, err
}

func (w *verifying) wrong(r *Record, format string, args ...any) {
	if len(w.Wrong) < mostWrong {
		w.Wrong = append(w.Wrong, Wrong{Seq: r.Seq, Case: r.Case, Version: r.Version,
			Says: fmt.Sprintf(format, args...)})
	}
}

// chain checks the events one after another.
func (w *verifying) chain(heads []Head) error {
	var last Head
	erased := map[string]bool{}
	for r, err := range w.view.Events(0) {
		if err != nil {
			return err
		}
		w.Events++
		for _, h := range heads {
			if h.Seq == r.Seq && !strings.HasPrefix(r.Hash, h.Hash) {
				w.wrong(&r, "a report says that its hash begins with %s, and it begins with %s: the log was written "+
					"anew since then", h.Hash[:shown], r.Hash[:min(shown, len(r.Hash))])
			}
		}
		w.event(&r, last, erased)
		last = Head{Seq: r.Seq, Hash: r.Hash}
	}
	for _, h := range heads {
		if h.Seq > last.Seq {
			w.wrong(&Record{}, "a report says that there are %d events or more, and there are %d: the end of the log "+
				"was cut off", h.Seq, last.Seq)
		}
	}
	w.Head, w.Erased = last.String(), len(erased)
	return nil
}

// event checks one event.
func (w *verifying) event(r *Record, last Head, erased map[string]bool) {
	e, err := r.Event()
	if err != nil {
		w.wrong(r, "%s", strings.TrimPrefix(err.Error(), fmt.Sprintf("event %d: %s: ", r.Seq, ErrDamaged)))
		return
	}
	if canonical, err := jcs.Transform(r.Text); err != nil || !bytes.Equal(canonical, r.Text) {
		w.wrong(r, "its text is not in canonical form")
	}
	switch {
	case e.Seq != last.Seq+1:
		w.wrong(r, "event %d is missing before it", last.Seq+1)
	case e.Previous != last.Hash:
		w.wrong(r, "it does not hold the hash of the event before it: one of the two was changed")
	}
	if w.versions[e.Case]++; w.versions[e.Case] == 1 && e.Case != "" {
		w.cases = append(w.cases, e.Case)
	}
	if e.Version != w.versions[e.Case] {
		w.wrong(r, "it is version %d of its case and stands in the place of version %d", e.Version, w.versions[e.Case])
	}
	for _, ref := range e.Data.Particulars {
		w.held[ref.ID] = true
	}
	for _, id := range e.Data.Erase {
		erased[id] = true
		delete(w.held, id)
	}
	if v := e.Data.Verdict; v != nil {
		for _, hash := range []string{v.Told, v.Why, v.Chain, v.Files} {
			w.blob(r, hash)
		}
		if files, err := Files(w.view, v); err != nil {
			w.wrong(r, "a file of the ruleset that it names is gone or changed")
		} else {
			for _, f := range files {
				w.checked[Hash(f.Source.Text)] = true
			}
		}
	}
}

// blob checks bytes that an event names.
func (w *verifying) blob(r *Record, hash string) {
	if w.checked[hash] {
		return
	}
	if _, err := Need(w.view, hash); err != nil {
		w.wrong(r, "what it names by the hash %s is gone or changed", hash[:min(shown, len(hash))])
	}
	w.checked[hash] = true
}

// folds makes each case's state anew, and checks what is held apart of it.
func (w *verifying) folds() error {
	broken := len(w.Wrong) > 0
	for _, number := range w.cases {
		records, err := w.view.Case(number)
		if err != nil {
			return err
		}
		s := &State{Fields: map[string]string{}}
		for i := range records {
			e, err := records[i].Event()
			if err != nil {
				s = nil
				break // said already
			}
			if err := s.apply(e); err != nil {
				w.wrong(&records[i], "%s", err)
				s = nil
				break
			}
		}
		if s == nil {
			continue
		}
		w.Cases++
		for _, h := range s.Held {
			p, err := w.view.Particular(h.ID)
			if err != nil {
				return err
			}
			at := &Record{Seq: h.Event.Seq, Case: number, Version: h.Event.Version}
			switch {
			case p == nil && !broken: // else the event that says that it was erased may be what is gone
				w.wrong(at, "the %s that it speaks of is gone, and no event says that it was erased", h.What)
			case p != nil && (p.Hash() != h.Hash || p.Case != number):
				w.wrong(at, "the %s that it speaks of was changed", h.What)
			}
		}
		e, terms, err := standing(w.view, s)
		if err != nil {
			return err
		}
		w.sum.ofCase(e, terms)
	}
	return nil
}

// leftOver finds what no event speaks of, and an index that does not agree.
func (w *verifying) leftOver() error {
	ids, err := w.view.ParticularIDs()
	if err != nil {
		return err
	}
	for _, id := range ids {
		if !w.held[id] {
			w.wrong(&Record{}, "something is held apart as %s, and no event speaks of it, or one says that it was "+
				"erased", id)
		}
	}
	blobs, err := w.view.Blobs()
	if err != nil {
		return err
	}
	for _, hash := range blobs {
		if !w.checked[hash] && len(w.Wrong) == 0 {
			w.wrong(&Record{}, "bytes are kept under the hash %s, and no event names them",
				hash[:min(shown, len(hash))])
		}
	}
	var sum indexSum
	for x, err := range w.view.Index() {
		if err != nil {
			return err
		}
		sum.add(x)
	}
	w.Index = sum != w.sum
	return nil
}

// indexSum is a sum over an index in which order does not count.
type indexSum struct{ n, sum uint64 }

func (s *indexSum) add(x Indexed) {
	h := sha256.Sum256(fmt.Appendf(nil, "%q %d %q %d %d %q %q", x.Term, x.Opened, x.Number, x.Year, x.Running, x.Day,
		x.Summary))
	s.n++
	s.sum += binary.LittleEndian.Uint64(h[:])
}

func (s *indexSum) ofCase(e Entry, terms []string) {
	s.add(Indexed{Entry: e})
	for _, t := range terms {
		s.add(Indexed{Term: t, Entry: Entry{Opened: e.Opened}})
	}
}

// Rebuild makes the index anew of the events.
func (b *Book) Rebuild(ctx context.Context) error {
	return b.Store.Write(ctx, reindex)
}

func reindex(tx Tx) error {
	var cases []string
	for r, err := range tx.Events(0) {
		if err != nil {
			return err
		}
		if r.Kind == Opened {
			cases = append(cases, r.Case)
		}
	}
	if err := tx.Put(Change{Reindex: true}); err != nil {
		return err
	}
	for _, number := range cases {
		s, err := Load(tx, number)
		if err != nil {
			return err
		}
		e, terms, err := standing(tx, s)
		if err != nil {
			return err
		}
		if err := tx.Put(Change{Index: []Indexing{{Entry: e, Add: terms}}}); err != nil {
			return err
		}
	}
	return nil
}
