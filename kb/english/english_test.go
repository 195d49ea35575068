package english

import (
	"slices"
	"strconv"
	"testing"
)

func TestSentenceParts(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{List(nil, "or"), ""},
		{List([]string{"a"}, "or"), "a"},
		{List([]string{"a", "b"}, "or"), "a or b"},
		{List([]string{"a", "b", "c"}, "and"), "a, b and c"},
		{List([]string{"a, dyed", "b"}, "or"), "a, dyed; or b"},
		{List([]string{"a", "b or c", "d"}, "or"), "a; b or c; or d"},
		{List([]string{"a", "b or c", "d"}, "and"), "a; b or c; and d"},
		{List([]string{"a (x, or y)", "b", "c"}, "or"), "a (x, or y), b or c"},
		{List([]string{"b or c"}, "or"), "b or c"},
		{Join([]string{"a", "b or c"}), "a; b or c"},
		{Join([]string{"a", "b, dyed", "c"}), "a; b, dyed; c"},
		{Count(0, "case", "cases"), "0 cases"},
		{Count(1, "case", "cases"), "1 case"},
		{Count(int64(20000), "entry", "entries"), "20,000 entries"},
		{Thousands(999), "999"},
		{Thousands(1000), "1,000"},
		{Thousands(1234567.6), "1,234,568"},
		{Thousands(-123), "-123"},
		{Thousands(-1234), "-1,234"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// TestOnly: what is left out leaves no gap, and of nothing there is nothing.
func TestOnly(t *testing.T) {
	even := func(n int) (string, bool) { return strconv.Itoa(n), n%2 == 0 }
	if got := Only([]int{1, 2, 3, 4}, even); !slices.Equal(got, []string{"2", "4"}) {
		t.Errorf("%q", got)
	}
	if got := Only([]int{1}, even); got != nil {
		t.Errorf("%q of nothing", got)
	}
}

// TestGrouped: groups stand in the order of their first, and so do the things of each.
func TestGrouped(t *testing.T) {
	order, by := Grouped([]string{"b1", "a1", "b2"}, func(s string) byte { return s[0] })
	if !slices.Equal(order, []byte("ba")) || !slices.Equal(by['b'], []string{"b1", "b2"}) || len(by['a']) != 1 {
		t.Errorf("%q, %q", order, by)
	}
}
