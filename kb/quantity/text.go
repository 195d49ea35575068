package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Text writes a value with its standard uncertainty, both to the last figure that the uncertainty leaves meaningful:
// one significant figure of it, two where the first is a 1. Without uncertainty the value is written in full.
func Text(value, u float64) string {
	if u == 0 || !finite(u) {
		return strconv.FormatFloat(value, 'g', -1, 64)
	}
	digits := meaningful(u)
	v := strconv.FormatFloat(value, 'f', digits, 64)
	if strings.Trim(v, "-0.") == "" {
		v = strings.TrimPrefix(v, "-")
	}
	return v + " ± " + strconv.FormatFloat(round(u, digits), 'g', -1, 64)
}

// Meant is a value as Text writes it.
func Meant(value, u float64) float64 {
	if u == 0 || !finite(u) {
		return value
	}
	x, err := strconv.ParseFloat(strconv.FormatFloat(value, 'f', meaningful(u), 64), 64)
	switch {
	case err != nil:
		return value
	case x == 0:
		return 0 // and not -0
	}
	return x
}

// meaningful is how many digits behind the point an uncertainty leaves meaningful.
func meaningful(u float64) int {
	exponent := int(math.Floor(math.Log10(u)))
	digits := -exponent
	if x := math.Round(u / math.Pow10(exponent-1)); x < 20 && x != 10 {
		digits++ // 0.0015, but 0.001 rather than 0.0010
	}
	return max(0, min(digits, 9))
}

// round keeps the figures that are told; of an uncertainty too small for them it keeps the first.
func round(u float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(u, 'f', digits, 64), 64)
	if err != nil || r == 0 {
		r, err = strconv.ParseFloat(strconv.FormatFloat(u, 'g', 1, 64), 64)
	}
	if err != nil {
		return u
	}
	return r
}

// Format writes a quantity as Text does; hard limits as "above 1.81", "below 2.3" or "2.6 to 2.7".
func (q Q) Format(ctx *Context) string {
	if !q.Bounded {
		return Text(q.Value, q.Uncertainty(ctx))
	}
	return FormatBounds(q.Lo, q.Hi)
}

// FormatBounds writes hard limits in words. Limits that Above and Below moved by one place are written as given.
func FormatBounds(lo, hi float64) string {
	g := func(v float64) string { return strconv.FormatFloat(v, 'g', 12, 64) }
	switch {
	case math.IsInf(lo, -1) && math.IsInf(hi, 1):
		return "anything"
	case math.IsInf(hi, 1):
		return "above " + g(lo)
	case math.IsInf(lo, -1):
		return "below " + g(hi)
	default:
		return g(lo) + " to " + g(hi)
	}
}
