package casebook

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// An export of everything is JSON lines: first a line that says what it is, then every blob by its hash, then the
// events in their order, each followed by what is held apart with it.
type line struct {
	Format      int             `json:"format,omitempty"`
	Casebook    string          `json:"casebook,omitempty"` // of the first line: the head, in full
	Particulars *bool           `json:"particulars,omitempty"`
	Blob        []byte          `json:"blob,omitempty"`
	Event       json.RawMessage `json:"event,omitempty"`
	Held        *heldLine       `json:"held,omitempty"`
}

type heldLine struct {
	ID      string `json:"id"`
	Salt    []byte `json:"salt"`
	Content []byte `json:"content"`
}

// ExportEvents writes everything: all events, the texts and files they name, and, if it is asked for, what is held
// apart.
func ExportEvents(v View, out io.Writer, particulars bool) error {
	head, err := v.Head()
	if err != nil {
		return err
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(line{Format: Format, Casebook: fmt.Sprintf("%d-%s", head.Seq, head.Hash),
		Particulars: &particulars}); err != nil {
		return err
	}
	blobs, err := v.Blobs()
	if err != nil {
		return err
	}
	for _, hash := range blobs {
		b, err := Need(v, hash)
		if err != nil {
			return err
		}
		if err := enc.Encode(line{Blob: b}); err != nil {
			return err
		}
	}
	for r, err := range v.Events(0) {
		if err != nil {
			return err
		}
		e, err := r.Event()
		if err != nil {
			return err
		}
		if err := enc.Encode(line{Event: r.Text}); err != nil {
			return err
		}
		for _, ref := range e.Data.Particulars {
			p, err := v.Particular(ref.ID)
			if err != nil {
				return err
			}
			if p == nil || !particulars {
				continue
			}
			if err := enc.Encode(line{Held: &heldLine{p.ID, p.Salt, p.Content}}); err != nil {
				return err
			}
		}
	}
	return nil
}

// together is how many lines of an import are put at once.
const together = 1000

// ImportEvents puts an export of everything into an empty book, all of it or nothing. What the export left out of what
// is held apart is recorded as erased, by whoever imports.
func (b *Book) ImportEvents(ctx context.Context, by string, from io.Reader) (left int, err error) {
	err = b.write(ctx, by, func(w *writing) error {
		left = 0
		if w.head.Seq != 0 {
			return errors.New("an export of everything can only be read into an empty casebook, and this one has events")
		}
		im := &importing{writing: w, lines: bufio.NewReaderSize(from, 1<<20), open: map[string]bool{}}
		if err := im.all(); err != nil {
			return fmt.Errorf("line %d: %w", im.number, err)
		}
		if err := reindex(w.tx); err != nil {
			return err
		}
		for _, number := range im.cases {
			n, err := w.dropMissing(number)
			if err != nil {
				return err
			}
			left += n
		}
		if im.whole && left > 0 {
			return fmt.Errorf("the export says that what is held apart goes with it, and %d of it is missing", left)
		}
		return nil
	})
	return left, err
}

var errNoExport = errors.New("this is no export of a casebook with all its events")

// importing is an import at work.
type importing struct {
	*writing
	lines  *bufio.Reader
	number int
	begun  bool
	want   Head
	whole  bool // whether what is held apart goes with it
	change Change
	open   map[string]bool
	cases  []string
	refs   map[string]Ref
	of     string // the case of the event that was read last
}

func (im *importing) all() error {
	for {
		text, err := im.lines.ReadBytes('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		end := err != nil
		if im.number++; len(text) > 0 {
			if err := im.line(text); err != nil {
				return err
			}
		}
		if end || im.number%together == 0 {
			if err := im.tx.Put(im.change); err != nil {
				return err
			}
			im.change = Change{}
		}
		if end {
			break
		}
	}
	if !im.begun {
		return errNoExport
	}
	if im.head.Seq != im.want.Seq || im.head.Hash != im.want.Hash {
		return fmt.Errorf("the export ends at %s, and it says that it ends at %s: some of it is missing or changed",
			im.head, im.want)
	}
	return nil
}

func (im *importing) line(text []byte) error {
	var l line
	if err := json.Unmarshal(text, &l); err != nil {
		return fmt.Errorf("this is no line of an export: %w", err)
	}
	if !im.begun {
		return im.first(&l)
	}
	switch {
	case l.Event != nil:
		return im.event(l.Event)
	case l.Held != nil:
		p := Particular{ID: l.Held.ID, Case: im.of, Salt: l.Held.Salt, Content: l.Held.Content}
		if ref, ok := im.refs[p.ID]; !ok || ref.Hash != p.Hash() {
			return fmt.Errorf("what is held apart as %s does not have the hash that its event holds", p.ID)
		}
		delete(im.refs, p.ID)
		im.change.Particulars = append(im.change.Particulars, p)
	default:
		im.change.Blobs = append(im.change.Blobs, l.Blob)
	}
	return nil
}

func (im *importing) first(l *line) error {
	if l.Format != Format || l.Casebook == "" || l.Particulars == nil {
		return errNoExport
	}
	im.begun, im.whole = true, *l.Particulars
	if l.Casebook == "0-" {
		return nil
	}
	var err error
	im.want, err = ParseHead(l.Casebook)
	return err
}

func (im *importing) event(text []byte) error {
	e := &Event{}
	if err := json.Unmarshal(text, e); err != nil {
		return err
	}
	r := Record{Seq: e.Seq, Case: e.Case, Version: e.Version, Kind: e.Kind,
		Text: []byte(strings.TrimSpace(string(text)))}
	r.Hash = Hash(r.Text)
	if _, err := r.Event(); err != nil {
		return err
	}
	if e.Seq != im.head.Seq+1 || e.Previous != im.head.Hash {
		return fmt.Errorf("event %d does not follow the one before it", e.Seq)
	}
	im.head, im.of, im.refs = Head{Seq: r.Seq, Hash: r.Hash}, e.Case, map[string]Ref{}
	for _, ref := range e.Data.Particulars {
		im.refs[ref.ID] = ref
	}
	if e.Case != "" && !im.open[e.Case] {
		im.open[e.Case] = true
		im.cases = append(im.cases, e.Case)
	}
	im.change.Records = append(im.change.Records, r)
	return nil
}

// dropMissing records as erased what the export left out of a case.
func (w *writing) dropMissing(number string) (int, error) {
	s, err := Load(w.tx, number)
	if err != nil {
		return 0, err
	}
	var gone []string
	for _, h := range s.Held {
		p, err := w.tx.Particular(h.ID)
		if err != nil {
			return 0, err
		}
		if p == nil {
			gone = append(gone, h.ID)
		}
	}
	if len(gone) == 0 {
		return 0, nil
	}
	e, terms, err := standing(w.tx, s)
	if err != nil {
		return 0, err
	}
	if err := w.do(s, []Deed{Forget(gone, "left out of the export that was imported")}); err != nil {
		return 0, err
	}
	return len(gone), w.index(s, indexed{string(e.Summary), terms})
}

// Restore notes that the book was restored from a backup. Cases that were opened after the backup had numbers that the
// book no longer knows; so counting goes on far enough above the last it knows.
func (b *Book) Restore(ctx context.Context, by string, skip int) error {
	return b.write(ctx, by, func(w *writing) error {
		year := w.at.Year()
		last, err := lastNumber(w.tx, year)
		if err != nil {
			return err
		}
		ofBook, err := w.tx.Case("")
		if err != nil {
			return err
		}
		e := &Event{Format: Format, Seq: w.head.Seq + 1, Previous: w.head.Hash, Version: len(ofBook) + 1,
			Kind: Restored, By: w.by, At: w.at.UTC(),
			Data: Data{Numbers: map[string]int{fmt.Sprint(year): last + skip + 1}}}
		r, err := e.Seal()
		if err != nil {
			return err
		}
		return w.tx.Put(Change{Records: []Record{r}})
	})
}
