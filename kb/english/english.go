// Package english has the small parts of sentences: lists of words, counts of things, large numbers.
package english

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// List writes words one after another, with "and" or "or" before the last. Where one of them is itself parted so,
// semicolons part them: "magnesite, dyed" is one name.
func List(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	between, end := between(words)
	return strings.Join(words[:len(words)-1], between) + end + last + " " + words[len(words)-1]
}

// Join writes words one after another, as List does, without a word before the last.
func Join(words []string) string {
	between, _ := between(words)
	return strings.Join(words, between)
}

// between is what parts words of a list, and what parts the last of them from the word before it.
func between(words []string) (between, end string) {
	if slices.ContainsFunc(words, parted) {
		return "; ", "; "
	}
	return ", ", " "
}

// parted tells whether a word of a list is itself a list.
func parted(word string) bool {
	word = bare(word)
	return strings.Contains(word, ", ") || strings.Contains(word, " or ") || strings.Contains(word, " and ")
}

// bare leaves out what stands in brackets, in which a comma parts nothing of a list.
func bare(word string) string {
	if !strings.Contains(word, "(") {
		return word
	}
	depth := 0
	return strings.Map(func(r rune) rune {
		switch r {
		case '(':
			depth++
		case ')':
			depth--
		}
		if depth > 0 {
			return -1
		}
		return r
	}, word)
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
