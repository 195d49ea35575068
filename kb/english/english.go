// Package english has the small parts of sentences: lists of words, counts of things, large numbers.
package english

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// List writes words one after another, with "and" or "or" before the last.
func List(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

// Count is a number of things: "1 case", "20,000 cases".
func Count[N int | int64](n N, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return Thousands(float64(n)) + " " + many
}

// Thousands writes a whole number with commas between its thousands. What is behind the point is rounded away.
func Thousands(x float64) string {
	digits := strconv.FormatFloat(x, 'f', 0, 64)
	sign := ""
	if digits[0] == '-' {
		sign, digits = "-", digits[1:]
	}
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	return sign + digits
}

// Few are the first of many words, with how many there are besides: one more is named, too.
func Few(words []string, most int) []string {
	if len(words) <= most+1 {
		return words
	}
	return append(slices.Clone(words[:most]), fmt.Sprintf("%d more", len(words)-most))
}

// Each is what things of a list are one by one: their words, mostly. Of no things it is nil.
func Each[T, U any](list []T, of func(T) U) []U {
	if len(list) == 0 {
		return nil // so that a reason that is about little costs little
	}
	out := make([]U, len(list))
	for i, x := range list {
		out[i] = of(x)
	}
	return out
}

// Only is Each of those things of a list of which there is something to say.
func Only[T, U any](list []T, of func(T) (U, bool)) []U {
	var out []U
	for _, x := range list {
		if says, ok := of(x); ok {
			out = append(out, says)
		}
	}
	return out
}

// Grouped parts a list by what its things have in common, in the order in which that comes first.
func Grouped[T any, K comparable](list []T, common func(T) K) (order []K, by map[K][]T) {
	by = map[K][]T{}
	for _, x := range list {
		key := common(x)
		if by[key] == nil {
			order = append(order, key)
		}
		by[key] = append(by[key], x)
	}
	return order, by
}
