package stats

import (
	"encoding/json"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

// TestMcNemarPublished: discordant 1 and 7 give 0.0703 exact and 0.0391 mid-p in the worked example of Fagerland,
// Lydersen and Laake, BMC Med. Res. Methodol. 13 (2013) 91.
func TestMcNemarPublished(t *testing.T) {
	exact, mid := McNemar(1, 7)
	if !near(exact, 0.0703, 5e-5) || !near(mid, 0.0391, 5e-5) {
		t.Errorf("McNemar(1, 7) = %.5f, %.5f; published 0.0703, 0.0391", exact, mid)
	}
}

// TestMcNemarAgainstGonum checks the tails against a general-purpose statistics library's binomial distribution.
func TestMcNemarAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.IntRange(0, 60).Draw(t, "a"), rapid.IntRange(0, 60).Draw(t, "b")
		if a+b == 0 {
			return
		}
		d := distuv.Binomial{N: float64(a + b), P: 0.5}
		k := float64(min(a, b))
		exact, mid := McNemar(a, b)
		if want := math.Min(1, 2*d.CDF(k)); !near(exact, want, 1e-9) {
			t.Errorf("exact(%d, %d) = %g, want %g", a, b, exact, want)
		}
		want := 2*d.CDF(k) - d.Prob(k)
		if a == b {
			want = 1 - d.Prob(k)/2
		}
		if !near(mid, want, 1e-9) {
			t.Errorf("mid(%d, %d) = %g, want %g", a, b, mid, want)
		}
	})
}

// TestWilson checks published examples of R. G. Newcombe, Stat. Med. 17 (1998) 857 (from memory), and that both ends
// solve the equation that defines the interval, |p - q| = z sqrt(q (1 - q) / n).
func TestWilson(t *testing.T) {
	for _, x := range []struct {
		k, n      int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		low, high := Wilson(x.k, x.n, Z95)
		if !near(low, x.low, 5e-5) || !near(high, x.high, 5e-5) {
			t.Errorf("Wilson(%d, %d) = %.4f, %.4f; from memory %.4f, %.4f", x.k, x.n, low, high, x.low, x.high)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 2000).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		p := float64(k) / float64(n)
		low, high := Wilson(k, n, Z95)
		for _, q := range []float64{low, high} {
			if q == 0 || q == 1 {
				continue
			}
			if !near(math.Abs(p-q), Z95*math.Sqrt(q*(1-q)/float64(n)), 1e-9) {
				t.Errorf("%d of %d: %g is no end of the interval", k, n, q)
			}
		}
		if low > p || high < p {
			t.Errorf("%d of %d: [%g, %g] misses %g", k, n, low, high, p)
		}
	})
	for _, n := range []int{0, -1} {
		if low, high := Wilson(0, n, Z95); low != 0 || high != 1 {
			t.Errorf("of nothing (%d): %g, %g", n, low, high)
		}
	}
}

// TestZ95 checks the quantile against gonum's normal distribution.
func TestZ95(t *testing.T) {
	if want := distuv.UnitNormal.Quantile(0.975); !near(Z95, want, 1e-12) {
		t.Errorf("Z95 = %v, want %v", Z95, want)
	}
}

func TestScores(t *testing.T) {
	var s, a, b Scores
	for i, share := range []float64{0.9, 0.2, 0.5, 1} {
		s.Add(share, i%2 == 0)
		if i < 2 {
			a.Add(share, i%2 == 0)
		} else {
			b.Add(share, i%2 == 0)
		}
	}
	brier, log := s.Means()
	if want := (0.01 + 0.04 + 0.25 + 1) / 4; !near(brier, want, 1e-9) {
		t.Errorf("Brier %g, want %g", brier, want)
	}
	if want := -(math.Log(0.9) + math.Log(0.8) + math.Log(0.5) + math.Log(logFloor)) / 4; !near(log, want, 1e-9) {
		t.Errorf("log score %g, want %g", log, want)
	}
	a.Merge(b)
	if a != s {
		t.Errorf("merged %+v, whole %+v", a, s)
	}
}

// TestCurve checks the algorithm against what defines it: the curve never falls, keeps the sums of each block, and no
// other split of a block at any place would be non-decreasing.
func TestCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var r, first, second Reliability
		for range rapid.IntRange(0, 300).Draw(t, "n") {
			share, hit := rapid.Float64Range(0, 1).Draw(t, "share"), rapid.Bool().Draw(t, "hit")
			r.Add(share, hit)
			if rapid.Bool().Draw(t, "part") {
				first.Add(share, hit)
			} else {
				second.Add(share, hit)
			}
		}
		last, all := -1.0, 0
		for _, b := range r.Curve() {
			if b.Rate <= last {
				t.Errorf("the curve falls: %g after %g", b.Rate, last)
			}
			if b.Rate < b.RateLow || b.Rate > b.RateHigh {
				t.Errorf("the band [%g, %g] misses %g", b.RateLow, b.RateHigh, b.Rate)
			}
			last, all = b.Rate, all+b.N
			n, hits := 0, 0
			for i := int(math.Round(b.Low * Bins)); i < int(math.Round(b.High*Bins)); i++ {
				n, hits = n+r.All[i], hits+r.Hits[i]
				if n > 0 && n < b.N && hits*(b.N-n) < (b.Hits-hits)*n {
					t.Errorf("the block from %g could be split at %d", b.Low, i)
				}
			}
			if n != b.N || hits != b.Hits {
				t.Errorf("the block from %g holds %d of %d, want %d of %d", b.Low, b.Hits, b.N, hits, n)
			}
		}
		raw, err := json.Marshal(second)
		if err != nil {
			t.Fatal(err)
		}
		var back Reliability
		if err := json.Unmarshal(raw, &back); err != nil {
			t.Fatal(err)
		}
		first.Merge(&back)
		if first != r {
			t.Error("merged parts differ from the whole")
		}
		if m := r.Miscalibration(); all > 0 && (m < 0 || m > 1) {
			t.Errorf("miscalibration %g", m)
		}
	})
}

func TestReliabilityThatCantBe(t *testing.T) {
	for _, text := range []string{`{"bins":10,"counts":[]}`, `{"bins":1000,"counts":[[1000,1,1]]}`,
		`{"bins":1000,"counts":[[-1,1,1]]}`, `{"bins":1000,"counts":[[1,1,2]]}`, `[]`} {
		if err := json.Unmarshal([]byte(text), &Reliability{}); err == nil {
			t.Errorf("%s was read", text)
		}
	}
}
