// Package condition is the rule language: conditions over readings, stone properties, the claim and facts, written as
// expr-lang expressions and read in Kleene's strong logic.
//
// A condition goes through three stages. [Compile] guards the text (length, depth, runaway operators), parses it with
// expr's parser, checks names, types and choices against a [Scope], refuses what lies outside an allow-list, and
// returns a small tree of and, or, not and leaves. A [Builder] joins the trees of many conditions into one [Program] in
// which equal parts are one node. [Program.Run] evaluates it for the [Slot]s of one case.
//
// There are few kinds of leaf, and each looks at one slot in a way that a columnar evaluator can repeat: a quantity
// below a cut, a choice within a mask, a feature of a set, a truth. Only comparisons that do arithmetic are trees of
// their own.
//
// expr is the front end only. Its machine never runs: an absent value is silently false or true there, depending on
// the operator, and a measured quantity has an uncertainty that its arithmetic can't carry.
package condition

import (
	"strconv"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// Op is what a node of a condition's tree does.
type Op uint8

// The operations of a tree.
const (
	Always Op = iota // a constant: Node.Value
	Leafed           // Node.Leaf
	And
	Or
	Not
)

// Node is a part of a condition.
type Node struct {
	Op         Op
	Value      bool // of Always
	Leaf       *Leaf
	Kids       []*Node
	Start, End int // bytes in Condition.Text
}

// Leaves lists those of its nodes that are leaves, from left to right.
func (n *Node) Leaves() []*Node {
	if n.Op == Leafed {
		return []*Node{n}
	}
	var out []*Node
	for _, k := range n.Kids {
		out = append(out, k.Leaves()...)
	}
	return out
}

// Tests groups the parts of an "and" or "or" as they were written: the leaves of near(...) or any(...), joined with
// their neighbours, are one test to whoever wrote them.
func (n *Node) Tests() (out [][]*Node) {
	for i, k := range n.Kids {
		if i == 0 || k.Start != n.Kids[i-1].Start || k.End != n.Kids[i-1].End {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], k)
	}
	return out
}

// Condition is a checked condition. Immutable.
type Condition struct {
	Text string
	Root *Node
	// Reads lists the scope's slots that it names, sorted; Outcomes those features that it names, by slot.
	Reads    []int
	Features map[int]vocab.Set
	Uses     []Use // of definitions, in the order of the text

	locate Locate
	alone  func() (*Program, Ref) // the condition as a program of its own, made when first wanted
}

// At is where the bytes start to end of its text stand in the file that holds it.
func (c *Condition) At(start, end int) diag.Span { return c.locate(start, end) }

// LeafKind is the way in which a leaf looks at a case.
type LeafKind uint8

// The kinds of leaf.
const (
	Below      LeafKind = iota // a quantity < Cut
	AtMost                     // a quantity <= Cut
	Within                     // a choice is one of Mask
	Contains                   // a feature was seen
	True                       // a truth
	Matches                    // a text satisfies Match
	Seen                       // there is a usable reading
	Unclear                    // it was tried, and is inconclusive or set aside
	SignBelow                  // the arithmetic's value < 0
	SignAtMost                 // the arithmetic's value <= 0
)

// Leaf is a part of a condition that is not made of smaller conditions.
type Leaf struct {
	Kind    LeafKind
	Slot    int
	Cut     float64
	Mask    uint64
	Feature int
	Match   func(string) bool
	Words   []string // of Matches: the texts that satisfy it, sorted; nil when a pattern tells
	Arith   *Arith
	key     string // equal for leaves that mean the same
}

// Key is equal for leaves that ask the same.
func (l *Leaf) Key() string { return l.key }

func (l *Leaf) setKey() *Leaf {
	parts := []string{strconv.Itoa(int(l.Kind)), strconv.Itoa(l.Slot)}
	switch l.Kind {
	case Below, AtMost:
		parts = append(parts, strconv.FormatFloat(l.Cut, 'x', -1, 64))
	case Within:
		parts = append(parts, strconv.FormatUint(l.Mask, 16))
	case Contains:
		parts = append(parts, strconv.Itoa(l.Feature))
	case Matches:
		parts = append(parts, l.key)
	case SignBelow, SignAtMost:
		parts = append(parts, l.Arith.key())
	}
	l.key = strings.Join(parts, "|")
	return l
}

// Leaves lists the nodes of the condition that are leaves, from left to right.
func (c *Condition) Leaves() []*Node {
	if c == nil {
		return nil
	}
	return c.Root.Leaves()
}

// Slots lists the slots that the leaf looks at, with repeats.
func (l *Leaf) Slots() []int {
	if l.Arith != nil {
		return l.Arith.slots(nil)
	}
	return []int{l.Slot}
}

// Arith is arithmetic on quantities.
type Arith struct {
	Fn   string // "", "slot", "count", or an operator or function of the language
	Num  float64
	Slot int
	Span [2]float64 // of slot: where a bound ends that the reading leaves open
	Set  vocab.Set  // of count: the features counted
	Args []*Arith
}

func (a *Arith) key() string {
	switch a.Fn {
	case "":
		return strconv.FormatFloat(a.Num, 'x', -1, 64)
	case "slot":
		return "s" + strconv.Itoa(a.Slot)
	case "count":
		return "n" + strconv.Itoa(a.Slot) + strconv.FormatUint(a.Set.Words[0], 16) + "." +
			strconv.FormatUint(a.Set.Words[1], 16)
	}
	var b strings.Builder
	b.WriteString(a.Fn)
	for _, k := range a.Args {
		b.WriteString("(" + k.key() + ")")
	}
	return b.String()
}

// Slots lists the slots that the arithmetic looks at, with repeats.
func (a *Arith) Slots() []int { return a.slots(nil) }

func (a *Arith) slots(to []int) []int {
	if a.Fn == "slot" || a.Fn == "count" {
		to = append(to, a.Slot)
	}
	for _, k := range a.Args {
		to = k.slots(to)
	}
	return to
}

// constant tells whether a is a number, and which.
func (a *Arith) constant() (float64, bool) { return a.Num, a.Fn == "" }

// binary and unary operations by their name in the language.
var (
	binary = map[string]func(*quantity.Context, quantity.Q, quantity.Q) (quantity.Q, error){
		"+": quantity.Add, "-": quantity.Sub, "*": quantity.Mul, "/": quantity.Div, "**": quantity.Pow,
		"min": quantity.Min, "max": quantity.Max,
	}
	unary = map[string]func(*quantity.Context, quantity.Q) (quantity.Q, error){
		"neg": quantity.Neg, "sqrt": quantity.Sqrt, "abs": quantity.Abs,
	}
)
