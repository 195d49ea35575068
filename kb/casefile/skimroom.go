package casefile

import (
	"math"
	"slices"
	"strings"

	"whystone/kb/vocab"
)

// Room is a case whose memory is used again for another: with it goes all that it holds.
type Room struct {
	Case    Case
	own     []*Reading // readings that are the case's own; the first used of them hold one
	used    int
	numbers [5]float64
	counted int
	seen    [4]uint64 // observables, by index
	further map[int]bool
	spoilt  []string // by the number of a test; nil: not asked yet
}

func (room *Room) empty() {
	room.Case = Case{Readings: room.Case.Readings[:0]}
	room.used, room.counted, room.seen, room.spoilt = 0, 0, [4]uint64{}, nil
	clear(room.further)
}

// first tells whether an observable is given for the first time.
func (room *Room) first(o *vocab.Observable) bool {
	if o.Index >= 64*len(room.seen) {
		if room.further == nil {
			room.further = map[int]bool{}
		}
		was := room.further[o.Index]
		room.further[o.Index] = true
		return !was
	}
	word, bit := &room.seen[o.Index/64], uint64(1)<<(o.Index%64)
	was := *word&bit != 0
	*word |= bit
	return !was
}

// reading is a copy of a reading that is the case's own.
func (room *Room) reading(of *Reading) *Reading {
	if room.used == len(room.own) {
		room.own = append(room.own, new(Reading))
	}
	r := room.own[room.used]
	room.used++
	*r = *of
	return r
}

// number keeps a number of the stone, or the stake.
func (room *Room) number(x float64) *float64 {
	at := &room.numbers[room.counted]
	room.counted++
	*at = x
	return at
}

// spoilers are the tests whose readings a stone may spoil, and what is remembered of stones.
type spoilers struct {
	tests  []string
	looks  [len(stoneNumbers)]bool // which of a stone's truths and numbers any of them looks at
	cuts   [len(stoneNumbers)][]float64
	close  [len(stoneNumbers)]bool // which of them it looks at closely
	unsure bool                    // they may look at something else
	stones map[stoneKey][]string
}

// stoneNumbers are the first of stoneKeys: four truths, and then four numbers.
var stoneNumbers = [8]string(stoneKeys[:8])

// stoneKey is what a stone shows of the properties that are looked at: of a truth what it is, of a number where it lies
// among the cuts, or all its bits.
type stoneKey [len(stoneNumbers)]uint64

func (sp *spoilers) of(rd *Reader) {
	sp.stones = map[stoneKey][]string{}
	if rd.Spoils == nil {
		return
	}
	for _, t := range rd.Vocabulary.Tests {
		reads, ok := rd.SpoilsBy(t)
		if !ok {
			continue
		}
		sp.tests = append(sp.tests, t)
		for _, look := range reads {
			key, ofStone := strings.CutPrefix(look.Name, "stone.")
			at := slices.Index(stoneNumbers[:], key)
			if !ofStone || at < 0 {
				sp.unsure = true
				continue
			}
			sp.looks[at], sp.close[at] = true, sp.close[at] || look.Closely
			sp.cuts[at] = append(sp.cuts[at], look.Cuts...)
		}
	}
	for at := range sp.cuts {
		slices.Sort(sp.cuts[at])
	}
}

// number is that of the test which decides whether a stone spoils a reading, or -1.
func (sp *spoilers) number(r *Reading) int {
	if !r.Usable() {
		return -1
	}
	return slices.Index(sp.tests, r.Tests[0])
}

// why is why the stone of a case spoils a reading by a test; empty when it does not.
func (sp *spoilers) why(rd *Reader, room *Room, test int) string {
	if room.spoilt == nil {
		room.spoilt = sp.all(rd, &room.Case)
	}
	return room.spoilt[test]
}

// all is why a stone spoils readings by each of the tests.
func (sp *spoilers) all(rd *Reader, c *Case) []string {
	key := sp.key(&c.Stone)
	if was, ok := sp.stones[key]; ok { // none is there while unsure
		return was
	}
	out := make([]string, len(sp.tests))
	for i, t := range sp.tests {
		out[i] = rd.Spoils(c, t)
	}
	if !sp.unsure && len(sp.stones) < mostTexts {
		sp.stones[key] = out
	}
	return out
}

func (sp *spoilers) key(s *Stone) (k stoneKey) {
	for i, b := range [...]*bool{s.Mounted, s.Warm, s.Wet, s.Coated} {
		if b != nil && sp.looks[i] {
			k[i] = 1
			if *b {
				k[i] = 2
			}
		}
	}
	for i, x := range [...]*float64{s.Carat, s.Length, s.Width, s.Depth} {
		switch at := 4 + i; {
		case x == nil || !sp.looks[at]:
		case sp.close[at]:
			k[at] = math.Float64bits(*x) // above zero, so that 0 is none
		default:
			above, on := slices.BinarySearch(sp.cuts[at], *x)
			if k[at] = uint64(1 + 2*above); on {
				k[at]++
			}
		}
	}
	return k
}
