package condition

import (
	"fmt"
	"slices"
	"strconv"
	"sync"

	"whystone/kb/english"
	"whystone/kb/logic"
)

// Ref is a node of a program, with its lowest bit set where the node is negated.
type Ref int32

// Negated is the opposite of r.
func (r Ref) Negated() Ref { return r ^ 1 }

// instruction is one node: a leaf, a constant, or a pair joined by "and" ("or" is "and" of negations, negated).
type instruction struct {
	op   Op  // Leafed, Always or And
	a, b Ref // of And
	leaf int32
}

// Program is the graph of many conditions, in which equal parts are one node. Nodes stand in the order in which
// conditions were added, so that a condition's nodes come no later than the condition. Immutable once built.
type Program struct {
	scope  *Scope
	nodes  []instruction
	leaves []*Leaf
	// early lists, by slot, the leaf nodes whose truth is known once the case is there. Most slots of a case are empty,
	// and their leaves undecided: they cost nothing.
	early [][]int32
	// late are the other nodes, in order; lateAt is where those of a node and after begin.
	late   []int32
	lateAt []int32
}

// Builder joins conditions into a program.
type Builder struct {
	p     Program
	known map[string]Ref
}

// NewBuilder starts a program over a scope.
func NewBuilder(scope *Scope) *Builder {
	return &Builder{p: Program{scope: scope}, known: map[string]Ref{}}
}

// Len is how many nodes there are so far; a condition added next depends only on nodes below and on new ones.
func (b *Builder) Len() int { return len(b.p.nodes) }

// Add joins a tree and returns its node.
func (b *Builder) Add(n *Node) Ref {
	switch n.Op {
	case Always:
		r := b.Constant(true)
		if !n.Value {
			r = r.Negated()
		}
		return r
	case Leafed:
		return b.intern("l"+n.Leaf.key, func() instruction {
			b.p.leaves = append(b.p.leaves, n.Leaf)
			return instruction{op: Leafed, leaf: int32(len(b.p.leaves) - 1)}
		})
	case Not:
		return b.Add(n.Kids[0]).Negated()
	}
	refs := english.Each(n.Kids, b.Add)
	if n.Op == Or {
		return b.Any(refs...)
	}
	return b.All(refs...)
}

// Constant is the node that always holds, or its negation.
func (b *Builder) Constant(holds bool) Ref {
	r := b.intern("true", func() instruction { return instruction{op: Always} })
	if !holds {
		return r.Negated()
	}
	return r
}

// All is the conjunction. The order of its parts doesn't matter, so they are sorted: more of them are shared.
func (b *Builder) All(refs ...Ref) Ref {
	if len(refs) == 0 {
		return b.Constant(true)
	}
	refs = slices.Compact(slices.Sorted(slices.Values(refs)))
	out := refs[0]
	for _, r := range refs[1:] {
		left, right := out, r
		out = b.intern("a"+strconv.Itoa(int(left))+","+strconv.Itoa(int(right)), func() instruction {
			return instruction{op: And, a: left, b: right}
		})
	}
	return out
}

// Any is the disjunction.
func (b *Builder) Any(refs ...Ref) Ref {
	return b.All(english.Each(refs, Ref.Negated)...).Negated()
}

func (b *Builder) intern(key string, make func() instruction) Ref {
	if r, ok := b.known[key]; ok {
		return r
	}
	b.p.nodes = append(b.p.nodes, make())
	r := Ref(len(b.p.nodes)-1) << 1
	b.known[key] = r
	return r
}

// Program ends the building. Late tells which slots can change while the program runs: facts, and what may be set
// aside.
func (b *Builder) Program(late func(slot int) bool) *Program {
	p := &b.p
	p.early = make([][]int32, p.scope.Len())
	for i := range p.nodes {
		p.lateAt = append(p.lateAt, int32(len(p.late)))
		if n := &p.nodes[i]; n.op == Leafed {
			l := p.leaves[n.leaf]
			if l.Kind < Seen && !late(l.Slot) {
				p.early[l.Slot] = append(p.early[l.Slot], int32(i))
				continue
			}
		}
		p.late = append(p.late, int32(i))
	}
	p.lateAt = append(p.lateAt, int32(len(p.late)))
	return p
}

// Len is how many nodes the program has; Run wants values of that length.
func (p *Program) Len() int { return len(p.nodes) }

// Leaves is how many different leaves it has.
func (p *Program) Leaves() int { return len(p.leaves) }

// Fault is arithmetic that failed.
type Fault struct {
	Node int
	Err  error
}

// Begin evaluates what is known once the case is there; values holds a truth for every node.
func (p *Program) Begin(s *State, values []logic.Value) {
	clear(values)
	for slot := range p.early {
		if s.Slots[slot].Status != Ready {
			continue
		}
		for _, i := range p.early[slot] {
			values[i], _ = s.leaf(p.leaves[p.nodes[i].leaf])
		}
	}
}

// Run evaluates nodes from up to, not including, to, those below having been evaluated. A failing leaf is undecided and
// is appended to faults.
func (p *Program) Run(s *State, values []logic.Value, from, to int, faults *[]Fault) {
	for _, i := range p.late[p.lateAt[from]:p.lateAt[to]] {
		n := &p.nodes[i]
		switch n.op {
		case And:
			values[i] = logic.And(Of(values, n.a), Of(values, n.b))
		case Leafed:
			v, err := s.leaf(p.leaves[n.leaf])
			if err != nil {
				*faults = append(*faults, Fault{Node: int(i), Err: err})
			}
			values[i] = v
		default:
			values[i] = logic.Holds
		}
	}
}

// Of is the truth of a node or of its negation.
func Of(values []logic.Value, r Ref) logic.Value {
	v := values[r>>1]
	// Without a branch: a negated node's two bits change places.
	flip := (v ^ v>>1) & 1 & logic.Value(r)
	return v ^ flip ^ flip<<1
}

// Rests tells whether node r depends on one of the given nodes that is still undecided.
func (p *Program) Rests(values []logic.Value, r Ref, on func(node int) bool) bool {
	i := int(r >> 1)
	if values[i] != logic.Undecided {
		return false
	}
	if on(i) {
		return true
	}
	n := &p.nodes[i]
	return n.op == And && (p.Rests(values, n.a, on) || p.Rests(values, n.b, on))
}

// Causes says why node r is undecided: the causes of its undecided leaves, merged.
func (p *Program) Causes(s *State, values []logic.Value, r Ref) []logic.Cause {
	seen := map[int]bool{}
	var causes []logic.Cause
	var walk func(Ref)
	walk = func(r Ref) {
		i := int(r >> 1)
		if values[i] != logic.Undecided || seen[i] {
			return
		}
		seen[i] = true
		switch n := &p.nodes[i]; n.op {
		case And:
			walk(n.a)
			walk(n.b)
		case Leafed:
			causes = append(causes, s.causes(p.scope, p.leaves[n.leaf])...)
		}
	}
	walk(r)
	return logic.Merge(causes)
}

// Evaluate is the truth of one condition by itself, with the causes when it is undecided.
func Evaluate(c *Condition, s *State) (logic.Value, []logic.Cause, error) {
	p, r, values, err := c.run(s)
	if err != nil || Of(values, r) != logic.Undecided {
		return Of(values, r), nil, err
	}
	return logic.Undecided, p.Causes(s, values, r), nil
}

// Truth is the truth of one condition by itself.
func Truth(c *Condition, s *State) (logic.Value, error) {
	_, r, values, err := c.run(s)
	return Of(values, r), err
}

// run runs a condition by itself. With an error it is undecided.
func (c *Condition) run(s *State) (*Program, Ref, []logic.Value, error) {
	p, r := c.alone()
	values := make([]logic.Value, p.Len())
	var faults []Fault
	p.Begin(s, values)
	p.Run(s, values, 0, p.Len(), &faults)
	for _, f := range faults {
		if p.Rests(values, r, func(n int) bool { return n == f.Node }) {
			return p, r, values, fmt.Errorf("%s: %w", c.Text, f.Err)
		}
	}
	return p, r, values, nil
}

// byItself makes a program of one condition.
func (c *Condition) byItself(scope *Scope) func() (*Program, Ref) {
	return sync.OnceValues(func() (*Program, Ref) {
		b := NewBuilder(scope)
		r := b.Add(c.Root)
		return b.Program(func(int) bool { return false }), r
	})
}
