package quantity

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// Rounding as is usual in print: the uncertainty to one significant figure, to two where it begins with a 1 and goes on
// (common practice), and the value to the same place; digits before the point all stand.
func TestText(t *testing.T) {
	for _, c := range []struct {
		value, u float64
		want     string
	}{
		{3.51179, 0.00231, "3.512 ± 0.002"},
		{3.51179, 0.0220, "3.51 ± 0.02"},
		{3.51179, 0.0123, "3.512 ± 0.012"},
		{3.51179, 0.0196, "3.51 ± 0.02"},
		{3.5, 0.001, "3.500 ± 0.001"},
		{3.5, 0.01, "3.50 ± 0.01"},
		{3.5, 0.1, "3.5 ± 0.1"},
		{3.5, 1, "4 ± 1"},
		{3.5, 0.0015, "3.5000 ± 0.0015"},
		{-0.02, 0.3, "0.0 ± 0.3"},
		{998.2067, 0.2056, "998.2 ± 0.2"},
		{50000838, 31.66, "50000838 ± 32"},
		{1.81, 0, "1.81"},
		{1.81, math.Inf(1), "1.81"},
		{1, 1e-12, "1.000000000 ± 1e-12"},
	} {
		if got := Text(c.value, c.u); got != c.want {
			t.Errorf("Text(%g, %g) = %q, want %q", c.value, c.u, got, c.want)
		}
		before, _, _ := strings.Cut(c.want, " ")
		if want, err := strconv.ParseFloat(before, 64); err != nil || Meant(c.value, c.u) != want {
			t.Errorf("Meant(%g, %g) = %g, want %s", c.value, c.u, Meant(c.value, c.u), before)
		}
	}
}

func TestFormat(t *testing.T) {
	ctx := &Context{U: []float64{0.02}}
	for want, q := range map[string]Q{
		"3.52 ± 0.02": Measured(3.52, 0),
		"3.52":        Exact(3.52),
		"above 1.81":  Above(1.81),
		"below 2.3":   Below(2.3),
		"2.6 to 2.7":  Between(2.6, 2.7),
		"anything":    Between(math.Inf(-1), math.Inf(1)),
	} {
		if got := q.Format(ctx); got != want {
			t.Errorf("%+v: %q, want %q", q, got, want)
		}
	}
}
