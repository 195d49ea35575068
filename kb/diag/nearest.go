package diag

import (
	"slices"
	"unicode"
)

// longestName is the length in runes beyond which no near name is looked for: nothing so long is a misspelt name.
const longestName = 64

// Nearest returns the known name that is closest to name by optimal string alignment (insertions, deletions,
// substitutions and swaps of neighbours, each costing one), or "" when none is close enough. Letter case is ignored, and
// '_', '-' and ' ' are alike. A name that shares no letter is never near. Of equally close names the first in sorted
// order is taken, whatever the order of known.
func Nearest(name string, known []string) string {
	a := folded(name)
	if len(a) == 0 || len(a) > longestName {
		return ""
	}
	best, bestAt := "", threshold(len(a))+1
	sorted := slices.Sorted(slices.Values(known))
	for _, k := range sorted {
		b := folded(k)
		if len(b)-len(a) >= bestAt || len(a)-len(b) >= bestAt {
			continue
		}
		if d := alignment(a, b); d < bestAt && d < max(len(a), len(b)) {
			best, bestAt = k, d
		}
	}
	return best
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
