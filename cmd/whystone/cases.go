package main

import (
	"context"
	"errors"
	"io"
	"iter"
	"slices"
	"strconv"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
	"whystone/kb/eval"
)

func isCaseName(name string) bool { return strings.HasPrefix(name, judging.CasePrefix) }

// cases reads the cases of files, and of the casebook. An error ends it.
func (s *session) cases(ctx context.Context, names []string, rs *kb.Ruleset) iter.Seq2[intake.Item, error] {
	return func(yield func(intake.Item, error) bool) {
		for _, name := range names {
			spec, kept := strings.CutPrefix(name, judging.CasePrefix)
			if !kept {
				for it := range intake.All([]string{name}, s.stdin, eval.CaseReader(rs)) {
					if !yield(it, nil) {
						return
					}
				}
				continue
			}
			more, found := true, false
			err := s.eachKept(ctx, spec, func(st *casebook.State) error {
				found = true
				if more = yield(judging.Read(rs, st), nil); !more {
					return errStop
				}
				return nil
			})
			if !more {
				return
			}
			if err == nil && !found {
				s.err.Text(terminal.Plain, 0, "No case is found by "+spec+".")
				err = write(s.err)
			}
			if err != nil {
				yield(intake.Item{}, err)
				return
			}
		}
	}
}

// errStop ends a walk that nobody wants to go on.
var errStop = errors.New("enough")

// eachKept opens the casebook to go through the cases that are named or looked for.
func (s *session) eachKept(ctx context.Context, spec string, do func(*casebook.State) error) error {
	return s.look(ctx, func(v casebook.View) error { return s.each(ctx, v, spec, do) })
}

// each goes through the cases that are named or looked for, the oldest first.
func (s *session) each(ctx context.Context, v casebook.View, spec string, do func(*casebook.State) error) error {
	search, ok := strings.CutPrefix(spec, "?")
	if !ok {
		st, err := atVersion(v, spec)
		if err != nil {
			return err
		}
		return do(st)
	}
	parts := slices.DeleteFunc(strings.Split(search, "&"), func(p string) bool { return p == "" })
	q, err := s.query(ctx, parts)
	if err != nil {
		return err
	}
	return judging.Each(ctx, v, q, do)
}

// atVersion finds a case, as it was at a version if one is named.
func atVersion(v casebook.View, spec string) (*casebook.State, error) {
	name, version, ok := strings.Cut(spec, "@")
	n, err := strconv.Atoi(version)
	if ok && err != nil {
		return nil, usageError("%q names no version; write case:NUMBER@7", spec)
	}
	st, err := casebook.Find(v, name)
	if err != nil || !ok {
		return st, err
	}
	return st.AtVersion(n)
}

// lines gives the cases of the casebook as an archive's lines, for a path that names some.
func (s *session) lines(ctx context.Context, path string) (io.ReadCloser, bool) {
	spec, ok := strings.CutPrefix(path, judging.CasePrefix)
	if !ok {
		return nil, false
	}
	return judging.Lines(func(do func(*casebook.State) error) error { return s.eachKept(ctx, spec, do) }), true
}

// closing writes what holds for all that is told above it. What rests on the casebook bears its head: by that a log
// that was written anew later is known.
func (s *session) closing(rs *kb.Ruleset) {
	s.out.Closing(rs)
	if s.head != "" {
		s.out.Text(terminal.Dim, 0, "Casebook "+s.head+".")
	}
}
