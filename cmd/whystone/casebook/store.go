package casebook

import (
	"context"
	"errors"
	"iter"
)

// What goes wrong with a store. Errors wrap one of these.
var (
	ErrBusy = errors.New("another program is writing to the casebook, and did not end in time: nothing was " +
		"written, try again")
	ErrFull      = errors.New("the disk is full: nothing was written")
	ErrUnwritten = errors.New("the disk can't be read or written: most likely nothing was written; look before you " +
		"try again")
	ErrReadOnly = errors.New("the casebook can't be opened for writing")
	ErrDamaged  = errors.New("the casebook is damaged")
	// ErrTraces is the one that comes after a write that was made.
	ErrTraces = errors.New("it is erased; but another program has the casebook open, and until it ends traces stay " +
		"in the file's write-ahead log")
)

// Store keeps a casebook's records. It is safe for use by many goroutines, and where it is kept in a file by many
// processes.
type Store interface {
	// Write makes one write. Nothing else is written while do runs, and it sees all that was written before. What it
	// puts is kept whole and durably when Write returns nil, and not at all when it returns an error.
	Write(ctx context.Context, do func(Tx) error) error
	// Read looks at the store as it is at one moment, whatever is written meanwhile.
	Read(ctx context.Context, do func(View) error) error
	Close() error
}

// View is a look at a store. It is good until the function ends that it was given to.
type View interface {
	// Head is the end of the log, {0, ""} when there are no events.
	Head() (Head, error)
	// Events gives the log from a place on, in its order.
	Events(from int64) iter.Seq2[Record, error]
	// Case gives the records of one case, in their order; none when there is no such case.
	Case(number string) ([]Record, error)
	// CaseHead is the last record of one case, {0, ""} when there is no such case.
	CaseHead(number string) (Head, error)
	// Particular gives what is held apart under an id, nil when it is erased or never was.
	Particular(id string) (*Particular, error)
	// Particulars gives all that is held apart of one case, sorted by id.
	Particulars(number string) ([]Particular, error)
	// ParticularIDs lists all that is held apart, sorted.
	ParticularIDs() ([]string, error)
	// Blob gives the bytes of a hash, nil when there are none.
	Blob(hash string) ([]byte, error)
	// Blobs lists the hashes of all blobs, sorted.
	Blobs() ([]string, error)
	// Find gives the cases that are indexed under all of the terms and were opened within the days, the newest first:
	// the one further on in the log, whatever the clock said.
	Find(q Terms) iter.Seq2[Entry, error]
	// Last is the running number that was given last in a year, 0 when there is none.
	Last(year int) (int, error)
	// Index gives every term with every case that is indexed under it, in any order; the entry of each case comes
	// before, with an empty term.
	Index() iter.Seq2[Indexed, error]
}

// Tx is a write at work: it sees its own puts.
type Tx interface {
	View
	Put(Change) error
}

// Change is what one write adds and takes away.
type Change struct {
	Records     []Record
	Particulars []Particular
	Erase       []string // ids of particulars, of which not a byte may be left in the store
	Blobs       [][]byte // kept once each, by hash
	Index       []Indexing
	Reindex     bool // the index is emptied first
}

// Entry is a case in the index. The index is derived from events, and can be made anew.
type Entry struct {
	Opened  int64  // place in the log of its opening; later cases have larger ones
	Number  string // of the case
	Year    int    // of the number
	Running int    // likewise
	Day     string // of its opening, as in 2031-04-12
	Summary []byte // what a list shows of it, as JSON
}

// Indexed is a case under a term.
type Indexed struct {
	Term string
	Entry
}

// Indexing puts a case under terms, which hold no line break, and takes it from under others. A case that is not in the
// index yet was opened after all that are; of one that is, the summary is put in place of the one before, and the rest
// of its entry is as it was.
type Indexing struct {
	Entry
	Add, Drop []string
}

// Terms is what is looked for: cases under all of the terms that were opened within the days, both included.
type Terms struct {
	All      []string
	From, To string // empty: no bound
}
