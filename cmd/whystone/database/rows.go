package database

import (
	"database/sql"
	"iter"
)

// Each goes through the rows of a query.
func Each[T any](rows *sql.Rows, err error, scan func(*sql.Rows) (T, error)) iter.Seq2[T, error] {
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

// All is what Each goes through.
func All[T any](seq iter.Seq2[T, error]) ([]T, error) {
	var out []T
	for x, err := range seq {
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// First is the first of what All found, or nil.
func First[T any](all []T, err error) (*T, error) {
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return &all[0], nil
}

// Value reads a row of one column.
func Value[T any](rows *sql.Rows) (x T, err error) {
	err = rows.Scan(&x)
	return x, err
}
