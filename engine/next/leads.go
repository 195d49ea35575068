package next

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// leads lists what the outcomes of a look would lead to. Neighbouring stretches of values that lead to the same are one.
func (b *bench) leads(f *figures, unclear float64) []LeadsTo {
	out := []LeadsTo{}
	for i := 0; i < len(f.played); {
		k := i + 1
		for k < len(f.played) && continuous(&f.played[i]) && f.played[k].reading.Form == f.played[i].reading.Form && alike(&f.played[i].state, &f.played[k].state) {
			k++
		}
		out = append(out, b.leadsTo(f, f.played[i:k], unclear))
		i = k
	}
	return out
}

func continuous(o *played) bool {
	return o.reading.Form == casefile.Value || o.reading.Form == casefile.Pair
}

func alike(a, b *state) bool {
	return wording.Same(&a.decision, &b.decision) && a.decision.Claim.Answer == b.decision.Claim.Answer && a.sentOn == b.sentOn
}

func (b *bench) leadsTo(f *figures, some []played, unclear float64) LeadsTo {
	l := LeadsTo{To: wording.Of(&some[0].state.decision), SentOn: some[0].state.sentOn, Outcome: f.look.says(some)}
	mass := 0.0
	for i := range some {
		mass += some[i].mass
		l.Entropy += some[i].mass * some[i].state.entropy
	}
	l.Entropy /= mass
	l.Likelihood = mass
	if some[0].reading.Usable() {
		l.Likelihood *= 1 - unclear
	}
	return l
}

// says tells an outcome in words: "strong", "no gas bubbles", "3.18 to 3.26", "above 1.81", "inconclusive".
func (l *look) says(some []played) string {
	r, o := some[0].reading, l.source.Observable
	switch r.Form {
	case casefile.Inconclusive:
		return "inconclusive"
	case casefile.Value:
		return l.rounded(some[0].lo) + " to " + l.rounded(some[len(some)-1].hi) + unit(o)
	case casefile.Pair:
		lo, hi := some[0].apart[0], some[0].apart[1]
		for i := range some {
			lo, hi = math.Min(lo, some[i].apart[0]), math.Max(hi, some[i].apart[1])
		}
		return fmt.Sprintf("low ray %s to %s, the rays %s to %s apart", l.rounded(some[0].lo), l.rounded(some[len(some)-1].hi), l.rounded(lo), l.rounded(hi))
	case casefile.Interval:
		if math.IsInf(r.Hi, 1) {
			return "above " + l.rounded(l.source.Limits[1]) + unit(o)
		}
		return "below " + l.rounded(l.source.Limits[0]) + unit(o)
	case casefile.Features:
		if r.Seen.Empty() {
			return "no " + o.Outcomes[l.feature].Name
		}
		return o.Outcomes[l.feature].Name
	}
	return o.Outcomes[r.Outcome].Name
}

// rounded writes a value to the last figure that its uncertainty leaves meaningful.
func (l *look) rounded(x float64) string {
	digits := 3
	if l.source.U > 0 {
		digits = max(0, min(9, int(math.Ceil(-math.Log10(l.source.U)))))
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

func unit(o *vocab.Observable) string {
	if o.Unit == "" || o.Unit == "1" {
		return ""
	}
	return " " + o.Unit
}

// What counts as a candidate worth parting, how many are looked at, and from which distance on two are parted.
const (
	splitShare = 0.01
	splitMost  = 8
	splitApart = 0.5
)

// splits puts the likeliest candidates into groups which a look parts: within a group one is linked to another from
// which its outcomes do not differ by half (total variation distance). There are none when all are in one group.
func (b *bench) splits(f *figures) [][]string {
	leaves := b.candidates()
	group := make([]int, len(leaves))
	for i := range group {
		group[i] = i
	}
	for i := range leaves {
		for k := range i {
			if apart(f, leaves[i], leaves[k]) < splitApart {
				old, now := group[i], group[k]
				for n := range group {
					if group[n] == old {
						group[n] = now
					}
				}
			}
		}
	}
	out := [][]string{}
	for i, g := range group {
		if g != i && slices.Contains(group[:i], g) {
			continue
		}
		var ids []string
		for k := range group {
			if group[k] == g {
				ids = append(ids, b.e.Ruleset.Leaves[leaves[k]].ID)
			}
		}
		out = append(out, ids)
	}
	if len(out) < 2 {
		return [][]string{}
	}
	return out
}

// candidates lists the leaves without exclusion that hold most, by falling share, ties by id.
func (b *bench) candidates() []int {
	rs, j := b.e.Ruleset, b.players[0].judge
	b.players[0].play(b.c)
	var out []int
	for i, m := range rs.Leaves {
		if j.Share(m) >= splitShare {
			out = append(out, i)
		}
	}
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

// within reach: whether the house can bring the verdict further at all.

// reach tells whether all that the house can still do would bring the verdict further if the stone were of some material
// of weight and everything came out as its sheet leads to expect.
func (b *bench) reach(able func(t int) bool) bool {
	p := b.players[0]
	for leaf := range b.e.Ruleset.Leaves {
		if b.w[leaf] < splitShare/10 {
			continue
		}
		s := p.play(b.imagined(leaf, able))
		if s.rank > b.base.rank {
			return true
		}
	}
	return false
}

// imagined is the case with every test that can be done as it is expected of a leaf. What was read stays as it is.
func (b *bench) imagined(leaf int, able func(t int) bool) *casefile.Case {
	c := *b.c
	c.Readings = slices.Clone(b.c.Readings)
	for t := range b.e.Ruleset.Tests {
		if !able(t) {
			continue
		}
		for _, r := range b.expected[leaf][t] {
			if i := slices.IndexFunc(c.Readings, func(o *casefile.Reading) bool { return o.Observable == r.Observable }); i < 0 {
				c.Add(r)
			} else if !c.Readings[i].Usable() {
				c.Readings[i] = r
			}
		}
	}
	return &c
}

// likeliestTwo names the two candidates that hold most, by id, for a sentence.
func (b *bench) likeliestTwo() []string {
	var out []string
	for _, i := range b.candidates() {
		if len(out) < 2 {
			out = append(out, wording.Leaf(b.e.Ruleset, i))
		}
	}
	if len(out) == 0 {
		out = append(out, wording.Leaf(b.e.Ruleset, engine.Unlisted))
	}
	return out
}
