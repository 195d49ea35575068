package database

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Tables are what a file holds: the statements that make it, the version of its tables, and the mark by which a file is
// known as one of this kind.
type Tables struct {
	Text                 string
	Version, Application int
	Are                  string // what the file is called: "casebook"
	// From are the statements that make a file of an earlier version one of this; one that none is for is refused.
	From map[int]string
}

// prepare makes the tables of a new file, makes over one of an earlier version, and refuses one that this program does
// not know. older tells that it was made over.
func (t Tables) prepare(ctx context.Context, db *sql.DB, path string, create bool) (older bool, err error) {
	mark, version, tables, err := identity(ctx, db)
	text, known := t.From[version]
	switch {
	case err != nil:
		return false, err
	case mark == t.Application && version == t.Version:
		return false, nil
	case mark == t.Application && !known:
		return false, fmt.Errorf("%s was written by another version of the program: its tables are of version %d, "+
			"and this one knows version %d", path, version, t.Version)
	case mark == t.Application:
	case mark != 0 || tables > 0:
		return false, fmt.Errorf("%s is no %s, but another program's database", path, t.Are)
	case !create:
		return false, fmt.Errorf("%s is empty: no %s was made in it", path, t.Are)
	default:
		text = t.Text
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return false, err
	}
	defer func() { _ = tx.Rollback() }() // done already when all went well
	if mark, version, _, err = identity(ctx, tx); err != nil || mark == t.Application && version == t.Version {
		return false, err // another program was faster
	}
	if _, err := tx.ExecContext(ctx, text+fmt.Sprintf("\nPRAGMA application_id = %d; PRAGMA user_version = %d;",
		t.Application, t.Version)); err != nil {
		return false, err
	}
	return mark == t.Application, tx.Commit()
}

// identity says what a file is. The tables are counted first: another program may make them, and mark the file with
// them, between one look and the next.
func identity(ctx context.Context, q interface {
	QueryRowContext(context.Context, string, ...any) *sql.Row
}) (mark, version, tables int, err error) {
	err = errors.Join(
		q.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables),
		q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&mark),
		q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version))
	return mark, version, tables, err
}
