package casebook

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gowebpki/jcs"
)

// Format is the version of an event's shape. Events are never rewritten in another: a later program reads this one.
const Format = 1

// Kind is what an event says.
type Kind string

// The kinds of event.
const (
	Opened    Kind = "opened"
	Added     Kind = "reading added"
	Corrected Kind = "reading corrected"
	Withdrawn Kind = "reading withdrawn"
	Changed   Kind = "case corrected" // the stone, the claim, the stake
	Issued    Kind = "verdict issued"
	Truth     Kind = "truth recorded"
	Noted     Kind = "noted" // a note, or particulars of the customer
	Pictured  Kind = "pictured"
	Closed    Kind = "closed"
	Reopened  Kind = "reopened"
	Erased    Kind = "erased"
	Restored  Kind = "restored" // the book, from a backup: an event of no case
)

// Event is one thing that was done, in its place in the log. Its fields, and those of all that it holds, stand in the
// order of their names in canonical JSON.
type Event struct {
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	Case     string    `json:"case"` // the case's number; empty: the book itself
	Data     Data      `json:"data"`
	Format   int       `json:"format"`
	Kind     Kind      `json:"kind"`
	Previous string    `json:"previous"` // the hash of the event before; of the first, none
	Seq      int64     `json:"seq"`      // place in the log, from 1
	Verified bool      `json:"verified"` // whether the program knows that it was they
	Version  int       `json:"version"`  // place among the events of the case, from 1
}

// Data is what an event of one kind or another holds beside that.
type Data struct {
	Because string `json:"because,omitempty"` // the reason
	// opened: the number or name that others know the case by
	Called string   `json:"called,omitempty"`
	Erase  []string `json:"erase,omitempty"` // erased: the particulars that are gone
	// opened, changed: what a field of the case was typed as; empty takes it away
	Fields map[string]string `json:"fields,omitempty"`
	// restored: of a year, the number from which on cases are counted
	Numbers     map[string]int `json:"numbers,omitempty"`
	Observable  string         `json:"observable,omitempty"`  // added, corrected
	Particulars []Ref          `json:"particulars,omitempty"` // what is held apart
	// corrected, withdrawn: the version in which it was added
	Reading int `json:"reading,omitempty"`
	// added, corrected: the reading as it was typed, notes cut out
	Text    string   `json:"text,omitempty"`
	Truth   *Finding `json:"truth,omitempty"`   // truth recorded
	Verdict *Verdict `json:"verdict,omitempty"` // issued
}

// Verdict is what was told of a case when it was issued. Texts and files are held by their hashes.
type Verdict struct {
	Chain   string   `json:"chain"`           // the verdict and its chain of reasoning, as JSON
	Claim   string   `json:"claim,omitempty"` // the answer to it
	Files   string   `json:"files"`           // the list of the ruleset's files
	Method  int      `json:"method"`
	Named   string   `json:"named,omitempty"`
	Nodes   []string `json:"nodes,omitempty"`
	Path    []string `json:"path,omitempty"` // to the material named, from the root of the tree
	Program string   `json:"program"`
	Ruleset string   `json:"ruleset"` // the digest
	Told    string   `json:"told"`    // the text that was printed
	Verdict string   `json:"verdict"`
	Why     string   `json:"why"` // the reasoning, as text
}

// Finding is what the stone turned out to be, and who says so.
type Finding struct {
	Dated      string `json:"dated,omitempty"`
	Laboratory string `json:"laboratory,omitempty"`
	Material   string `json:"material"`
	Report     string `json:"report,omitempty"`
}

// Ref stands for something that is held apart, and can be erased.
type Ref struct {
	At   int    `json:"at,omitempty"` // of a reading's note: where in the text it stood
	Hash string `json:"hash"`         // SHA-256 of salt and content
	ID   string `json:"id"`
	Type string `json:"type,omitempty"` // the media type of a picture
	What What   `json:"what"`
}

// What is the kind of thing that can be erased.
type What string

// The kinds of particulars.
const (
	Customer    What = "customer"
	Note        What = "note"
	ReadingNote What = "note of a reading"
	Picture     What = "picture"
	Caption     What = "what a picture shows"
)

// Particular is what is held apart.
type Particular struct {
	ID      string
	Case    string
	Salt    []byte
	Content []byte
}

// Hash is what an event holds of it.
func (p *Particular) Hash() string {
	h := sha256.New()
	h.Write(p.Salt)
	h.Write(p.Content)
	return hex.EncodeToString(h.Sum(nil))
}

// Hash names bytes.
func Hash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Record is an event as it is kept: its canonical JSON, and what of it is looked for.
type Record struct {
	Seq     int64
	Case    string
	Version int
	Kind    Kind
	Text    []byte
	Hash    string
}

// Seal makes the record of an event.
func (e *Event) Seal() (Record, error) {
	for _, s := range []string{e.By, e.Data.Called, e.Data.Because, e.Data.Text} {
		if !utf8.ValidString(s) {
			return Record{}, fmt.Errorf("%q is not valid UTF-8", s)
		}
	}
	text, err := e.canonical()
	if err != nil {
		return Record{}, err
	}
	return Record{Seq: e.Seq, Case: e.Case, Version: e.Version, Kind: e.Kind, Text: text, Hash: Hash(text)}, nil
}

// canonical is the event as canonical JSON (RFC 8785). Its fields stand in order, so that as a rule it is what the
// encoder writes. What that escapes otherwise, or sorts otherwise in a map, is transformed.
func (e *Event) canonical() ([]byte, error) {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(e); err != nil {
		return nil, err
	}
	text := bytes.TrimSuffix(out.Bytes(), []byte("\n"))
	if bytes.Contains(text, []byte(`\u`)) || bytes.ContainsFunc(text, beyond16) {
		return jcs.Transform(text)
	}
	return text, nil
}

// beyond16 tells whether a character is two units of UTF-16, by which canonical JSON sorts.
func beyond16(r rune) bool { return r > 0xffff }

// Event reads a record. One whose text does not have its hash is refused: the disk or somebody changed it.
func (r *Record) Event() (*Event, error) {
	if Hash(r.Text) != r.Hash {
		return nil, fmt.Errorf("event %d: %w: what it says does not have the hash that was kept with it", r.Seq,
			ErrDamaged)
	}
	e, ok := plainEvent(string(r.Text))
	if !ok {
		e = &Event{}
		if err := json.Unmarshal(r.Text, e); err != nil {
			return nil, fmt.Errorf("event %d: %w: %w", r.Seq, ErrDamaged, err)
		}
	}
	switch {
	case e.Format != Format:
		return nil, fmt.Errorf("event %d is written in format %d; this program reads format %d", r.Seq, e.Format,
			Format)
	case e.Seq != r.Seq || e.Case != r.Case || e.Version != r.Version || e.Kind != r.Kind:
		return nil, fmt.Errorf("event %d: %w: it is kept in a place that is not its own", r.Seq, ErrDamaged)
	}
	return e, nil
}

// Head is the end of the log: how many events there are, and the hash of the last.
type Head struct {
	Seq  int64
	Hash string
}

// shown is how much of a hash stands on a report: 64 bits, which nobody hits by trying.
const shown = 16

// String is the head as it stands on a report.
func (h Head) String() string {
	if h.Seq == 0 {
		return "empty"
	}
	return fmt.Sprintf("%d-%s", h.Seq, h.Hash[:shown])
}

// ParseHead reads a head from a report. Its hash may be shortened.
func ParseHead(text string) (Head, error) {
	var h Head
	place, hash, ok := strings.Cut(strings.ToLower(strings.TrimSpace(text)), "-")
	_, err := fmt.Sscanf(place, "%d", &h.Seq)
	padded := hash + strings.Repeat("0", len(hash)%2)
	if _, bad := hex.DecodeString(padded); !ok || err != nil || bad != nil || fmt.Sprint(h.Seq) != place || h.Seq < 1 ||
		len(hash) < shown || len(hash) > 2*sha256.Size {
		return Head{}, errors.New("a head is the number of the last event and its hash, as in 1042-3f9a1c0b77de5a21")
	}
	h.Hash = hash
	return h, nil
}
