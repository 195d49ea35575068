package diag

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// longestName is the length in runes beyond which no near name is looked for: nothing so long is a misspelt name.
const longestName = 64

// Nearest returns the known name that is closest to name by optimal string alignment (insertions, deletions,
// substitutions and swaps of neighbours, each costing one), or "" when none is close enough. Letter case is ignored,
// and '_', '-' and ' ' are alike. A name that shares no letter is never near. Of equally close names those come first
// that begin with the same letter (people seldom miss the first), then those that end with the same, then those of the
// same length, then the first in sorted order, whatever the order of known.
func Nearest(name string, known []string) string { return NearestOf(name, known) }

// Meant asks, behind what is wrong, whether the nearest known name was meant. It says nothing where there is none.
func Meant(nearest string) string {
	if nearest == "" {
		return ""
	}
	return "; did you mean " + strconv.Quote(nearest) + "?"
}

// NearestOf is [Nearest] over several lists, the best fitting first: of equally close names one of an earlier list is
// taken.
func NearestOf(name string, lists ...[]string) string {
	a := folded(name)
	if len(a) == 0 || len(a) > longestName {
		return ""
	}
	best, rank := "", nearness{distance: threshold(len(a)) + 1}
	for i, known := range lists {
		for _, k := range slices.Sorted(slices.Values(known)) {
			b := folded(k)
			apart := max(len(b)-len(a), len(a)-len(b))
			if len(b) == 0 || apart > rank.distance {
				continue
			}
			d := nearness{distance: alignment(a, b), list: i, length: apart}
			if a[0] != b[0] {
				d.first = 1
			}
			if a[len(a)-1] != b[len(b)-1] {
				d.last = 1
			}
			if d.distance < max(len(a), len(b)) && d.before(rank) {
				best, rank = k, d
			}
		}
	}
	return best
}

// NearestOrAbbreviated is [NearestOf], but where no name is within two slips, the only name of a list is preferred
// whose initials are name, or that is the initials of name: "sg" and "specific_gravity"; and where none is near at all,
// the only one that has name as a word.
func NearestOrAbbreviated(name string, lists ...[]string) string {
	near, a := NearestOf(name, lists...), folded(name)
	if near != "" && alignment(a, folded(near)) <= min(2, len(a)-1) {
		return near
	}
	for _, known := range lists {
		var short []string
		for _, k := range known {
			b := folded(k)
			if len(a) > 1 && len(b) > 1 && (slices.Equal(initials(b), a) || slices.Equal(initials(a), b)) {
				short = append(short, k)
			}
		}
		if len(short) == 1 {
			return short[0]
		}
	}
	if near == "" {
		return partNamed(string(a), lists)
	}
	return near
}

// partNamed is the only name that has a word of four letters or more: "probe" of "thermal_probe".
func partNamed(word string, lists [][]string) string {
	var found []string
	for _, known := range lists {
		for _, k := range known {
			if len(word) >= 4 && slices.Contains(strings.FieldsFunc(string(folded(k)),
				func(r rune) bool { return r == ' ' || r == '.' }), word) {
				found = append(found, k)
			}
		}
	}
	if len(found) == 1 {
		return found[0]
	}
	return ""
}

// Slip returns the known name of which name is a slip of the pen: one letter off, or two of a long one. It is "" of a
// name that is known itself.
func Slip(name string, known []string) string {
	near := Nearest(name, known)
	a, b := folded(name), folded(near)
	if near == "" || near == name || alignment(a, b) > 1+min(len(a), len(b))/8 {
		return ""
	}
	return near
}

// ByWords is the one known name that has most words of name, two at least, in whatever order: "694 nm doublet" of
// "doublet at 694 nm". Where several have as many it is "".
func ByWords(name string, known []string) string {
	words := strings.Fields(string(folded(name)))
	best, most := "", 1
	for _, k := range known {
		n := 0
		for _, w := range strings.Fields(string(folded(k))) {
			if slices.Contains(words, w) {
				n++
			}
		}
		switch {
		case n > most:
			best, most = k, n
		case n == most:
			best = ""
		}
	}
	return best
}

// initials are the first letters of a folded name's words.
func initials(name []rune) (out []rune) {
	for i, r := range name {
		if r != ' ' && (i == 0 || name[i-1] == ' ') {
			out = append(out, r)
		}
	}
	return out
}

// nearness is by what names are preferred, the weightiest first.
type nearness struct{ distance, list, first, last, length int }

func (n nearness) before(o nearness) bool {
	return cmp.Or(cmp.Compare(n.distance, o.distance), cmp.Compare(n.list, o.list), cmp.Compare(n.first, o.first),
		cmp.Compare(n.last, o.last), cmp.Compare(n.length, o.length)) < 0
}

// threshold is the largest distance at which a name of n runes still counts as a slip.
func threshold(n int) int {
	if n <= 3 {
		return 1
	}
	return n/3 + 1
}

func folded(s string) []rune {
	out := make([]rune, 0, len(s))
	for _, r := range s {
		if len(out) > longestName*2 {
			break
		}
		if r == '_' || r == '-' {
			r = ' '
		}
		out = append(out, unicode.ToLower(r))
	}
	return out
}

// alignment is the optimal string alignment distance: Damerau-Levenshtein in which no substring is edited twice.
func alignment(a, b []rune) int {
	before, last, now := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		now[0] = i
		for j := 1; j <= len(b); j++ {
			change := last[j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			now[j] = min(last[j]+1, now[j-1]+1, change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return last[len(b)]
}
