package bitset

import (
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// members draws a set as a map, which is what the sets are held against.
func members(t *rapid.T, below int, label string) map[int]bool {
	out := map[int]bool{}
	for _, i := range rapid.SliceOf(rapid.IntRange(0, below-1)).Draw(t, label) {
		out[i] = true
	}
	return out
}

func sorted(m map[int]bool) []int { return slices.Sorted(maps.Keys(m)) }

func where(m map[int]bool, is func(int) bool) []int {
	return slices.DeleteFunc(sorted(m), func(i int) bool { return !is(i) })
}

func joined(a, b map[int]bool) map[int]bool {
	out := maps.Clone(a)
	maps.Copy(out, b)
	return out
}

func TestFixed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		type set = Fixed[[4]uint64]
		of := func(m map[int]bool) (s set) {
			for i := range m {
				s.Add(i)
			}
			return s
		}
		a, b := members(t, 256, "a"), members(t, 256, "b")
		union, both, less := of(a), of(a), of(a)
		union.Union(of(b))
		both.Intersect(of(b))
		less.Minus(of(b))
		inBoth := where(a, func(i int) bool { return b[i] })
		for what, pair := range map[string][2][]int{
			"members": {of(a).Members(), sorted(a)}, "union": {union.Members(), sorted(joined(a, b))},
			"both": {both.Members(), inBoth}, "listed": {of(a).Both(of(b)), inBoth},
			"less": {less.Members(), where(a, func(i int) bool { return !b[i] })},
		} {
			if !slices.Equal(pair[0], pair[1]) {
				t.Fatalf("%s of %v and %v: %v, want %v", what, sorted(a), sorted(b), pair[0], pair[1])
			}
		}
		x := of(a)
		for i := range 256 {
			if x.Has(i) != a[i] {
				t.Fatalf("%v has %d: %t", sorted(a), i, x.Has(i))
			}
		}
		if x.Empty() != (len(a) == 0) || x.Meets(of(b)) != (len(inBoth) > 0) || (x == of(b)) != maps.Equal(a, b) {
			t.Fatalf("%v and %v: empty %t, meet %t", sorted(a), sorted(b), x.Empty(), x.Meets(of(b)))
		}
	})
}

func TestSet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := func(m map[int]bool) (s Set) {
			for i := range m {
				s.Add(i)
			}
			return s
		}
		a, b := members(t, rapid.SampledFrom([]int{1, 64, 65, 300}).Draw(t, "below"), "a"), members(t, 300, "b")
		union, turned := of(a), of(a)
		union.Union(of(b))
		for i := range b {
			turned.Turn(i)
		}
		inBoth := where(a, func(i int) bool { return b[i] })
		for what, pair := range map[string][2][]int{
			"members": {of(a).Members(), sorted(a)}, "union": {union.Members(), sorted(joined(a, b))},
			"both": {of(a).Both(of(b)), inBoth}, "turned": {turned.Members(),
				where(joined(a, b), func(i int) bool { return a[i] != b[i] })},
		} {
			if !slices.Equal(pair[0], pair[1]) {
				t.Fatalf("%s of %v and %v: %v, want %v", what, sorted(a), sorted(b), pair[0], pair[1])
			}
		}
		if got, want := of(a).Within(of(b)), len(inBoth) == len(a); got != want {
			t.Fatalf("%v within %v: %t", sorted(a), sorted(b), got)
		}
		if of(a).Meets(of(b)) != (len(inBoth) > 0) {
			t.Fatalf("%v meets %v: %t", sorted(a), sorted(b), of(a).Meets(of(b)))
		}
		room := New(320)
		for i := range b {
			room.Add(i)
		}
		other := New(320)
		other.Union(of(b))
		if len(room) != 5 || !slices.Equal(room, other) {
			t.Fatalf("%v is not %v", other, room)
		}
	})
}
