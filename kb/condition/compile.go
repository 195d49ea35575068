package condition

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/parser"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Compile checks a condition and returns its tree. All that is wrong with it goes to out, each at its own span;
// the result is nil then. locate maps byte offsets of text into the file that holds it.
func Compile(text string, locate Locate, scope *Scope, out *diag.List) *Condition {
	before := len(*out)
	c, tree := open(text, locate, scope, out)
	if tree == nil {
		return nil
	}
	root := c.condition(tree.Node)
	if root != nil && len(*out) == before && len(c.uses) == 0 { // expr knows of no definitions
		scope.front.check(tree, c.at, out)
	}
	if root == nil || len(*out) > before {
		return nil
	}
	return c.finish(root)
}

// CompileQuantity does the same for an expression whose value is a quantity. The condition that comes with it tells
// what the expression reads; its truth has no meaning.
func CompileQuantity(text string, locate Locate, scope *Scope, out *diag.List) (*Arith, *Condition) {
	before := len(*out)
	c, tree := open(text, locate, scope, out)
	if tree == nil {
		return nil, nil
	}
	a := c.arith(tree.Node)
	if a == nil || len(*out) > before {
		return nil, nil
	}
	return a, c.finish(c.leaf(tree.Node, &Leaf{Kind: SignBelow, Arith: a}))
}

func open(text string, locate Locate, scope *Scope, out *diag.List) (*compiler, *parser.Tree) {
	if !guard(text, locate, out) {
		return nil, nil
	}
	at := newOffsets(text, locate)
	c := &compiler{scope: scope, at: at, out: out, features: map[int]vocab.Set{}, reported: map[int]bool{}}
	tree := scope.front.parse(text, scope, at, out)
	if tree != nil && strings.Contains(text, "-") {
		c.reportSplit()
	}
	return c, tree
}

// reportSplit reports names that were written with hyphens, which are a difference of names to a parser. Their parts
// are not told by themselves.
func (c *compiler) reportSplit() {
	for _, s := range splitNames(c.at.text, c.scope) {
		if c.scope.knows(c.at.text[s.start : s.start+strings.IndexAny(c.at.text[s.start:s.end]+"-", "- ")]) {
			continue
		}
		s.tell(c.at.text, c.at.locate, c.out)
		for i := s.start; i < s.end; i++ {
			c.reported[i] = true
		}
	}
}

func (c *compiler) finish(root *Node) *Condition {
	slices.Sort(c.reads)
	out := &Condition{Text: c.at.text, Root: root, Reads: slices.Compact(c.reads), Features: c.features, Uses: c.uses,
		locate: c.at.locate}
	out.alone = out.byItself(c.scope)
	return out
}

type compiler struct {
	scope    *Scope
	at       *offsets
	out      *diag.List
	reads    []int
	features map[int]vocab.Set
	reported map[int]bool // offsets of unknown names: a chained comparison names its middle twice

	frame *frame  // within a definition; nil in the text itself
	outer *[2]int // where the use stands of what is being put in its place
	uses  []Use
	parts int
}

func (c *compiler) refuse(n ast.Node, code diag.Code, format string, args ...any) *diag.Diagnostic {
	if c.outer == nil {
		return c.out.Errorf(code, c.at.span(n), format, args...)
	}
	d := c.out.Errorf(code, c.at.locate(c.outer[0], c.outer[1]), format, args...)
	if c.frame != nil {
		d.Related = []diag.Related{{Span: c.frame.d.at.span(n), Says: "in the definition of " + c.frame.d.Name}}
	}
	return d
}

// noNode refuses what stands where a condition is wanted, noArith what stands where a number is.
func (c *compiler) noNode(n ast.Node, code diag.Code, format string, args ...any) *Node {
	c.refuse(n, code, format, args...)
	return nil
}

func (c *compiler) noArith(n ast.Node, code diag.Code, format string, args ...any) *Arith {
	c.refuse(n, code, format, args...)
	return nil
}

// extent is the range of bytes of the text that an expression covers; of one within a definition, the use.
func (c *compiler) extent(n ast.Node) (start, end int) {
	if c.outer != nil {
		return c.outer[0], c.outer[1]
	}
	return c.at.extent(n)
}

func (c *compiler) node(n ast.Node, op Op, kids ...*Node) *Node {
	if slices.Contains(kids, nil) {
		return nil
	}
	start, end := c.extent(n)
	return &Node{Op: op, Kids: kids, Start: start, End: end}
}

func (c *compiler) leaf(n ast.Node, l *Leaf) *Node {
	out := c.node(n, Leafed)
	out.Leaf = l.setKey()
	c.reads = append(c.reads, l.Slots()...)
	return out
}

func (c *compiler) not(n ast.Node, kid *Node) *Node { return c.node(n, Not, kid) }

// condition compiles what must be true or false.
func (c *compiler) condition(n ast.Node) *Node {
	if arg, is := c.bound(n); is {
		return outwards(c, func() *Node { return c.condition(arg) })
	}
	if d, args := c.used(n); d != nil {
		if d.Kind != vocab.Truth && !d.Broken {
			c.refuse(n, diag.UnlikeTypes, "%s is a %s, and stands where a condition is wanted", d.Name,
				KindWord(d.Kind)).
				Related = []diag.Related{{Span: d.at.whole(), Says: "its definition"}}
			return nil
		}
		out := inwards(c, n, d, args, c.condition)
		if out == nil {
			return nil
		}
		return out.spanning(c.extent(n))
	}
	switch n := n.(type) {
	case *ast.BoolNode:
		out := c.node(n, Always)
		out.Value = n.Value
		return out
	case *ast.UnaryNode:
		if n.Operator == "not" || n.Operator == "!" {
			return c.not(n, c.condition(n.Node))
		}
	case *ast.BinaryNode:
		return c.binary(n)
	case *ast.IdentifierNode, *ast.MemberNode:
		return c.truthName(n)
	case *ast.CallNode:
		return c.call(n)
	case *ast.BuiltinNode:
		if slices.Contains([]string{"any", "all", "none"}, n.Name) {
			return c.quantifier(n)
		}
		if slices.Contains([]string{"abs", "min", "max", "count"}, n.Name) {
			return c.noNode(n, diag.UnlikeTypes, "%s(...) is a number, but a condition is wanted here", n.Name)
		}
	case *ast.IntegerNode, *ast.FloatNode:
		return c.noNode(n, diag.UnlikeTypes, "a number stands where a condition is wanted")
	case *ast.StringNode:
		return c.noNode(n, diag.UnlikeTypes, "a text stands where a condition is wanted")
	}
	c.notAllowed(n)
	return nil
}

func (c *compiler) binary(n *ast.BinaryNode) *Node {
	switch n.Operator {
	case "and", "&&":
		return c.join(n, And)
	case "or", "||":
		if c.bareWords(n) {
			return nil
		}
		return c.join(n, Or)
	case "<", "<=", ">", ">=":
		return c.compare(n, n.Operator, n.Left, n.Right)
	case "==", "!=":
		return c.equality(n)
	case "in":
		return c.membership(n)
	case "contains", "startsWith", "endsWith", "matches":
		return c.textual(n)
	case "+", "-", "*", "/", "**", "^":
		return c.noNode(n, diag.UnlikeTypes, "this is a number, but a condition is wanted here")
	}
	c.notAllowed(n)
	return nil
}

// join flattens a chain of the same connective, so that equal rules written with other brackets are one program.
func (c *compiler) join(n *ast.BinaryNode, op Op) *Node {
	kids := []*Node{c.condition(n.Left), c.condition(n.Right)}
	if slices.Contains(kids, nil) {
		return nil
	}
	var flat []*Node
	for _, k := range kids {
		if k.Op == op {
			flat = append(flat, k.Kids...)
		} else {
			flat = append(flat, k)
		}
	}
	return c.node(n, op, flat...)
}

// name resolves an identifier or a dotted name, and reports an unknown one; of equally near names those of the kinds
// that fit the place are suggested first.
func (c *compiler) name(n ast.Node, fits ...vocab.Kind) *Symbol {
	if arg, is := c.bound(n); is {
		return outwards(c, func() *Symbol { return c.name(arg, fits...) })
	}
	full := dottedName(n)
	if full == "" {
		c.notAllowed(n)
		return nil
	}
	s := c.scope.Symbol(full)
	if s != nil && (s.Past == "" || c.scope.record) {
		return s
	}
	start, _ := c.extent(n)
	if c.reported[start] && c.outer == nil {
		return nil
	}
	c.reported[start] = true
	switch {
	case s != nil:
		c.refuse(n, diag.Inactive, "no rule establishes %q any more: the rule %s, which did, is retired", full, s.Past)
	case slices.Contains(c.scope.roots, full):
		c.refuse(n, diag.UnknownName, "%s is not a reading: name one of its properties, such as %s.%s", full, full,
			c.firstField(full)).
			Nearest = ""
	case c.scope.defs[full] != nil:
		d := c.scope.defs[full]
		c.refuse(n, diag.UnlikeTypes, "%s is a definition of a %s, and a reading is wanted here", full,
			KindWord(d.Kind)).
			Related = []diag.Related{{Span: d.at.whole(), Says: "its definition"}}
	default:
		d := c.refuse(n, diag.UnknownName, "nothing is called %q", full)
		d.Lacks = full
		if d.Nearest, d.Detail = c.scope.hint(full, fits); d.Detail == "" {
			d.Detail = foreignLetter(full)
		}
	}
	return nil
}

func (c *compiler) firstField(root string) string {
	for _, name := range c.scope.names {
		if r, rest, ok := cutDot(name); ok && r == root {
			return rest
		}
	}
	return ""
}

func dottedName(n ast.Node) string {
	switch n := n.(type) {
	case *ast.IdentifierNode:
		return n.Value
	case *ast.MemberNode:
		root := dottedName(n.Node)
		field, ok := n.Property.(*ast.StringNode)
		if root == "" || !ok || n.Optional {
			return ""
		}
		return root + "." + field.Value
	}
	return ""
}

func (c *compiler) truthName(n ast.Node) *Node {
	s := c.name(n, vocab.Truth)
	if s == nil {
		return nil
	}
	if s.Kind == vocab.Truth {
		return c.leaf(n, &Leaf{Kind: True, Slot: s.Slot})
	}
	d := c.refuse(n, diag.UnlikeTypes, "%s is a %s, and stands where a condition is wanted", s.Name, s.Kind.Noun())
	switch s.Kind {
	case vocab.Quantity:
		d.Detail = fmt.Sprintf("Compare it: %s > 1.5. Whether it was read at all is seen(%s).", s.Name, s.Name)
	case vocab.Choice:
		d.Detail = fmt.Sprintf("Compare it: %s == %q. Whether it was read at all is seen(%s).", s.Name,
			cmp.Or(first(s.words()), "..."), s.Name)
	case vocab.Features:
		d.Detail = fmt.Sprintf("Ask for a feature: %q in %s.", cmp.Or(first(s.words()), "..."), s.Name)
	}
	return nil
}

func first(words []string) string {
	if len(words) == 0 {
		return ""
	}
	return words[0]
}

func (c *compiler) call(n *ast.CallNode) *Node {
	fn := dottedName(n.Callee)
	switch fn {
	case "seen", "unclear":
		return c.status(n, fn)
	case "near":
		return c.near(n)
	}
	if _, ok := formulas[fn]; ok || fn == "sqrt" {
		return c.noNode(n, diag.UnlikeTypes, "%s(...) is a number, but a condition is wanted here", fn)
	}
	c.noFunction(n, fn)
	return nil
}

func (c *compiler) status(n *ast.CallNode, fn string) *Node {
	if len(n.Arguments) != 1 {
		return c.noNode(n, diag.UnlikeTypes, "%s takes one name", fn)
	}
	if d, _ := c.used(n.Arguments[0]); d != nil {
		return c.noNode(n.Arguments[0], diag.NotAllowed, "%s takes the name of a reading, and %s is a definition", fn,
			d.Name)
	}
	if arg, is := c.bound(n.Arguments[0]); is && outwards(c, func() bool { return c.plainName(arg) == "" }) {
		return c.noNode(n.Arguments[0], diag.NotAllowed,
			"%s takes the name of a reading, and something else is given here", fn)
	}
	if dottedName(n.Arguments[0]) == "" {
		return c.noNode(n.Arguments[0], diag.NotAllowed, "%s takes the name of a reading, and nothing else", fn)
	}
	s := c.name(n.Arguments[0], vocab.Quantity, vocab.Choice, vocab.Features)
	if s == nil {
		return nil
	}
	kind := Seen
	if fn == "unclear" {
		kind = Unclear
		if s.Observable == nil && !s.Param {
			return c.noNode(n.Arguments[0], diag.UnlikeTypes, "unclear() takes a reading; %s is none", s.Name)
		}
	}
	return c.leaf(n, &Leaf{Kind: kind, Slot: s.Slot})
}

// near(x, value, tolerance) is value - tolerance <= x <= value + tolerance.
func (c *compiler) near(n *ast.CallNode) *Node {
	if len(n.Arguments) != 3 {
		d := c.refuse(n, diag.UnlikeTypes, "near takes a quantity, a value and a tolerance: near(ri, 1.77, 0.005)")
		if start, end := c.at.extent(n); len(n.Arguments) > 3 && c.frame == nil {
			d.Detail = syntax.SeparatorAdviceAt(c.at.text[start:end], -1)
		}
		return nil
	}
	x, v, tol := c.arith(n.Arguments[0]), c.arith(n.Arguments[1]), c.arith(n.Arguments[2])
	if x == nil || v == nil || tol == nil {
		return nil
	}
	if _, fixed := x.constant(); fixed && c.frame == nil {
		for _, arg := range n.Arguments[1:] {
			if s := c.scope.Symbol(dottedName(arg)); s != nil && s.Kind == vocab.Quantity {
				c.refuse(n, diag.UnlikeTypes,
					"the quantity comes first in near(...), then the value, then the tolerance").
					Detail = "Write: near(" + s.Name + ", value, tolerance), as in near(ri, 1.77, 0.005)."
				return nil
			}
		}
	}
	if t, ok := tol.constant(); ok && t < 0 {
		return c.noNode(n.Arguments[2], diag.BadNumber, "a tolerance can't be below zero")
	}
	low, high := fold("-", v, tol), fold("+", v, tol)
	for _, end := range []*Arith{low, high} {
		if x, ok := end.constant(); ok && math.IsNaN(x) {
			return c.noNode(n, diag.BadNumber, "this comes to no finite number")
		}
	}
	return c.node(n, And, c.order(n, low, x, true), c.order(n, x, high, true))
}

// compare is a < b and its kin; strictness and direction come from the operator.
func (c *compiler) compare(n ast.Node, op string, left, right ast.Node) *Node {
	a, b := c.arith(left), c.arith(right)
	if a == nil || b == nil {
		return nil
	}
	if op == ">" || op == ">=" {
		a, b = b, a
	}
	return c.order(n, a, b, op == "<=" || op == ">=")
}

// order is a < b, or a <= b. A bare quantity against a number becomes a cut; x > t is "not x <= t", which in Kleene's
// logic is the same and halves the number of different leaves.
func (c *compiler) order(n ast.Node, a, b *Arith, orEqual bool) *Node {
	x, aConst := a.constant()
	y, bConst := b.constant()
	switch {
	case aConst && bConst:
		out := c.node(n, Always)
		out.Value = x < y || orEqual && x == y
		return out
	case bConst && a.Fn == "slot":
		return c.leaf(n, &Leaf{Kind: pick(orEqual, AtMost, Below), Slot: a.Slot, Cut: y})
	case aConst && b.Fn == "slot":
		return c.not(n, c.leaf(n, &Leaf{Kind: pick(orEqual, Below, AtMost), Slot: b.Slot, Cut: x}))
	}
	return c.leaf(n, &Leaf{Kind: pick(orEqual, SignAtMost, SignBelow), Arith: fold("-", a, b)})
}

func pick(yes bool, a, b LeafKind) LeafKind {
	if yes {
		return a
	}
	return b
}

func (c *compiler) equality(n *ast.BinaryNode) *Node {
	var out *Node
	left, right := c.word(n.Left), c.word(n.Right)
	switch left.(type) {
	case *ast.StringNode, *ast.BoolNode:
		left, right = right, left
	}
	switch r := right.(type) {
	case *ast.StringNode:
		out = c.words(n, left, []*ast.StringNode{r})
	case *ast.BoolNode:
		if out = c.condition(left); out != nil && !r.Value {
			out = c.not(n, out)
		}
	default:
		if c.isParam(left) || c.isParam(right) {
			return c.anyWord(n, left, right)
		}
		if c.noNumbers(n, left, right) {
			return nil
		}
		out = c.equalNumbers(n, left, right)
	}
	if out != nil && n.Operator == "!=" {
		return c.not(n, out)
	}
	return out
}

func (c *compiler) equalNumbers(n *ast.BinaryNode, left, right ast.Node) *Node {
	a, b := c.arith(left), c.arith(right)
	if a == nil || b == nil {
		return nil
	}
	for _, slot := range append(a.slots(nil), b.slots(nil)...) {
		if s := c.scope.At(slot); !s.Exact && s.Kind == vocab.Quantity {
			d := c.refuse(n, diag.EqualsOnQuantity, "%s is measured: it never equals a number exactly", s.Name)
			d.Detail = fmt.Sprintf("Say how near it must be: near(%s, value, tolerance).", s.Name)
			return nil
		}
	}
	return c.node(n, And, c.order(n, a, b, true), c.order(n, b, a, true))
}
