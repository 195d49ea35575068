// Package sqlite keeps a casebook in a file of SQLite, which is part of the program.
//
// Writes go through one connection, in transactions that take the write lock at once, and are on the disk before they
// are acknowledged: write-ahead log, synchronous=FULL. Reads go through a pool of connections that can't write, each at one
// moment of the book. What a connection was asked for is asked back, because a setting that is misspelt is passed over in
// silence.
package sqlite

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"whystone/cmd/whystone/casebook"
)

// Name is the file in a casebook's folder.
const Name = "casebook.db"

//go:embed schema.sql
var schema string

// Schema is the version of the tables; application marks a file as a casebook ("Whys").
const (
	Schema      = 1
	application = 0x57687973
)

// readers is how many reads can be at work at once; patience, how long another program's write is waited for.
const (
	readers  = 4
	patience = 5 * time.Second
)

// setting is a pragma of a connection: how it is asked for, and what it says when asked back.
type setting struct{ name, value, says string }

var settings = []setting{
	{"busy_timeout", fmt.Sprint(patience.Milliseconds()), fmt.Sprint(patience.Milliseconds())},
	{"journal_mode", "WAL", "wal"},
	{"synchronous", "FULL", "2"},
	{"fullfsync", "1", "1"}, // where a plain sync leaves data in the drive's cache
	{"secure_delete", "1", "1"},
	{"foreign_keys", "1", "1"},
	{"cell_size_check", "1", "1"},
	{"trusted_schema", "0", "0"},
}

// reading is what a connection of the pool has besides.
var reading = setting{"query_only", "1", "1"}

// Store is a casebook in a file.
type Store struct {
	path          string
	writer, pool  *sql.DB
	writes, reads *statements
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
	if create {
		if err := makeFile(s.path); err != nil {
			return err
		}
	} else if _, err := os.Stat(s.path); err != nil {
		return err
	}
	if s.writer, err = connect(ctx, s.path, 1, "immediate", settings); err != nil {
		return err
	}
	if err := s.prepareSchema(ctx, create); err != nil {
		return err
	}
	if s.pool, err = connect(ctx, s.path, readers, "deferred", append([]setting{reading}, settings...)); err != nil {
		return err
	}
	if s.writes, err = prepare(ctx, s.writer); err != nil {
		return err
	}
	s.reads, err = prepare(ctx, s.pool)
	return err
}

// makeFile makes an empty file that only its owner can read, unless there is one.
func makeFile(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close(), syncFolder(filepath.Dir(path)))
}

// Copy copies a backup to a new file.
func Copy(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }() // only read from
	if err := makeFile(to); err != nil {
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
	return syncFolder(folder)
}

// syncFolder sees to it that a file's name is on the disk.
func syncFolder(folder string) error {
	d, err := os.Open(folder)
	if err != nil {
		return err
	}
	_ = d.Sync() // a folder can't be synced everywhere
	return d.Close()
}

// connect opens so many connections, and asks each for its settings back.
func connect(ctx context.Context, path string, most int, lock string, want []setting) (*sql.DB, error) {
	query := url.Values{"_txlock": {lock}}
	for _, s := range want {
		query.Add("_pragma", s.name+"("+s.value+")")
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	where := url.URL{Scheme: "file", Path: filepath.ToSlash(full), RawQuery: query.Encode()}
	if !strings.HasPrefix(where.Path, "/") {
		where.Path = "/" + where.Path // a drive's letter
	}
	db, err := sql.Open("sqlite", where.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	var held []*sql.Conn
	for range most {
		c, e := settled(ctx, db, want)
		if c != nil {
			held = append(held, c)
		}
		if err = e; err != nil {
			break
		}
	}
	for _, c := range held {
		err = errors.Join(err, c.Close())
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// settled is a connection that says of itself what was asked for. The change to a write-ahead log waits for nobody, so it
// is asked for again while another program makes the same change.
func settled(ctx context.Context, db *sql.DB, want []setting) (*sql.Conn, error) {
	c, err := db.Conn(ctx)
	for until := time.Now().Add(patience); codeOf(err) == sqlite3.SQLITE_BUSY && time.Now().Before(until) && ctx.Err() == nil; c, err = db.Conn(ctx) {
		time.Sleep(10 * time.Millisecond)
	}
	if err != nil {
		return nil, err
	}
	for _, s := range want {
		var says string
		if err := c.QueryRowContext(ctx, "PRAGMA "+s.name).Scan(&says); err != nil {
			return c, err
		}
		if says != s.says {
			return c, fmt.Errorf("the setting %s of the casebook's file is %q and must be %q", s.name, says, s.says)
		}
	}
	return c, nil
}

// prepareSchema makes the tables of a new file, and refuses one that this program does not know.
func (s *Store) prepareSchema(ctx context.Context, create bool) error {
	mark, version, tables, err := s.identity(ctx, s.writer)
	switch {
	case err != nil:
		return err
	case mark == application && version == Schema:
		return nil
	case mark == application:
		return fmt.Errorf("%s was written by another version of the program: its tables are of version %d, and this one knows version %d", s.path, version, Schema)
	case mark != 0 || tables > 0:
		return fmt.Errorf("%s is no casebook, but another program's database", s.path)
	case !create:
		return fmt.Errorf("%s is empty: no casebook was made in it", s.path)
	}
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // done already when all went well
	if mark, _, _, err = s.identity(ctx, tx); err != nil || mark == application {
		return err // another program was faster
	}
	if _, err := tx.ExecContext(ctx, schema+fmt.Sprintf("\nPRAGMA application_id = %d; PRAGMA user_version = %d;", application, Schema)); err != nil {
		return err
	}
	return tx.Commit()
}

// identity says what a file is. The tables are counted first: another program may make them, and mark the file with them,
// between one look and the next.
func (s *Store) identity(ctx context.Context, q interface {
	QueryRowContext(context.Context, string, ...any) *sql.Row
}) (mark, version, tables int, err error) {
	err = errors.Join(
		q.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables),
		q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&mark),
		q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version))
	return mark, version, tables, err
}

// Close closes the casebook.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*sql.DB{s.pool, s.writer} {
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
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return s.explain(err)
	}
	v := &view{ctx: ctx, tx: tx, st: s.writes}
	if err := do(v); err != nil {
		return s.explain(errors.Join(err, tx.Rollback()))
	}
	if err := tx.Commit(); err != nil {
		return s.explain(err)
	}
	if v.erased {
		return s.wipe(ctx)
	}
	return nil
}

// wipe takes what was erased out of the write-ahead log, where older writes stay until they are written over.
func (s *Store) wipe(ctx context.Context) error {
	var busy, logged, moved int
	if err := s.writer.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &logged, &moved); err != nil {
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
	err = do(&view{ctx: ctx, tx: tx, st: s.reads})
	return s.explain(errors.Join(err, tx.Rollback()))
}

// Backup writes the casebook as it is at one moment to a new file, while it is in use. What was erased is not in it.
func (s *Store) Backup(ctx context.Context, to string) (err error) {
	if _, err := os.Stat(to); err == nil {
		return fmt.Errorf("%s is there already", to)
	}
	part := to + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(s.explain(err), removed(part))
		}
	}()
	if err := makeFile(part); err != nil {
		return err
	}
	conn, err := s.writer.Conn(ctx) // a reading connection may not make a file
	if err != nil {
		return err
	}
	_, err = conn.ExecContext(ctx, "VACUUM INTO ?", part)
	if err = errors.Join(err, conn.Close()); err != nil {
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
	return syncFolder(filepath.Dir(to))
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

func codeOf(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return 0
}

// explain says what went wrong in the words of the casebook.
func (s *Store) explain(err error) error {
	if err == nil {
		return nil
	}
	what := map[int]error{
		sqlite3.SQLITE_BUSY: casebook.ErrBusy, sqlite3.SQLITE_LOCKED: casebook.ErrBusy, sqlite3.SQLITE_FULL: casebook.ErrFull,
		sqlite3.SQLITE_IOERR: casebook.ErrUnwritten, sqlite3.SQLITE_READONLY: casebook.ErrReadOnly, sqlite3.SQLITE_CANTOPEN: casebook.ErrReadOnly,
		sqlite3.SQLITE_PERM: casebook.ErrReadOnly, sqlite3.SQLITE_CORRUPT: casebook.ErrDamaged, sqlite3.SQLITE_NOTADB: casebook.ErrDamaged,
	}[codeOf(err)]
	switch {
	case what != nil:
		return fmt.Errorf("%w (%s: %w)", what, s.path, err)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%w (%w)", casebook.ErrReadOnly, err)
	}
	return err
}
