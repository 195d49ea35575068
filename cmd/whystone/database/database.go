// Package database opens files of SQLite, which is part of the program.
//
// Writes go through one connection, in transactions that take the write lock at once, and are on the disk before they
// are acknowledged: write-ahead log, synchronous=FULL. Reads go through a pool of connections that can't write. What a
// connection was asked for is asked back, because a setting that is misspelt is passed over in silence.
package database

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// patience is how long another program's write is waited for.
const patience = 5 * time.Second

// Setting is a pragma of a connection: how it is asked for, and what it says when asked back.
type Setting struct{ Name, Value, Answer string }

// Settings are those of every connection.
var Settings = []Setting{
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
var reading = Setting{"query_only", "1", "1"}

// Writer opens the one connection that writes. When there is no file it is made with its tables, if that is asked for;
// the error is fs.ErrNotExist else. older tells that the tables of an earlier version were made over.
func Writer(ctx context.Context, path string, t Tables, create bool) (db *sql.DB, older bool, err error) {
	if create {
		if err := MakeFile(path); err != nil {
			return nil, false, err
		}
	} else if _, err := os.Stat(path); err != nil {
		return nil, false, err
	}
	if db, err = Connect(ctx, path, 1, "immediate", Settings); err != nil {
		return nil, false, err
	}
	if older, err = t.prepare(ctx, db, path, create); err != nil {
		return nil, false, errors.Join(err, db.Close())
	}
	return db, older, nil
}

// Readers opens so many connections that can't write.
func Readers(ctx context.Context, path string, most int) (*sql.DB, error) {
	return Connect(ctx, path, most, "deferred", append([]Setting{reading}, Settings...))
}

// MakeFile makes an empty file that only its owner can read, unless there is one.
func MakeFile(path string) error {
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
	return errors.Join(f.Sync(), f.Close(), SyncFolder(filepath.Dir(path)))
}

// SyncFolder sees to it that a file's name is on the disk.
func SyncFolder(folder string) error {
	d, err := os.Open(folder)
	if err != nil {
		return err
	}
	_ = d.Sync() // a folder can't be synced everywhere
	return d.Close()
}

// Connect opens so many connections, and asks each for its settings back.
func Connect(ctx context.Context, path string, most int, lock string, want []Setting) (*sql.DB, error) {
	query := url.Values{"_txlock": {lock}}
	for _, s := range want {
		query.Add("_pragma", s.Name+"("+s.Value+")")
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

// settled is a connection that says of itself what was asked for. The change to a write-ahead log waits for nobody, so
// it is asked for again while another program makes the same change.
func settled(ctx context.Context, db *sql.DB, want []Setting) (*sql.Conn, error) {
	c, err := db.Conn(ctx)
	for until := time.Now().Add(patience); CodeOf(err) == sqlite3.SQLITE_BUSY && time.Now().Before(until) &&
		ctx.Err() == nil; c, err = db.Conn(ctx) {
		time.Sleep(10 * time.Millisecond)
	}
	if err != nil {
		return nil, err
	}
	for _, s := range want {
		var answer string
		if err := c.QueryRowContext(ctx, "PRAGMA "+s.Name).Scan(&answer); err != nil {
			return c, err
		}
		if answer != s.Answer {
			return c, fmt.Errorf("the setting %s of the file is %q and must be %q", s.Name, answer, s.Answer)
		}
	}
	return c, nil
}

// CodeOf is the primary result code of an error of the database, 0 of any other.
func CodeOf(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return 0
}
