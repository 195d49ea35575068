package engine

import (
	"slices"

	"whystone/kb/casefile"
)

// Wants tells whether a test that a rule calls for is called for in the case that was decided last. It is not when all
// that it gives was read already; when a rule that fires forbids it, be it the one that calls for it; or when the stone
// is known to lack what its sheet needs. One verdict never tells somebody to do what it tells them not to do.
func (j *Judge) Wants(c *casefile.Case, test string) bool {
	return !j.made(c, test) && !j.forbidden(test) && j.run.Needs(j.e.Ruleset.Test(test)).Feasible()
}

func (j *Judge) forbidden(test string) bool {
	return slices.ContainsFunc(j.e.forbids[test], j.run.Fired)
}

// made tells whether all that a test gives was read.
func (j *Judge) made(c *casefile.Case, test string) bool {
	yields := j.e.Ruleset.Test(test).Yields
	for _, y := range yields {
		if !slices.ContainsFunc(c.Readings, func(r *casefile.Reading) bool {
			return r.Observable == y.Observable &&
				r.Usable()
		}) {
			return false
		}
	}
	return len(yields) > 0
}
