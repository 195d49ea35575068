package main

import (
	"cmp"
	"context"
	"time"

	"whystone/engine"
	"whystone/engine/coverage"
	"whystone/kb"
)

// coverage tells what archives exercise of a ruleset: what is weak, or all. Of an archive that can't be read to its end
// there is a report of what was read, before the error.
func (s *session) coverage(ctx context.Context, rs *kb.Ruleset, on time.Time, o *proofreading) error {
	in, err := s.input(o.cases, o.mapping, rs)
	if err != nil {
		return err
	}
	progress, done := s.progress(&in)
	r, stopped := coverage.Run(ctx, engine.Prepare(rs), in,
		coverage.Options{AsOf: on, Clock: o.asOf == "", Progress: progress})
	done()
	if r == nil {
		return stopped
	}
	err = cmp.Or(s.tell(r, func() { s.out.Coverage(r, o.all) }), stopped)
	if err == nil && o.strict && len(r.Findings) > 0 {
		return &ended{status: finding}
	}
	return err
}
