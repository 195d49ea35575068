package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"iter"
	"math"
	"strings"

	"github.com/klauspost/compress/zstd"

	"whystone/cmd/whystone/casebook"
)

// statements are those that are prepared once.
type statements struct {
	head, events, ofCase, particular, particulars, particularIDs, blob, hasBlob, blobs, entries, terms *sql.Stmt
	addEvent, addParticular, erase, addBlob, addEntry, addTerm, dropTerm, dropTerms, dropEntries       *sql.Stmt
}

func prepare(ctx context.Context, db *sql.DB) (*statements, error) {
	s := &statements{}
	for _, p := range []struct {
		to   **sql.Stmt
		text string
	}{
		{&s.head, "SELECT seq, hash FROM events ORDER BY seq DESC LIMIT 1"},
		{&s.events, "SELECT seq, number, version, kind, text, hash FROM events WHERE seq >= ? ORDER BY seq"},
		{&s.ofCase, "SELECT seq, number, version, kind, text, hash FROM events WHERE number = ? ORDER BY version"},
		{&s.particular, "SELECT id, number, salt, content FROM particulars WHERE id = ?"},
		{&s.particulars, "SELECT id, number, salt, content FROM particulars WHERE number = ? ORDER BY id"},
		{&s.particularIDs, "SELECT id FROM particulars ORDER BY id"},
		{&s.blob, "SELECT packed FROM blobs WHERE hash = ?"},
		{&s.hasBlob, "SELECT EXISTS (SELECT 1 FROM blobs WHERE hash = ?)"},
		{&s.blobs, "SELECT hash FROM blobs ORDER BY hash"},
		{&s.entries, "SELECT opened, number, day, summary FROM entries ORDER BY opened"},
		{&s.terms, "SELECT term, opened FROM terms"},
		{&s.addEvent, "INSERT INTO events (seq, number, version, kind, text, hash) VALUES (?, ?, ?, ?, ?, ?)"},
		{&s.addParticular, "INSERT INTO particulars (id, number, salt, content) VALUES (?, ?, ?, ?)"},
		{&s.erase, "DELETE FROM particulars WHERE id = ?"},
		{&s.addBlob, "INSERT INTO blobs (hash, packed) VALUES (?, ?)"},
		{&s.addEntry, "INSERT INTO entries (opened, number, day, summary) VALUES (?, ?, ?, ?) ON CONFLICT (opened) DO UPDATE SET number = excluded.number, day = excluded.day, summary = excluded.summary"},
		{&s.addTerm, "INSERT INTO terms (term, opened) VALUES (?, ?) ON CONFLICT DO NOTHING"},
		{&s.dropTerm, "DELETE FROM terms WHERE term = ? AND opened = ?"},
		{&s.dropTerms, "DELETE FROM terms"},
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
	ctx    context.Context
	tx     *sql.Tx
	st     *statements
	erased bool
}

func (v *view) stmt(s *sql.Stmt) *sql.Stmt { return v.tx.StmtContext(v.ctx, s) }

func (v *view) Head() (h casebook.Head, err error) {
	err = v.stmt(v.st.head).QueryRowContext(v.ctx).Scan(&h.Seq, &h.Hash)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return h, err
}

// each goes through rows.
func each[T any](rows *sql.Rows, err error, scan func(*sql.Rows) (T, error)) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var none T
		if err != nil {
			yield(none, err)
			return
		}
		defer func() { _ = rows.Close() }() // its error is that of rows.Err
		for rows.Next() {
			if x, err := scan(rows); !yield(x, err) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(none, err)
		}
	}
}

func all[T any](seq iter.Seq2[T, error]) ([]T, error) {
	var out []T
	for x, err := range seq {
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

func record(rows *sql.Rows) (r casebook.Record, err error) {
	err = rows.Scan(&r.Seq, &r.Case, &r.Version, &r.Kind, &r.Text, &r.Hash)
	return r, err
}

func (v *view) Events(from int64) iter.Seq2[casebook.Record, error] {
	rows, err := v.stmt(v.st.events).QueryContext(v.ctx, from)
	return each(rows, err, record)
}

func (v *view) Case(number string) ([]casebook.Record, error) {
	rows, err := v.stmt(v.st.ofCase).QueryContext(v.ctx, number)
	return all(each(rows, err, record))
}

func particular(rows *sql.Rows) (p casebook.Particular, err error) {
	err = rows.Scan(&p.ID, &p.Case, &p.Salt, &p.Content)
	return p, err
}

func (v *view) Particular(id string) (*casebook.Particular, error) {
	rows, err := v.stmt(v.st.particular).QueryContext(v.ctx, id)
	found, err := all(each(rows, err, particular))
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}

func (v *view) Particulars(number string) ([]casebook.Particular, error) {
	rows, err := v.stmt(v.st.particulars).QueryContext(v.ctx, number)
	return all(each(rows, err, particular))
}

func text(rows *sql.Rows) (s string, err error) {
	err = rows.Scan(&s)
	return s, err
}

func (v *view) ParticularIDs() ([]string, error) {
	rows, err := v.stmt(v.st.particularIDs).QueryContext(v.ctx)
	return all(each(rows, err, text))
}

func (v *view) Blobs() ([]string, error) {
	rows, err := v.stmt(v.st.blobs).QueryContext(v.ctx)
	return all(each(rows, err, text))
}

// The coders are safe for use by many goroutines at once.
var (
	packer, _   = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithZeroFrames(true)) // only options that don't fit each other fail
	unpacker, _ = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(256<<20))
)

func (v *view) Blob(hash string) ([]byte, error) {
	var packed []byte
	err := v.stmt(v.st.blob).QueryRowContext(v.ctx, hash).Scan(&packed)
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

func entry(rows *sql.Rows) (e casebook.Entry, err error) {
	err = rows.Scan(&e.Opened, &e.Number, &e.Day, &e.Summary)
	return e, err
}

func (v *view) Index() iter.Seq2[casebook.Indexed, error] {
	return func(yield func(casebook.Indexed, error) bool) {
		rows, err := v.stmt(v.st.entries).QueryContext(v.ctx)
		for e, err := range each(rows, err, entry) {
			if !yield(casebook.Indexed{Entry: e}, err) || err != nil {
				return
			}
		}
		rows, err = v.stmt(v.st.terms).QueryContext(v.ctx)
		for x, err := range each(rows, err, func(rows *sql.Rows) (x casebook.Indexed, err error) {
			err = rows.Scan(&x.Term, &x.Opened)
			return x, err
		}) {
			if !yield(x, err) || err != nil {
				return
			}
		}
	}
}

// few is how many cases are sorted rather than walked through in order.
const few = 5000

// Find goes through the cases of whatever finds fewest, and leaves out those that the rest does not find.
func (v *view) Find(q casebook.Terms) iter.Seq2[casebook.Entry, error] {
	text, args, err := v.search(q)
	if err != nil {
		return each(nil, err, entry)
	}
	rows, err := v.tx.QueryContext(v.ctx, text, args...)
	return each(rows, err, entry)
}

// search writes the statement.
func (v *view) search(q casebook.Terms) (string, []any, error) {
	within, days := "", []any{}
	if q.From != "" || q.To != "" {
		within, days = " AND e.day BETWEEN ? AND ?", []any{q.From, cmp.Or(q.To, "9999-99-99")}
	}
	by, least, err := v.fewest(q, days)
	if err != nil {
		return "", nil, err
	}
	var b strings.Builder
	var args []any
	b.WriteString("SELECT e.opened, e.number, e.day, e.summary FROM ")
	order := " ORDER BY e.opened DESC"
	switch {
	case by >= 0:
		b.WriteString("terms t CROSS JOIN entries e ON e.opened = t.opened WHERE t.term = ?")
		args, order = append(args, q.All[by]), " ORDER BY t.opened DESC"
	case within != "" && least > few: // in the order in which the index by days has them
		order = " ORDER BY e.day DESC, e.opened DESC"
		fallthrough
	default:
		b.WriteString("entries e WHERE 1")
	}
	b.WriteString(within)
	args = append(args, days...)
	for i, t := range q.All {
		if i != by {
			b.WriteString(" AND EXISTS (SELECT 1 FROM terms WHERE term = ? AND opened = e.opened)")
			args = append(args, t)
		}
	}
	return b.String() + order, args, nil
}

// fewest is the term that the fewest cases are indexed under, or -1 when fewer were opened within the days.
func (v *view) fewest(q casebook.Terms, days []any) (by, least int, err error) {
	by, least = -1, math.MaxInt
	if len(days) > 0 {
		if least, err = v.count("SELECT 1 FROM entries WHERE day BETWEEN ? AND ?", days...); err != nil {
			return 0, 0, err
		}
	}
	for i, t := range q.All {
		n := few
		if len(q.All) > 1 || len(days) > 0 {
			if n, err = v.count("SELECT 1 FROM terms WHERE term = ?", t); err != nil {
				return 0, 0, err
			}
		}
		if n < least || n == least && by < 0 {
			by, least = i, n
		}
	}
	return by, least, nil
}

// count counts rows, up to one more than few.
func (v *view) count(rows string, args ...any) (n int, err error) {
	err = v.tx.QueryRowContext(v.ctx, "SELECT count(*) FROM ("+rows+" LIMIT ?)", append(args, few+1)...).Scan(&n)
	return n, err
}

// has tells whether there are bytes of a hash, so that they need not be packed again.
func (v *view) has(hash string, err *error) bool {
	var there bool
	*err = v.stmt(v.st.hasBlob).QueryRowContext(v.ctx, hash).Scan(&there)
	return there
}

func (v *view) Put(c casebook.Change) error {
	put := func(s *sql.Stmt, args ...any) error {
		_, err := v.stmt(s).ExecContext(v.ctx, args...)
		return err
	}
	if c.Reindex {
		if err := errors.Join(put(v.st.dropTerms), put(v.st.dropEntries)); err != nil {
			return err
		}
	}
	var err error
	do := func(s *sql.Stmt, args ...any) {
		if err == nil {
			err = put(s, args...)
		}
	}
	for _, r := range c.Records {
		do(v.st.addEvent, r.Seq, r.Case, r.Version, string(r.Kind), string(r.Text), r.Hash)
	}
	for _, p := range c.Particulars {
		do(v.st.addParticular, p.ID, p.Case, p.Salt, p.Content)
	}
	for _, id := range c.Erase {
		v.erased = true
		do(v.st.erase, id)
	}
	for _, b := range c.Blobs {
		hash := casebook.Hash(b)
		if err == nil && !v.has(hash, &err) {
			do(v.st.addBlob, hash, packer.EncodeAll(b, nil))
		}
	}
	for _, e := range c.Entries {
		do(v.st.addEntry, e.Opened, e.Number, e.Day, string(e.Summary))
	}
	for _, ix := range c.Index {
		for _, t := range ix.Drop {
			do(v.st.dropTerm, t, ix.Opened)
		}
		for _, t := range ix.Add {
			do(v.st.addTerm, t, ix.Opened)
		}
	}
	return err
}
