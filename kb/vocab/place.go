package vocab

import (
	"math"
	"slices"
)

// enough is from how many places on a feature is known by them: two lines are soon found beside each other by chance.
const enough = 3

// Near lists what lies at each of the places that were read, rising and in the observable's unit. Where all places of
// a feature with three or more were read, it is that one, and among such the one with the most places; else whatever
// has a place near enough, any of which it may be. Nothing, where no feature lies there.
func (o *Observable) Near(read []float64) []Set {
	whole := make([]int, len(o.Outcomes))
	for i := range o.Outcomes {
		if at := o.Outcomes[i].At; len(at) >= enough && o.Outcomes[i].AllRead(read) {
			whole[i] = len(at)
		}
	}
	out := make([]Set, len(read))
	for k, x := range read {
		most := 0
		for i := range o.Outcomes {
			if c := &o.Outcomes[i]; c.lies(x) && whole[i] >= most {
				if whole[i] > most {
					out[k], most = Set{}, whole[i]
				}
				out[k].Add(i)
			}
		}
	}
	return out
}

// Placed tells whether some of its features have places.
func (o *Observable) Placed() bool {
	return slices.ContainsFunc(o.Outcomes, func(c Outcome) bool { return len(c.At) > 0 })
}

// lies tells whether one of a feature's places is near enough to what was read.
func (c *Outcome) lies(x float64) bool {
	for _, at := range c.At {
		if near(at, x, c.Within) {
			return true
		}
	}
	return false
}

// AllRead tells whether each of a feature's places was read, by a reading of its own. Both lists rise.
func (c *Outcome) AllRead(read []float64) bool {
	k := 0
	for _, at := range c.At {
		for k < len(read) && read[k] < at && !near(at, read[k], c.Within) {
			k++
		}
		if k == len(read) || !near(at, read[k], c.Within) {
			return false
		}
		k++
	}
	return true
}

// near counts what lies exactly at the limit, whatever the last figure of the difference is.
func near(at, x, within float64) bool { return math.Abs(at-x) <= within*(1+1e-9) }
