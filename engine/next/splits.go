package next

import (
	"cmp"
	"math"
	"slices"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/english"
)

// What counts as a candidate worth parting, how many are looked at, and from which distance on two are parted.
const (
	splitShare = 0.01
	splitMost  = 8
	splitApart = 0.5
)

// splits puts the likeliest candidates into groups which a look parts: within a group one is linked to another from
// which its outcomes do not differ by half (total variation distance). There are none when all are in one group.
func (b *bench) splits(f *figures) [][]*kb.Material {
	leaves := b.candidates()
	groups := linked(len(leaves), func(i, k int) bool { return apart(f, leaves[i], leaves[k]) < splitApart })
	if len(groups) < 2 {
		return nil
	}
	return english.Each(groups, func(g []int) []*kb.Material {
		return english.Each(g, func(i int) *kb.Material { return b.e.Ruleset.Leaves[leaves[i]] })
	})
}

// linked puts so many things into groups, of which no thing of one is near to one of another.
func linked(n int, near func(i, k int) bool) (groups [][]int) {
	group := make([]int, n)
	for i := range group {
		group[i] = i
	}
	for i := range group {
		for k := range i {
			if !near(i, k) {
				continue
			}
			old, now := group[i], group[k]
			for n := range group {
				if group[n] == old {
					group[n] = now
				}
			}
		}
	}
	for i, g := range group {
		if slices.Contains(group[:i], g) {
			continue
		}
		var some []int
		for k := i; k < n; k++ {
			if group[k] == g {
				some = append(some, k)
			}
		}
		groups = append(groups, some)
	}
	return groups
}

// ids are those by which output tells leaves.
func ids(groups [][]*kb.Material) [][]string {
	out := [][]string{}
	for _, g := range groups {
		var some []string
		for _, m := range g {
			if id := engine.Told(m).ID; !slices.Contains(some, id) {
				some = append(some, id)
			}
		}
		out = append(out, some)
	}
	return out
}

// candidates lists the leaves without exclusion that hold most, by falling share, ties by id.
func (b *bench) candidates() []int {
	rs, j := b.e.Ruleset, b.players[0].judge
	b.players[0].play(b.c)
	out := english.Only(rs.Leaves, func(m *kb.Material) (int, bool) { return m.Index, j.Share(m) >= splitShare })
	slices.SortStableFunc(out, func(x, y int) int { return cmp.Compare(j.Share(rs.Leaves[y]), j.Share(rs.Leaves[x])) })
	return out[:min(len(out), splitMost)]
}

// apart is the total variation distance between what two leaves lead to expect, from 0 to 1.
func apart(f *figures, x, y int) float64 {
	sum := 0.0
	for i := range f.played {
		if like := f.played[i].like; like != nil {
			sum += math.Abs(like[x] - like[y])
		}
	}
	return sum / 2
}

// likeliestTwo are the two candidates that hold most; none: nothing on the list holds anything.
func (b *bench) likeliestTwo() []*kb.Material {
	two := b.candidates()
	return english.Each(two[:min(len(two), 2)], func(i int) *kb.Material { return b.e.Ruleset.Leaves[i] })
}
