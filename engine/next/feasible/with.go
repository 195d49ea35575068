package feasible

import (
	"slices"

	"whystone/kb/casefile"
)

// With is the case with some readings more, each beside those that are there: one of an observable that was read
// already is a repeat in the first place where it was read, combined as at intake. Neither the case nor its readings
// are changed.
func With(c *casefile.Case, more ...*casefile.Reading) *casefile.Case {
	out := *c
	out.Readings = Readings(make([]*casefile.Reading, 0, len(c.Readings)+len(more)), c, more...)
	return &out
}

// Readings are those of With, in the memory of others that are not needed any more.
func Readings(to []*casefile.Reading, c *casefile.Case, more ...*casefile.Reading) []*casefile.Reading {
	out := casefile.Case{Readings: append(to[:0], c.Readings...)}
	for _, r := range more {
		i := slices.IndexFunc(out.Readings, func(o *casefile.Reading) bool {
			return o.Observable == r.Observable &&
				o.Spoilt == ""
		})
		if i < 0 || r.Spoilt != "" {
			out.Add(r)
			continue
		}
		again := *r
		again.Where = out.Readings[i].Where
		out.Readings[i] = casefile.Combine([]*casefile.Reading{out.Readings[i], &again})[0]
	}
	return out.Readings
}
