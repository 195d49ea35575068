package condition

import (
	"math/bits"

	"whystone/kb/logic"
)

// Many cases are tried side by side by laying the truths of each node of a program out in two planes of bits, "holds"
// and "fails", in which each case has its lane. As three truths are two bits, "and" is two operations on words of 64
// lanes, "not" changes the planes' names, and no processor has to guess which way a case goes. See [Planes].

// Lanes is how many cases lie side by side.
const Lanes = 512

// Plane is a bit for each lane.
type Plane [Lanes / 64]uint64

// Has tells whether a lane's bit is set.
func (p *Plane) Has(lane int) bool { return p[lane>>6]>>(lane&63)&1 == 1 }

// Set sets a lane's bit.
func (p *Plane) Set(lane int) { p[lane>>6] |= 1 << (lane & 63) }

// Count is how many bits are set.
func (p *Plane) Count() (n int) {
	for _, w := range p {
		n += bits.OnesCount64(w)
	}
	return n
}

// Or adds the bits of o.
func (p *Plane) Or(o *Plane) {
	for i := range p {
		p[i] |= o[i]
	}
}

// Less takes the bits of o away.
func (p *Plane) Less(o *Plane) {
	for i := range p {
		p[i] &^= o[i]
	}
}

// And keeps the bits of o.
func (p *Plane) And(o *Plane) {
	for i := range p {
		p[i] &= o[i]
	}
}

// Each calls f with every lane whose bit is set, rising.
func (p *Plane) Each(f func(lane int)) {
	for i, w := range p {
		for ; w != 0; w &= w - 1 {
			f(i<<6 + bits.TrailingZeros64(w))
		}
	}
}

// Truths is what the lanes of a node are.
type Truths struct{ Holds, Fails Plane }

// Put makes one undecided lane what v says.
func (t *Truths) Put(lane int, v logic.Value) {
	t.Holds[lane>>6] |= uint64(v&logic.Holds) << (lane & 63)
	t.Fails[lane>>6] |= uint64(v&logic.Fails>>1) << (lane & 63)
}

// Planes evaluates a program for many cases at once. The leaves on slots that do not change while the program runs are
// put in by whoever has the cases; for the others [Planes.Run] asks.
type Planes struct {
	p  *Program
	at []Truths // by node
}

// NewPlanes makes room.
func (p *Program) NewPlanes() *Planes { return &Planes{p: p, at: make([]Truths, len(p.nodes))} }

// LeafAt is a leaf of a program, and its node.
type LeafAt struct {
	*Leaf
	Node int
}

// LeavesAt lists the leaves in the order of their nodes.
func (p *Program) LeavesAt() []LeafAt {
	var out []LeafAt
	for i := range p.nodes {
		if n := &p.nodes[i]; n.op == Leafed {
			out = append(out, LeafAt{p.leaves[n.leaf], i})
		}
	}
	return out
}

// Clear makes all lanes of all nodes undecided.
func (pl *Planes) Clear() { clear(pl.at) }

// Put makes one undecided lane of a leaf's node what v says.
func (pl *Planes) Put(node, lane int, v logic.Value) { pl.at[node].Put(lane, v) }

// Of is what the lanes of a node, or of its negation, are.
func (pl *Planes) Of(r Ref) Truths {
	t := pl.at[r>>1]
	if r&1 == 1 {
		t.Holds, t.Fails = t.Fails, t.Holds
	}
	return t
}

// Run evaluates nodes from up to, not including, to, those below having been evaluated. It calls leaf for each leaf
// whose slot may have changed, to bring its truths up to date.
func (pl *Planes) Run(from, to int, leaf func(l *Leaf, t *Truths)) {
	for _, i := range pl.p.late[pl.p.lateAt[from]:pl.p.lateAt[to]] {
		n, t := &pl.p.nodes[i], &pl.at[i]
		switch n.op {
		case And:
			ah, af := pl.sides(n.a)
			bh, bf := pl.sides(n.b)
			for w := range t.Holds {
				t.Holds[w] = ah[w] & bh[w]
				t.Fails[w] = af[w] | bf[w]
			}
		case Leafed:
			leaf(pl.p.leaves[n.leaf], t)
		default:
			for w := range t.Holds {
				t.Holds[w] = ^uint64(0)
			}
		}
	}
}

func (pl *Planes) sides(r Ref) (holds, fails *Plane) {
	t := &pl.at[r>>1]
	if r&1 == 1 {
		return &t.Fails, &t.Holds
	}
	return &t.Holds, &t.Fails
}

// Leaf is the truth of one leaf by itself. An error means that arithmetic failed.
func (s *State) Leaf(l *Leaf) (logic.Value, error) { return s.leaf(l) }
