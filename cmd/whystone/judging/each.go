package judging

import (
	"context"
	"io"
	"slices"

	"whystone/cmd/whystone/casebook"
)

// Each goes through the cases that are looked for, the oldest first.
func Each(ctx context.Context, v casebook.View, q *casebook.Query, do func(*casebook.State) error) error {
	var numbers []string
	for e, err := range v.Find(q.Terms) {
		if err != nil {
			return err
		}
		numbers = append(numbers, e.Number)
	}
	for _, number := range slices.Backward(numbers) {
		if err := ctx.Err(); err != nil {
			return err
		}
		st, err := casebook.Load(v, number)
		if err != nil {
			return err
		}
		if err := do(st); err != nil {
			return err
		}
	}
	return nil
}

// Lines gives the cases that each goes through as the lines of an archive. What is held apart is not in them.
func Lines(each func(do func(*casebook.State) error) error) io.ReadCloser {
	out, to := io.Pipe()
	go func() {
		to.CloseWithError(each(func(st *casebook.State) error {
			_, err := io.WriteString(to, st.Form(nil)+"\n")
			return err
		}))
	}()
	return out
}
