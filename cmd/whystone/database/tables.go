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
}

// prepare makes the tables of a new file, and refuses one that this program does not know.
func (t Tables) prepare(ctx context.Context, db *sql.DB, path string, create bool) error {
	mark, version, tables, err := identity(ctx, db)
	switch {
	case err != nil:
		return err
	case mark == t.Application && version == t.Version:
		return nil
	case mark == t.Application:
		return fmt.Errorf("%s was written by another version of the program: its tables are of version %d, and this one knows version %d", path, version, t.Version)
	case mark != 0 || tables > 0:
		return fmt.Errorf("%s is no %s, but another program's database", path, t.Are)
	case !create:
		return fmt.Errorf("%s is empty: no %s was made in it", path, t.Are)
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // done already when all went well
	if mark, _, _, err = identity(ctx, tx); err != nil || mark == t.Application {
		return err // another program was faster
	}
	if _, err := tx.ExecContext(ctx, t.Text+fmt.Sprintf("\nPRAGMA application_id = %d; PRAGMA user_version = %d;", t.Application, t.Version)); err != nil {
		return err
	}
	return tx.Commit()
}

// identity says what a file is. The tables are counted first: another program may make them, and mark the file with them,
// between one look and the next.
func identity(ctx context.Context, q interface {
	QueryRowContext(context.Context, string, ...any) *sql.Row
}) (mark, version, tables int, err error) {
	err = errors.Join(
		q.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables),
		q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&mark),
		q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version))
	return mark, version, tables, err
}
