package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"iter"
	"slices"

	"github.com/klauspost/compress/zstd"

	"whystone/cmd/whystone/casebook"
)

// statements are those that are prepared once.
type statements struct {
	head, events, ofCase, particular, particulars, particularIDs, blob, hasBlob, blobs, last, far, entries, terms *sql.Stmt
	addEvent, addParticular, erase, addBlob, addEntry, addTerm, dropTerm, dropTerms, dropEntries                  *sql.Stmt
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
		{&s.last, "SELECT coalesce(max(running), 0) FROM entries WHERE year = ?"},
		{&s.far, "SELECT day, opened FROM terms WHERE term = ? AND day BETWEEN ? AND ? ORDER BY day DESC, opened DESC LIMIT 1 OFFSET ?"},
		{&s.entries, "SELECT opened, number, year, running, day, summary FROM entries ORDER BY opened"},
		{&s.terms, "SELECT term, day, opened FROM terms"},
		{&s.addEvent, "INSERT INTO events (seq, number, version, kind, text, hash) VALUES (?, ?, ?, ?, ?, ?)"},
		{&s.addParticular, "INSERT INTO particulars (id, number, salt, content) VALUES (?, ?, ?, ?)"},
		{&s.erase, "DELETE FROM particulars WHERE id = ?"},
		{&s.addBlob, "INSERT INTO blobs (hash, packed) VALUES (?, ?)"},
		{&s.addEntry, `INSERT INTO entries (opened, number, year, running, day, summary) VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (opened) DO UPDATE
			SET number = excluded.number, year = excluded.year, running = excluded.running, day = excluded.day, summary = excluded.summary`},
		{&s.addTerm, "INSERT INTO terms (term, day, opened) VALUES (?, ?, ?) ON CONFLICT DO NOTHING"},
		{&s.dropTerm, "DELETE FROM terms WHERE term = ? AND day = ? AND opened = ?"},
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
	err = rows.Scan(&e.Opened, &e.Number, &e.Year, &e.Running, &e.Day, &e.Summary)
	return e, err
}

func (v *view) Last(year int) (last int, err error) {
	err = v.stmt(v.st.last).QueryRowContext(v.ctx, year).Scan(&last)
	return last, err
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
			err = rows.Scan(&x.Term, &x.Day, &x.Opened)
			return x, err
		}) {
			if !yield(x, err) || err != nil {
				return
			}
		}
	}
}

// Find walks back through the days under the term that is the rarest of late, and leaves out what the others don't find.
func (v *view) Find(q casebook.Terms) iter.Seq2[casebook.Entry, error] {
	to := cmp.Or(q.To, "9999-99-99")
	terms, err := v.rarest(q.All, q.From, to)
	if err != nil {
		return each(nil, err, entry)
	}
	from, args := "entries e WHERE", []any{}
	at := "e"
	if len(terms) > 0 {
		from, at = "terms t CROSS JOIN entries e ON e.opened = t.opened WHERE t.term = ? AND", "t"
		args = append(args, terms[0])
	}
	text := "SELECT e.opened, e.number, e.year, e.running, e.day, e.summary FROM " + from + " " + at + ".day BETWEEN ? AND ?"
	args = append(args, q.From, to)
	for i, t := range terms {
		if i > 0 {
			text += " AND EXISTS (SELECT 1 FROM terms x WHERE x.term = ? AND x.day = t.day AND x.opened = t.opened)"
			args = append(args, t)
		}
	}
	rows, err := v.tx.QueryContext(v.ctx, text+" ORDER BY "+at+".day DESC, "+at+".opened DESC", args...)
	return each(rows, err, entry)
}

// lately is how many cases back it is looked to see how rare a term is.
const lately = 200

// rarest sorts terms by how far back so many cases reach that are indexed under each: the furthest first.
func (v *view) rarest(terms []string, from, to string) ([]string, error) {
	if len(terms) < 2 {
		return terms, nil
	}
	type reach struct {
		term, day string
		opened    int64
	}
	var all []reach
	for _, t := range terms {
		r := reach{term: t}
		err := v.stmt(v.st.far).QueryRowContext(v.ctx, t, from, to, lately).Scan(&r.day, &r.opened)
		if err != nil && !errors.Is(err, sql.ErrNoRows) { // fewer are rarer still
			return nil, err
		}
		all = append(all, r)
	}
	slices.SortStableFunc(all, func(a, b reach) int { return cmp.Or(cmp.Compare(a.day, b.day), cmp.Compare(a.opened, b.opened)) })
	out := make([]string, len(all))
	for i, r := range all {
		out[i] = r.term
	}
	return out, nil
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
		do(v.st.addEntry, e.Opened, e.Number, e.Year, e.Running, e.Day, string(e.Summary))
	}
	for _, ix := range c.Index {
		for _, t := range ix.Drop {
			do(v.st.dropTerm, t, ix.Day, ix.Opened)
		}
		for _, t := range ix.Add {
			do(v.st.addTerm, t, ix.Day, ix.Opened)
		}
	}
	return err
}
