// Package sqlite keeps users in a file of SQLite, opened as package database does.
package sqlite

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"path/filepath"
	"strings"
	"time"

	"whystone/cmd/whystone/database"
	"whystone/cmd/whystone/users"
)

// Name is the file in the data folder.
const Name = "users.db"

//go:embed schema.sql
var schema string

// tables are those of the users; the mark says "Whyu".
var tables = database.Tables{Text: schema, Version: 1, Application: 0x57687975, Are: "file of users"}

// readers is how many reads can be at work at once.
const readers = 4

// Store is users in a file.
type Store struct{ writer, pool *sql.DB }

// Open opens the users in a folder. When there are none the file is made, if that is asked for; the error is
// fs.ErrNotExist else.
func Open(ctx context.Context, folder string, create bool) (*Store, error) {
	path := filepath.Join(folder, Name)
	writer, _, err := database.Writer(ctx, path, tables, create)
	if err != nil {
		return nil, err
	}
	pool, err := database.Readers(ctx, path, readers)
	if err != nil {
		return nil, errors.Join(err, writer.Close())
	}
	return &Store{writer: writer, pool: pool}, nil
}

// Close closes the file.
func (s *Store) Close() error { return errors.Join(s.pool.Close(), s.writer.Close()) }

// Read implements users.Store.
func (s *Store) Read(ctx context.Context, do func(users.View) error) error {
	tx, err := s.pool.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	return errors.Join(do(&view{ctx, tx}), tx.Rollback())
}

// Write implements users.Store. Once it has begun it is not broken off.
func (s *Store) Write(ctx context.Context, do func(users.Tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx)
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(&view{ctx, tx}); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// view is a transaction.
type view struct {
	ctx context.Context //nolint:containedctx // a view lives no longer than the call that it was made for
	tx  *sql.Tx
}

// all is what a query finds.
func all[T any](v *view, scan func(*sql.Rows) (T, error), query string, args ...any) ([]T, error) {
	rows, err := v.tx.QueryContext(v.ctx, query, args...)
	return database.All(database.Each(rows, err, scan))
}

func (v *view) House() (string, error) {
	house, err := all(v, database.Value[string], "SELECT name FROM house")
	return strings.Join(house, ""), err // there is one at most
}

const userColumns = "SELECT name, role, hash, once, until, added FROM users"

func scanUser(row *sql.Rows) (u users.User, err error) {
	var until, added int64
	err = row.Scan(&u.Name, &u.Role, &u.Hash, &u.Once, &until, &added)
	u.Until, u.Added = moment(until), moment(added)
	return u, err
}

func (v *view) User(name string) (*users.User, error) {
	return database.First(all(v, scanUser, userColumns+" WHERE name = ?", name))
}

func (v *view) Users() ([]users.User, error) { return all(v, scanUser, userColumns+" ORDER BY name") }

func (v *view) Session(key string) (*users.Session, error) {
	return database.First(all(v, func(row *sql.Rows) (s users.Session, err error) {
		var begun, seen int64
		err = row.Scan(&s.Key, &s.User, &begun, &seen)
		s.Begun, s.Seen = moment(begun), moment(seen)
		return s, err
	}, "SELECT key, user, begun, seen FROM sessions WHERE key = ?", key))
}

func (v *view) Audit(most int) ([]users.Entry, error) {
	return all(v, func(row *sql.Rows) (e users.Entry, err error) {
		var at int64
		err = row.Scan(&e.Seq, &at, &e.By, &e.Did, &e.Whom, &e.More)
		e.At = moment(at)
		return e, err
	}, "SELECT seq, at, by, did, whom, more FROM audit ORDER BY seq DESC LIMIT ?", most)
}

// Put implements users.Tx.
func (v *view) Put(c users.Change) error {
	do := func(statement string, args ...any) error {
		_, err := v.tx.ExecContext(v.ctx, statement, args...)
		return err
	}
	var errs []error
	add := func(err error) { errs = append(errs, err) }
	if c.House != nil {
		add(do("INSERT INTO house VALUES (1, ?) ON CONFLICT DO UPDATE SET name = excluded.name", *c.House))
	}
	for _, name := range c.Remove {
		add(do("DELETE FROM users WHERE name = ?", name)) // their sessions go with them
	}
	for _, key := range c.End {
		add(do("DELETE FROM sessions WHERE key = ?", key))
	}
	for _, name := range c.EndOf {
		add(do("DELETE FROM sessions WHERE user = ?", name))
	}
	if !c.EndOlder.IsZero() {
		add(do("DELETE FROM sessions WHERE seen < ?", stamp(c.EndOlder)))
	}
	for _, u := range c.Users {
		add(do(`INSERT INTO users VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET role = excluded.role, hash = excluded.hash,
			once = excluded.once, until = excluded.until, added = excluded.added`, u.Name, u.Role, u.Hash, u.Once, stamp(u.Until), stamp(u.Added)))
	}
	for _, s := range c.Sessions {
		add(do("INSERT INTO sessions VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET user = excluded.user, begun = "+
			"excluded.begun, seen = excluded.seen",
			s.Key, s.User, stamp(s.Begun), stamp(s.Seen)))
	}
	for _, e := range c.Audit {
		add(do("INSERT INTO audit (at, by, did, whom, more) VALUES (?, ?, ?, ?, ?)", stamp(e.At), e.By, e.Did, e.Whom,
			e.More))
	}
	return errors.Join(errs...)
}

func stamp(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixNano()
}

func moment(n int64) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return time.Unix(0, n).UTC()
}
