package stats

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

// rscript runs a program in R, a general-purpose statistics library that has nothing to do with this one, and returns
// the numbers that it prints. Without R the test is skipped, unless WHYSTONE_REQUIRE_ALL=1 asks for all of them.
func rscript(t *testing.T, program string) []float64 {
	t.Helper()
	path, err := exec.LookPath("Rscript")
	if err != nil {
		if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
			t.Fatal("Rscript is not installed, and WHYSTONE_REQUIRE_ALL=1 asks for it")
		}
		t.Skip("Rscript is not installed: the statistics are not compared with R's")
	}
	cmd := exec.Command(path, "--vanilla", "-")
	cmd.Stdin = strings.NewReader("options(digits = 17)\n" + program)
	var wrong strings.Builder
	cmd.Stderr = &wrong
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("R: %s\n%s", err, wrong.String())
	}
	var numbers []float64
	for _, word := range strings.Fields(string(out)) {
		x, err := strconv.ParseFloat(word, 64)
		if err != nil {
			t.Fatalf("R printed %q", word)
		}
		numbers = append(numbers, x)
	}
	return numbers
}

// TestAgainstR compares McNemar's exact test with binom.test and its mid-p with dbinom (what is as likely as what was
// observed counts half), and Wilson's interval with prop.test without continuity correction.
func TestAgainstR(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 5))
	pairs := [][2]int{{1, 7}, {0, 5}, {6, 6}, {0, 1}, {300, 341}}
	for range 60 {
		pairs = append(pairs, [2]int{rng.IntN(80), 1 + rng.IntN(80)})
	}
	var a, b []string
	for _, p := range pairs {
		a, b = append(a, strconv.Itoa(p[0])), append(b, strconv.Itoa(p[1]))
	}
	got := rscript(t, fmt.Sprintf(`a <- c(%s); b <- c(%s)
for (i in seq_along(a)) {
  n <- a[i] + b[i]
  exact <- binom.test(a[i], n)$p.value
  mid <- exact - dbinom(a[i], n, 0.5)
  if (a[i] == b[i]) mid <- 1 - dbinom(a[i], n, 0.5) / 2
  ends <- suppressWarnings(prop.test(a[i], n, correct = FALSE))$conf.int
  cat(exact, mid, ends[1], ends[2], "\n")
}`, strings.Join(a, ","), strings.Join(b, ",")))
	if len(got) != 4*len(pairs) {
		t.Fatalf("R printed %d numbers, want %d", len(got), 4*len(pairs))
	}
	for i, p := range pairs {
		exact, mid := McNemar(p[0], p[1])
		low, high := Wilson(p[0], p[0]+p[1], Z95)
		for j, x := range []float64{exact, mid, low, high} {
			if !near(x, got[4*i+j], 1e-9) {
				t.Errorf("%v: %s is %.12g, R has %.12g", p, [...]string{"exact", "mid-p", "low end", "high end"}[j], x,
					got[4*i+j])
			}
		}
	}
}

// TestCurveAgainstR compares the curve with isoreg, R's isotonic regression by least squares, at every prediction.
func TestCurveAgainstR(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 8))
	var r Reliability
	var bins, hits []string
	for range 800 {
		bin := rng.IntN(Bins)
		hit := rng.Float64() < 0.2+0.6*float64(bin)/Bins
		r.Add((float64(bin)+0.5)/Bins, hit)
		bins = append(bins, strconv.Itoa(bin))
		hits = append(hits, map[bool]string{true: "1", false: "0"}[hit])
	}
	// Ties: predictions of one bin are one point of its mean, weighted. isoreg knows no weights, so that the mean
	// stands once for each of them.
	got := rscript(t, fmt.Sprintf(`x <- c(%s); y <- c(%s)
o <- order(x); x <- x[o]; y <- ave(y[o], x)
fit <- isoreg(seq_along(x), y)
cat(x, sep = "\n"); cat("\n"); cat(fit$yf, sep = "\n")`, strings.Join(bins, ","), strings.Join(hits, ",")))
	if len(got) != 2*len(bins) {
		t.Fatalf("R printed %d numbers, want %d", len(got), 2*len(bins))
	}
	curve := r.Curve()
	if len(curve) < 5 {
		t.Fatalf("a curve of %d blocks compares little", len(curve))
	}
	k := 0
	for i := range bins {
		share := (got[i] + 0.5) / Bins
		for share > curve[k].High {
			k++
		}
		if want := got[len(bins)+i]; !near(curve[k].Rate, want, 1e-9) {
			t.Errorf("at %g the curve is %.12g, R's is %.12g", share, curve[k].Rate, want)
		}
	}
}
