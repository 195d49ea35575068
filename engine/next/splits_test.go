package next

import (
	"fmt"
	"slices"
	"testing"
)

// TestLinked: each thing is in one group, whichever of its links are found first.
func TestLinked(t *testing.T) {
	for want, links := range map[string][][2]int{
		"[[0] [1] [2] [3]]": nil,
		"[[0] [1 2 3]]":     {{3, 1}, {3, 2}}, // what was linked to 1 is linked to 2 through it
		"[[0 2] [1 3]]":     {{2, 0}, {3, 1}},
		"[[0 1 2 3]]":       {{1, 0}, {3, 0}, {3, 2}},
	} {
		got := linked(4, func(i, k int) bool { return slices.Contains(links, [2]int{i, k}) })
		if fmt.Sprint(got) != want {
			t.Errorf("%v gives %v, want %s", links, got, want)
		}
	}
}
