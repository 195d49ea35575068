package bench

import (
	"cmp"
	"math"
	"slices"

	"whystone/engine"
	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// Separation is how well one observable of one test, on one stone with the house's instrument, separates two
// materials.
type Separation struct {
	Observable *vocab.Observable
	Test       *kb.Test
	// what the test should read if the stone is of the one, and of the other; nil: its sheet doesn't say
	Expected [2]*casefile.Reading
	// Ratio is how many times likelier those readings are on their own material than on the other, rules counted;
	// below 1 the other way.
	Ratio [2]float64
	// Gap lies between the two ranges of a quantity, and U is the standard uncertainty of a reading there; Settles
	// tells that the gap is wider than the policy's misfit asks. All are zero where no ranges lie apart.
	Gap, U  float64
	Settles bool
	Missing []string // what the stone has not that the test needs; with any, the test is impossible here
	Read    *casefile.Reading
	Found   float64 // of a reading that is there: how many times likelier it is on the first than on the second
	// FromCarat is the weight from which on the test can be done, and settles it if it is one that can; 0: at any
	// weight, or none.
	FromCarat float64
	Never     bool // at no weight
}

// Sigmas is the gap in standard uncertainties of a reading.
func (s *Separation) Sigmas() float64 {
	if s.U == 0 {
		return 0
	}
	return s.Gap / s.U
}

// separator tries tests on a stone.
type separator struct {
	rs    *kb.Ruleset
	j     *engine.Judge
	stone *casefile.Case // with no readings
	at    engine.Moment
	both  [2]*kb.Material
}

// Separate lists what separates two materials on the stone of a case, by harmless tests: what settles it first, then
// by ratio.
func Separate(e *engine.Engine, c *casefile.Case, at engine.Moment, a, b *kb.Material) []*Separation {
	s := &separator{rs: e.Ruleset, j: e.NewJudge(), at: at, both: [2]*kb.Material{a, b},
		stone: c.Without(func(*casefile.Reading) bool { return true })}
	var out []*Separation
	for _, t := range s.rs.Tests {
		if !t.Harmless() {
			continue
		}
		for _, source := range feasible.Sources(s.rs, s.stone, t) {
			if x := s.of(source, c); x != nil {
				out = append(out, x)
			}
		}
	}
	slices.SortStableFunc(out, func(x, y *Separation) int {
		return cmp.Or(cmp.Compare(len(x.Missing), len(y.Missing)), compareBool(y.Settles, x.Settles),
			cmp.Compare(y.least(), x.least()))
	})
	return out
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// least is the smaller of the two ratios: what the test is good for whichever of the two the stone is.
func (s *Separation) least() float64 { return min(s.Ratio[0], s.Ratio[1]) }

// of tries one observable; nil where neither sheet leads to expect anything, or both the same.
func (s *separator) of(source *feasible.Source, c *casefile.Case) *Separation {
	out := &Separation{Observable: source.Observable, Test: source.Test, Ratio: [2]float64{1, 1}}
	said := false
	for i, m := range s.both {
		for _, r := range feasible.Expected(s.rs, s.stone, source.Test, m) {
			if r.Observable == source.Observable {
				out.Expected[i], said = r, true
				out.Ratio[i] = s.ratio(r, m, s.both[1-i])
			}
		}
	}
	if !said {
		return nil
	}
	out.Gap, out.U, out.Settles = s.apart(source)
	for _, r := range c.Readings {
		if r.Observable == source.Observable && r.Usable() && slices.Contains(r.Tests, source.Test.ID) {
			out.Read, out.Found = r, s.ratio(r, s.both[0], s.both[1])
		}
	}
	if out.Read == nil && !out.Settles && out.Gap == 0 && out.least() < 1.5 && max(out.Ratio[0], out.Ratio[1]) < 1.5 {
		return nil // it tells nothing
	}
	out.Missing = s.missing(s.stone, source.Test)
	out.FromCarat, out.Never = s.weight(source.Test, source.Observable)
	return out
}

// ratio is how many times likelier a reading is on one material than on another, by the readings alone, rules counted.
func (s *separator) ratio(r *casefile.Reading, of, against *kb.Material) float64 {
	var d engine.Decision
	s.j.Decide(feasible.With(s.stone, r), s.at.On, &d)
	if ratio := math.Exp(s.likelihood(of) - s.likelihood(against)); !math.IsNaN(ratio) {
		return ratio
	}
	return 1 // neither is possible
}

func (s *separator) likelihood(m *kb.Material) float64 {
	best := math.Inf(-1)
	for _, leaf := range m.Leaves {
		best = max(best, s.j.Likelihood(leaf))
	}
	return best
}

// apart is the gap between two ranges of a quantity, the uncertainty of a reading at its edge, and whether that
// settles it.
func (s *separator) apart(source *feasible.Source) (gap, u float64, settles bool) {
	o := source.Observable
	if o.Kind != vocab.Quantity {
		return 0, 0, false
	}
	a, b := s.both[0].Ranges[o.Property], s.both[1].Ranges[o.Property]
	if a == nil || b == nil {
		return 0, 0, false
	}
	low, high := a, b
	if low.Low > high.Low {
		low, high = high, low
	}
	if gap = high.Low - low.High; gap <= 0 {
		return 0, 0, false
	}
	if low.High > source.Limits[1] || high.Low < source.Limits[0] {
		return 0, 0, false // both beyond what the instrument reads
	}
	u = max(source.U(low.High), source.U(min(high.Low, source.Limits[1])))
	return gap, u, gap > s.rs.Policy.Misfit*u+max(a.Tolerance, b.Tolerance)
}

// missing is what a stone has not that a test needs, size and all.
func (s *separator) missing(stone *casefile.Case, t *kb.Test) []string {
	var d engine.Decision
	s.j.Decide(stone, s.at.On, &d)
	return s.j.Run().Needs(t).Missing
}

// Weights between which a stone is tried, in ct, and how far apart.
const (
	lightest, heaviest = 0.01, 50.0
	weightStep         = 7.0 / 6
)

// weight is the smallest weight, in ct, of a stone cut alike on which the test can be done and, of a quantity whose
// ranges lie apart, settles it. Between weights that lie a sixth apart, one such is looked for no more closely.
func (s *separator) weight(t *kb.Test, o *vocab.Observable) (from float64, never bool) {
	good := func(carat float64) bool {
		stone := scaled(s.stone, carat)
		if len(s.missing(stone, t)) > 0 {
			return false
		}
		for _, source := range feasible.Sources(s.rs, stone, t) {
			if source.Observable != o {
				continue
			}
			if gap, _, settles := s.apart(source); gap > 0 {
				return settles
			}
		}
		return true
	}
	if good(lightest) {
		return 0, false
	}
	low, high := lightest, lightest*weightStep
	for ; !good(high); low, high = high, high*weightStep {
		if high > heaviest {
			return 0, true
		}
	}
	for high/low > 1.001 {
		if middle := math.Sqrt(low * high); good(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high, false
}

// scaled is a stone of another weight and of the same make.
func scaled(c *casefile.Case, carat float64) *casefile.Case {
	out := *c
	out.Stone.Carat = &carat
	if c.Stone.Carat == nil || !(*c.Stone.Carat > 0) {
		return &out
	}
	factor := math.Cbrt(carat / *c.Stone.Carat)
	for _, mm := range []**float64{&out.Stone.Length, &out.Stone.Width, &out.Stone.Depth} {
		if *mm != nil {
			v := **mm * factor
			*mm = &v
		}
	}
	return &out
}
