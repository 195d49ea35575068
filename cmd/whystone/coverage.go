package main

import (
	"cmp"
	"context"

	"whystone/engine"
	"whystone/engine/coverage"
	"whystone/kb"
)

// covering is how an archive is read to see what it exercises of a ruleset; the zero value will do.
type covering struct {
	mapping string // a file, for a foreign spreadsheet's columns
	asOf    string // the date of what says none; empty: now
	workers int    // 0: all processors
	strict  bool   // a rule that never held or decided ends the command with the status of a finding
}

// coverage tells what archives exercise of a ruleset: what is weak, or all.
func (s *session) coverage(ctx context.Context, rs *kb.Ruleset, archives []string, all bool, c covering) error {
	r, stopped := s.cover(ctx, rs, archives, c)
	if r == nil {
		return stopped
	}
	var err error
	if s.json() {
		err = s.print(r)
	} else {
		s.out.Coverage(r, all)
		err = write(s.out)
	}
	if err = cmp.Or(err, stopped); err == nil && c.strict && len(r.Findings) > 0 {
		return &ended{status: finding}
	}
	return err
}

// cover counts, with its progress on a terminal. Of an archive that can't be read to its end there is a report of what
// was read, beside the error.
func (s *session) cover(ctx context.Context, rs *kb.Ruleset, archives []string, c covering) (*coverage.Report, error) {
	in, err := s.input(archives, c.mapping)
	if err != nil {
		return nil, err
	}
	o := coverage.Options{Workers: c.workers, Clock: c.asOf == ""}
	if o.AsOf, err = s.dateOrNow(rs, c.asOf); err != nil {
		return nil, err
	}
	var done func()
	o.Progress, done = s.progress(&in)
	r, err := coverage.Run(ctx, engine.Prepare(rs), in, o)
	done()
	if err != nil && ctx.Err() == nil {
		err = &ended{status: unusable, says: err.Error()}
	}
	return r, err
}
