package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"iter"

	"github.com/klauspost/compress/zstd"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/database"
)

// statements are those that are prepared once.
type statements struct {
	head, caseHead, events, ofCase, particular, particulars, particularIDs, blob, hasBlob, blobs *sql.Stmt

	addEvent, addParticular, erase, addBlob *sql.Stmt

	// of the index
	last, settled, ofDays, between, bounds, these, entries, lists, unsettled, termsOf, list *sql.Stmt
	addEntry, changeEntry, putList, dropList, putStretch, emptyTerms                        *sql.Stmt
	dropLists, dropStretches, dropEntries                                                   *sql.Stmt
}

func prepare(ctx context.Context, db interface {
	PrepareContext(context.Context, string) (*sql.Stmt, error)
}) (*statements, error) {
	s := &statements{}
	for _, p := range []struct {
		to   **sql.Stmt
		text string
	}{
		{&s.head, "SELECT seq, hash FROM events ORDER BY seq DESC LIMIT 1"},
		{&s.caseHead, "SELECT seq, hash FROM events WHERE number = ? ORDER BY version DESC LIMIT 1"},
		{&s.events, "SELECT seq, number, version, kind, text, hash FROM events WHERE seq >= ? ORDER BY seq"},
		{&s.ofCase, "SELECT seq, number, version, kind, text, hash FROM events WHERE number = ? ORDER BY version"},
		{&s.particular, "SELECT id, number, salt, content FROM particulars WHERE id = ?"},
		{&s.particulars, "SELECT id, number, salt, content FROM particulars WHERE number = ? ORDER BY id"},
		{&s.particularIDs, "SELECT id FROM particulars ORDER BY id"},
		{&s.blob, "SELECT packed FROM blobs WHERE hash = ?"},
		{&s.hasBlob, "SELECT EXISTS (SELECT 1 FROM blobs WHERE hash = ?)"},
		{&s.blobs, "SELECT hash FROM blobs ORDER BY hash"},
		{&s.addEvent, "INSERT INTO events (seq, number, version, kind, text, hash) VALUES (?, ?, ?, ?, ?, ?)"},
		{&s.addParticular, "INSERT INTO particulars (id, number, salt, content) VALUES (?, ?, ?, ?)"},
		{&s.erase, "DELETE FROM particulars WHERE id = ?"},
		{&s.addBlob, "INSERT INTO blobs (hash, packed) VALUES (?, ?)"},
		{&s.last, "SELECT coalesce((SELECT running FROM entries WHERE year = ? ORDER BY opened DESC LIMIT 1), 0)"},
		{&s.settled, "SELECT coalesce((SELECT settled FROM stretches ORDER BY stretch DESC LIMIT 1), 0)"},
		{&s.ofDays, "SELECT stretch FROM stretches WHERE last >= ? AND first <= ? ORDER BY stretch DESC"},
		{&s.between, "SELECT " + columns + " FROM entries WHERE opened BETWEEN ? AND ?" + newestOfDays},
		{&s.bounds, `SELECT coalesce(min(opened), 0), coalesce(max(opened), 0) FROM entries
			WHERE opened BETWEEN ? AND ? AND day BETWEEN ? AND ?`},
		{&s.these, "SELECT " + columns + " FROM entries WHERE opened IN (SELECT value FROM json_each(?))" +
			newestOfDays},
		{&s.entries, "SELECT " + columns + ", terms FROM entries ORDER BY opened"},
		{&s.lists, `SELECT l.term, l.stretch, l.cases, s.first, s.last
			FROM lists l JOIN stretches s ON s.stretch = l.stretch`},
		{&s.unsettled, "SELECT opened, day, terms FROM entries WHERE opened > ? ORDER BY opened"},
		{&s.termsOf, "SELECT terms FROM entries WHERE opened = ?"},
		{&s.list, "SELECT cases FROM lists WHERE term = ? AND stretch = ?"},
		{&s.addEntry, "INSERT INTO entries (" + columns + `, terms) VALUES (?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (opened) DO NOTHING`},
		{&s.changeEntry, "UPDATE entries SET summary = ?1, terms = ?2 WHERE opened = ?3 AND (summary <> ?1 OR terms <> ?2)"},
		{&s.putList, `INSERT INTO lists (term, stretch, cases) VALUES (?, ?, ?)
			ON CONFLICT (term, stretch) DO UPDATE SET cases = excluded.cases`},
		{&s.dropList, "DELETE FROM lists WHERE term = ? AND stretch = ?"},
		{&s.putStretch, `INSERT INTO stretches (stretch, first, last, settled) VALUES (?1, ?2, ?2, ?3) ON CONFLICT (stretch)
			DO UPDATE SET first = min(first, excluded.first), last = max(last, excluded.last), settled = excluded.settled`},
		{&s.emptyTerms, "UPDATE entries SET terms = '' WHERE opened > ?"},
		{&s.dropLists, "DELETE FROM lists"},
		{&s.dropStretches, "DELETE FROM stretches"},
		{&s.dropEntries, "DELETE FROM entries"},
	} {
		var err error
		if *p.to, err = db.PrepareContext(ctx, p.text); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// view is a transaction at work.
type view struct {
	ctx context.Context
	at  interface { // the transaction of a read; the connection of a write, and its statements are of that
		QueryContext(context.Context, string, ...any) (*sql.Rows, error)
	}
	st     *statements
	erased bool
	fresh  int64 // new cases that it put
}

func (v *view) stmt(s *sql.Stmt) *sql.Stmt {
	if tx, ok := v.at.(*sql.Tx); ok {
		return tx.StmtContext(v.ctx, s)
	}
	return s
}

func (v *view) Head() (casebook.Head, error) { return v.last(v.st.head) }

func (v *view) CaseHead(number string) (casebook.Head, error) { return v.last(v.st.caseHead, number) }

func (v *view) last(s *sql.Stmt, of ...any) (h casebook.Head, err error) {
	err = v.stmt(s).QueryRowContext(v.ctx, of...).Scan(&h.Seq, &h.Hash)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return h, err
}

// rowsOf is what a statement finds.
func rowsOf[T any](v *view, s *sql.Stmt, scan func(*sql.Rows) (T, error), args ...any) iter.Seq2[T, error] {
	rows, err := v.stmt(s).QueryContext(v.ctx, args...)
	return database.Each(rows, err, scan)
}

// value is the one value that a statement gives.
func value[T any](v *view, s *sql.Stmt, args ...any) (x T, err error) {
	err = v.stmt(s).QueryRowContext(v.ctx, args...).Scan(&x)
	return x, err
}

func record(rows *sql.Rows) (r casebook.Record, err error) {
	var version int64 // scanned without reflection, as kind is
	var kind string
	err = rows.Scan(&r.Seq, &r.Case, &version, &kind, &r.Text, &r.Hash)
	r.Version, r.Kind = int(version), casebook.Kind(kind)
	return r, err
}

func (v *view) Events(from int64) iter.Seq2[casebook.Record, error] {
	return rowsOf(v, v.st.events, record, from)
}

func (v *view) Case(number string) ([]casebook.Record, error) {
	return database.All(rowsOf(v, v.st.ofCase, record, number))
}

func particular(rows *sql.Rows) (p casebook.Particular, err error) {
	err = rows.Scan(&p.ID, &p.Case, &p.Salt, &p.Content)
	return p, err
}

func (v *view) Particular(id string) (*casebook.Particular, error) {
	return database.First(database.All(rowsOf(v, v.st.particular, particular, id)))
}

func (v *view) Particulars(number string) ([]casebook.Particular, error) {
	return database.All(rowsOf(v, v.st.particulars, particular, number))
}

func (v *view) texts(s *sql.Stmt) ([]string, error) {
	return database.All(rowsOf(v, s, database.Value[string]))
}

func (v *view) ParticularIDs() ([]string, error) { return v.texts(v.st.particularIDs) }
func (v *view) Blobs() ([]string, error)         { return v.texts(v.st.blobs) }

// The coders are safe for use by many goroutines at once.
var (
	// only options that don't fit each other fail
	packer, _   = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithZeroFrames(true))
	unpacker, _ = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(256<<20))
)

func (v *view) Blob(hash string) ([]byte, error) {
	packed, err := value[[]byte](v, v.st.blob, hash)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	b, err := unpacker.DecodeAll(packed, []byte{})
	if err != nil {
		return nil, errors.Join(casebook.ErrDamaged, err)
	}
	return b, nil
}

func (v *view) Last(year int) (int, error) { return value[int](v, v.st.last, year) }

func (v *view) exec(s *sql.Stmt, args ...any) (sql.Result, error) {
	return v.stmt(s).ExecContext(v.ctx, args...)
}

func (v *view) Put(c casebook.Change) error {
	var err error
	do := func(s *sql.Stmt, args ...any) {
		if err == nil {
			_, err = v.exec(s, args...)
		}
	}
	settle := false
	for _, r := range c.Records {
		do(v.st.addEvent, r.Seq, r.Case, r.Version, string(r.Kind), string(r.Text), r.Hash)
		settle = settle || r.Seq%everyEvents == 0
	}
	for _, p := range c.Particulars {
		do(v.st.addParticular, p.ID, p.Case, p.Salt, p.Content)
	}
	for _, id := range c.Erase {
		v.erased = true
		do(v.st.erase, id)
	}
	for _, b := range c.Blobs {
		hash, there := casebook.Hash(b), true
		if err == nil {
			there, err = value[bool](v, v.st.hasBlob, hash)
		}
		if !there { // else it need not be packed again
			do(v.st.addBlob, hash, packer.EncodeAll(b, nil))
		}
	}
	if c.Reindex {
		do(v.st.dropLists)
		do(v.st.dropStretches)
		do(v.st.dropEntries)
	}
	for _, ix := range c.Index {
		if err == nil {
			err = v.putIndex(ix)
		}
	}
	if err == nil && (settle || v.fresh >= everyCases) {
		err = v.settle()
	}
	return err
}
