// Package stats has the statistics of replaying an archive: rates with intervals, paired comparison of two rulesets,
// scores of shares against truths, and reliability. Everything is a function of counts and sums, so that partial
// results can be merged.
package stats

import "math"

// Wilson is the score interval of a proportion, k of n, at normal quantile z (1.96 for 95 %): E. B. Wilson, Probable
// inference, the law of succession, and statistical inference, J. Am. Stat. Assoc. 22 (1927) 209. Of nothing at all it
// is [0, 1].
func Wilson(k, n int, z float64) (low, high float64) {
	if n <= 0 {
		return 0, 1
	}
	p, m, z2 := float64(k)/float64(n), float64(n), z*z
	middle := (p + z2/(2*m)) / (1 + z2/m)
	half := z / (1 + z2/m) * math.Sqrt(p*(1-p)/m+z2/(4*m*m))
	low, high = math.Max(0, middle-half), math.Min(1, middle+half)
	if k == 0 {
		low = 0
	}
	if k == n {
		high = 1
	}
	return low, high
}

// Z95 is the normal quantile of a two-sided 95 % interval.
const Z95 = 1.959963984540054

// McNemar compares two rulesets on the same cases by the discordant ones: only the first right, or only the second.
// exact is the two-sided binomial probability, mid that with half the weight of what was observed (mid-p), which keeps
// its level better: M. W. Fagerland, S. Lydersen, P. Laake, BMC Med. Res. Methodol. 13 (2013) 91. Without discordant
// cases both are 1.
func McNemar(first, second int) (exact, mid float64) {
	n := first + second
	if n == 0 {
		return 1, 1
	}
	tail := 0.0
	for k := range min(first, second) + 1 {
		tail += math.Exp(logBinomial(n, k) - float64(n)*math.Ln2)
	}
	exact = math.Min(1, 2*tail)
	observed := math.Exp(logBinomial(n, min(first, second)) - float64(n)*math.Ln2)
	mid = math.Min(1, 2*tail-observed)
	if first == second {
		mid = 1 - observed/2
	}
	return exact, mid
}

func logBinomial(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// Scores sums how far shares were from truths, in whole billionths so that the sum does not depend on its order. The
// zero value is empty.
type Scores struct {
	N     int64 `json:"n"`
	Brier int64 `json:"brier_sum"` // of (share - truth)², G. W. Brier, Mon. Weather Rev. 78 (1950) 1
	Log   int64 `json:"log_sum"`   // of -ln of the share given to what was true
}

const (
	// logFloor keeps a share of 0 for what was true from making the log score infinite.
	logFloor = 1e-12
	billion  = 1e9
)

// Add counts one prediction: the share that a node was given, and whether it was true.
func (s *Scores) Add(share float64, true bool) {
	s.N++
	hit, t := share, 1.0
	if !true {
		hit, t = 1-share, 0
	}
	s.Brier += int64(math.Round((share - t) * (share - t) * billion))
	s.Log += int64(math.Round(-math.Log(math.Max(hit, logFloor)) * billion))
}

// Merge adds another part's sums.
func (s *Scores) Merge(o Scores) { s.N, s.Brier, s.Log = s.N+o.N, s.Brier+o.Brier, s.Log+o.Log }

// Means are the mean Brier and log scores, NaN of nothing.
func (s *Scores) Means() (brier, log float64) {
	n := float64(s.N) * billion
	return float64(s.Brier) / n, float64(s.Log) / n
}
