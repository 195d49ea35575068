// Package sqlite keeps a casebook in a file of SQLite, which is part of the program.
//
// Writes go through one connection; reads through a pool of connections that can't write, each at one moment of the
// book. How a file is opened is package database's.
package sqlite

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	sqlite3 "modernc.org/sqlite/lib"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/database"
)

// Name is the file in a casebook's folder.
const Name = "casebook.db"

// The tables are those of the log and those of the index.
var (
	//go:embed schema.sql
	schema string
	//go:embed index.sql
	index string
)

// Schema is the version of the tables; application marks a file as a casebook ("Whys").
const (
	Schema      = 2
	application = 0x57687973
)

// readers is how many reads can be at work at once.
const readers = 4

// tables are those of a casebook.
var tables = database.Tables{Text: schema + index, Version: Schema, Application: application, Are: "casebook",
	From: map[int]string{1: "ALTER TABLE entries RENAME TO entries1; DROP INDEX entries_by_day;" + index + fromSchema1}}

// fromSchema1 fills the index from that of version 1, in which each term of each case was a row. No event is touched.
const fromSchema1 = `
INSERT INTO entries SELECT e.opened, number, year, running, day, summary, coalesce(lines, '') FROM entries1 e
  LEFT JOIN (SELECT opened, char(10) || group_concat(term, char(10)) || char(10) AS lines FROM terms GROUP BY opened) t ON t.opened = e.opened;
DROP TABLE entries1;
DROP TABLE terms;`

// Store is a casebook in a file.
type Store struct {
	path          string
	own, pool     *sql.DB // own has the writing connection alone
	writes, reads *statements

	writing sync.Mutex // held by who uses the writer
	writer  *sql.Conn
	begin   *sql.Stmt // its transactions are plain statements: one of sql.Tx starts a goroutine each time, and
	commit  *sql.Stmt // costs as much as all that a write computes
}

// Exists tells whether there is a casebook in a folder.
func Exists(folder string) bool {
	_, err := os.Stat(filepath.Join(folder, Name))
	return err == nil
}

// Open opens the casebook in a folder. When there is none it is made, if that is asked for.
func Open(ctx context.Context, folder string, create bool) (*Store, error) {
	s := &Store{path: filepath.Join(folder, Name)}
	if err := s.open(ctx, create); err != nil {
		return nil, errors.Join(s.explain(err), s.Close())
	}
	return s, nil
}

func (s *Store) open(ctx context.Context, create bool) (err error) {
	var older bool
	if s.own, older, err = database.Writer(ctx, s.path, tables, create); err != nil {
		return err
	}
	if s.writer, err = s.own.Conn(ctx); err != nil {
		return err
	}
	if s.begin, err = s.writer.PrepareContext(ctx, "BEGIN IMMEDIATE"); err != nil {
		return err
	}
	if s.commit, err = s.writer.PrepareContext(ctx, "COMMIT"); err != nil {
		return err
	}
	if s.pool, err = database.Readers(ctx, s.path, readers); err != nil {
		return err
	}
	if s.writes, err = prepare(ctx, s.writer); err != nil {
		return err
	}
	if s.reads, err = prepare(ctx, s.pool); err != nil || !older {
		return err
	}
	return s.Write(ctx, func(tx casebook.Tx) error { return tx.(*view).settle() })
}

// Copy copies a backup to a new file.
func Copy(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }() // only read from
	if err := database.MakeFile(to); err != nil {
		return err
	}
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_TRUNC, 0)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}

// Move puts a file that was closed in a casebook's place, in which there must be none.
func Move(from, folder string) error {
	if err := os.Link(from, filepath.Join(folder, Name)); err != nil {
		return err
	}
	return database.SyncFolder(folder)
}

// Close closes the casebook.
func (s *Store) Close() error {
	s.writing.Lock() // so that a write at work ends first
	defer s.writing.Unlock()
	var errs []error
	if s.writer != nil {
		if err := s.writer.Close(); !errors.Is(err, sql.ErrConnDone) { // closed before
			errs = append(errs, err)
		}
	}
	for _, db := range []*sql.DB{s.pool, s.own} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	return errors.Join(errs...)
}

// Write implements casebook.Store. Once it has begun it is not broken off: nobody would know whether it was written.
func (s *Store) Write(ctx context.Context, do func(casebook.Tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx)
	s.writing.Lock()
	defer s.writing.Unlock()
	v := &view{ctx: ctx, at: s.writer, st: s.writes}
	if err := s.transact(ctx, func() error { return do(v) }); err != nil {
		return s.explain(err)
	}
	if v.erased {
		return s.wipe(ctx)
	}
	return nil
}

// transact does something within a transaction of the writer.
func (s *Store) transact(ctx context.Context, do func() error) (err error) {
	if _, err := s.begin.ExecContext(ctx); err != nil {
		return err
	}
	committed := false
	defer func() {
		if !committed { // do may have panicked; there is nothing left to roll back where the database did so itself
			_, _ = s.writer.ExecContext(ctx, "ROLLBACK")
		}
	}()
	if err := do(); err != nil {
		return err
	}
	_, err = s.commit.ExecContext(ctx)
	committed = err == nil
	return err
}

// wipe takes what was erased out of the write-ahead log, where older writes stay until they are written over.
func (s *Store) wipe(ctx context.Context) error {
	var busy, logged, moved int
	if err := s.writer.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &logged,
		&moved); err != nil {
		return s.explain(err)
	}
	if busy != 0 {
		return casebook.ErrTraces
	}
	return nil
}

// Read implements casebook.Store.
func (s *Store) Read(ctx context.Context, do func(casebook.View) error) error {
	tx, err := s.pool.BeginTx(ctx, nil)
	if err != nil {
		return s.explain(err)
	}
	err = do(&view{ctx: ctx, at: tx, st: s.reads})
	return s.explain(errors.Join(err, tx.Rollback()))
}

// Backup writes the casebook as it is at one moment to a new file, while it is in use. What was erased is not in it.
func (s *Store) Backup(ctx context.Context, to string) (err error) {
	if _, err := os.Stat(to); err == nil {
		return fmt.Errorf("%s is there already", to)
	}
	part := to + ".part"
	if err := removed(part); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(s.explain(err), removed(part))
		}
	}()
	if err := database.MakeFile(part); err != nil {
		return err
	}
	s.writing.Lock()
	_, err = s.writer.ExecContext(ctx, "VACUUM INTO ?", part) // a reading connection may not make a file
	s.writing.Unlock()
	if err != nil {
		return err
	}
	f, err := os.OpenFile(part, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(part, to); err != nil {
		return err
	}
	return database.SyncFolder(filepath.Dir(to))
}

func removed(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// Sound has the database check its own pages and tables.
func (s *Store) Sound(ctx context.Context) error {
	var says string
	if err := s.pool.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&says); err != nil {
		return s.explain(err)
	}
	if says != "ok" {
		return fmt.Errorf("%w: %s", casebook.ErrDamaged, says)
	}
	return nil
}

// explain says what went wrong in the words of the casebook.
func (s *Store) explain(err error) error {
	if err == nil {
		return nil
	}
	what := map[int]error{
		sqlite3.SQLITE_BUSY: casebook.ErrBusy, sqlite3.SQLITE_LOCKED: casebook.ErrBusy,
		sqlite3.SQLITE_FULL: casebook.ErrFull, sqlite3.SQLITE_IOERR: casebook.ErrUnwritten,
		sqlite3.SQLITE_READONLY: casebook.ErrReadOnly, sqlite3.SQLITE_CANTOPEN: casebook.ErrReadOnly,
		sqlite3.SQLITE_PERM: casebook.ErrReadOnly, sqlite3.SQLITE_CORRUPT: casebook.ErrDamaged,
		sqlite3.SQLITE_NOTADB: casebook.ErrDamaged,
	}[database.CodeOf(err)]
	switch {
	case what != nil:
		return fmt.Errorf("%w (%s: %w)", what, s.path, err)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%w (%w)", casebook.ErrReadOnly, err)
	}
	return err
}
