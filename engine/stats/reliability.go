package stats

import (
	"encoding/json"
	"errors"
	"math"
)

// Bins is how finely shares are counted before a reliability curve is drawn: counts can be merged, shares can't.
const Bins = 1000

// Reliability counts predictions by share. The zero value is empty.
type Reliability struct {
	All  [Bins]int
	Hits [Bins]int
}

// Add counts a prediction.
func (r *Reliability) Add(share float64, true bool) {
	i := min(Bins-1, max(0, int(share*Bins)))
	r.All[i]++
	if true {
		r.Hits[i]++
	}
}

// Merge adds another part's counts.
func (r *Reliability) Merge(o *Reliability) {
	for i := range r.All {
		r.All[i] += o.All[i]
		r.Hits[i] += o.Hits[i]
	}
}

// sparse is how a Reliability is written: of bins that aren't empty the number, all predictions and those that came
// true.
type sparse struct {
	Bins   int      `json:"bins"`
	Counts [][3]int `json:"counts"`
}

// MarshalJSON writes the bins that aren't empty.
func (r Reliability) MarshalJSON() ([]byte, error) {
	out := sparse{Bins: Bins, Counts: [][3]int{}}
	for i, n := range r.All {
		if n != 0 {
			out.Counts = append(out.Counts, [3]int{i, n, r.Hits[i]})
		}
	}
	return json.Marshal(out)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (r *Reliability) UnmarshalJSON(text []byte) error {
	var in sparse
	if err := json.Unmarshal(text, &in); err != nil {
		return err
	}
	*r = Reliability{}
	if in.Bins != Bins {
		return errors.New("the reliability curve is counted in another number of bins")
	}
	for _, c := range in.Counts {
		if c[0] < 0 || c[0] >= Bins || c[1] < 0 || c[2] < 0 || c[2] > c[1] {
			return errors.New("the reliability curve's counts can't be")
		}
		r.All[c[0]], r.Hits[c[0]] = c[1], c[2]
	}
	return nil
}

// Block is a stretch of the reliability curve: predictions from share Low to High, of which Rate came true.
type Block struct {
	Low, High float64
	N, Hits   int
	Rate      float64
	RateLow   float64 // Wilson interval of Rate at 95 %
	RateHigh  float64
}

// Curve is the reliability curve by the pool-adjacent-violators algorithm: the non-decreasing step function nearest to
// the observed rates (CORP: T. Dimitriadis, T. Gneiting, A. I. Jordan, Proc. Natl. Acad. Sci. 118 (2021) e2016191118).
func (r *Reliability) Curve() []Block {
	var out []Block
	for i := range r.All {
		if r.All[i] == 0 {
			continue
		}
		b := Block{Low: float64(i) / Bins, High: float64(i+1) / Bins, N: r.All[i], Hits: r.Hits[i]}
		for len(out) > 0 {
			last := out[len(out)-1]
			// last.Hits/last.N >= b.Hits/b.N, without rounding
			if last.Hits*b.N < b.Hits*last.N {
				break
			}
			b.Low, b.N, b.Hits = last.Low, b.N+last.N, b.Hits+last.Hits
			out = out[:len(out)-1]
		}
		out = append(out, b)
	}
	for i := range out {
		b := &out[i]
		b.Rate = float64(b.Hits) / float64(b.N)
		b.RateLow, b.RateHigh = Wilson(b.Hits, b.N, Z95)
	}
	return out
}

// Miscalibration is the mean squared distance between shares and the curve, the part of the Brier score that better
// calibration would save (to the width of a bin).
func (r *Reliability) Miscalibration() float64 {
	sum, n := 0.0, 0
	for _, b := range r.Curve() {
		for i := int(math.Round(b.Low * Bins)); i < int(math.Round(b.High*Bins)); i++ {
			mid := (float64(i) + 0.5) / Bins
			sum += float64(r.All[i]) * (mid - b.Rate) * (mid - b.Rate)
			n += r.All[i]
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}
