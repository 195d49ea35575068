package condition

import (
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Definition is an expression to which a house gave a name, perhaps with parameters. Where a condition uses the name
// the expression stands in its place, with what is given for the parameters: the condition's tree is the same as if it
// had been written out, so that whatever looks at conditions sees through it. All that stands in the place of a use has
// the use's place in the text; what is wrong there is told at the use, with the place in the definition beside it.
//
// It gives a truth (a condition), a quantity (arithmetic), or a word: a choice between words, written as cond ? "a" :
// "b".
type Definition struct {
	Name   string
	Params []Param
	Kind   vocab.Kind // Truth, Quantity, or Choice: a word
	Words  []string   // of a word: those that it can come to, sorted
	Text   string
	Uses   []string // the definitions that it names itself, sorted
	Broken bool     // it is not sound, which was told; conditions that use it are not read

	tree ast.Node
	at   *offsets
}

// Param is a parameter of a definition: a quantity (a reading, or arithmetic), a truth (a condition), or a word (a
// choice that was read, or a word in quotes).
type Param struct {
	Name string
	Kind vocab.Kind
}

// Use is where a condition uses a definition.
type Use struct {
	Start, End int // bytes of the condition's text
	Definition *Definition
	Says       string // the expression, with what stands for the parameters here
}

// ParseDefinition reads a definition's expression, as far as that is possible before others are known; nil when it has
// no grammar. [CheckDefinition] does the rest.
func ParseDefinition(name string, params []Param, text string, locate Locate, scope *Scope,
	out *diag.List) *Definition {
	if !guard(text, locate, out) {
		return nil
	}
	d := &Definition{Name: name, Params: params, Text: text, at: newOffsets(text, locate)}
	tree := scope.front.parse(text, scope, d.at, out)
	if tree == nil {
		return nil
	}
	d.tree = tree.Node
	return d
}

// Link notes which of the known definitions it names.
func (d *Definition) Link(known func(name string) bool) {
	v := &namesIn{}
	ast.Walk(&d.tree, v)
	slices.Sort(v.names)
	d.Uses = slices.DeleteFunc(slices.Compact(v.names), func(name string) bool {
		return !known(name) || d.param(name) >= 0
	})
}

type namesIn struct{ names []string }

// Visit gathers names.
func (v *namesIn) Visit(n *ast.Node) {
	if id, ok := (*n).(*ast.IdentifierNode); ok {
		v.names = append(v.names, id.Value)
	}
}

func (d *Definition) param(name string) int {
	return slices.IndexFunc(d.Params, func(p Param) bool { return p.Name == name })
}

// WithDefinitions is the same scope with definitions, which must have been linked, by name; none of them names itself,
// however far round.
func (s *Scope) WithDefinitions(list map[string]*Definition) *Scope {
	out := *s
	out.defs = list
	return &out
}

// Definition finds a definition by name, or nil.
func (s *Scope) Definition(name string) *Definition { return s.defs[name] }

// CheckDefinition finds what kind of thing a definition gives, and checks it by itself, whatever stands for its
// parameters. Those that it names must have been checked before. It tells whether all is well.
func CheckDefinition(d *Definition, scope *Scope, out *diag.List) bool {
	symbols := make([]Symbol, 0, scope.Len()+len(d.Params))
	for _, s := range scope.symbols {
		symbols = append(symbols, *s)
	}
	for _, p := range d.Params {
		symbols = append(symbols, Symbol{Name: p.Name, Kind: p.Kind, Param: true})
	}
	own := NewScope(symbols).WithDefinitions(scope.defs)
	own.hints = scope.hints
	c := &compiler{scope: own, at: d.at, out: out, features: map[int]vocab.Set{}, reported: map[int]bool{}}
	before := len(*out)
	switch d.Kind = c.kindOf(d.tree); d.Kind {
	case vocab.Quantity:
		c.arith(d.tree)
	case vocab.Choice:
		d.Words = slices.Compact(slices.Sorted(slices.Values(c.words1(d.tree))))
		c.wordAmong(d.tree, d.tree, d.Words)
	default:
		c.condition(d.tree)
	}
	v := &namesIn{}
	ast.Walk(&d.tree, v)
	for _, p := range d.Params {
		if !slices.Contains(v.names, p.Name) && len(*out) == before {
			out.Errorf(diag.UnknownName, d.at.whole(), "%q takes %q, and its expression does not name it", d.Name,
				p.Name).
				Detail = "Take the parameter out, or say what it is for."
		}
	}
	return len(*out) == before
}

// kindOf is what kind of thing an expression gives, as far as its outermost part tells.
func (c *compiler) kindOf(n ast.Node) vocab.Kind {
	switch n := n.(type) {
	case *ast.ConditionalNode, *ast.StringNode:
		return vocab.Choice
	case *ast.IntegerNode, *ast.FloatNode:
		return vocab.Quantity
	case *ast.UnaryNode:
		if n.Operator == "-" || n.Operator == "+" {
			return vocab.Quantity
		}
	case *ast.BinaryNode:
		if slices.Contains([]string{"+", "-", "*", "/", "**", "^"}, n.Operator) {
			return vocab.Quantity
		}
	case *ast.BuiltinNode:
		if slices.Contains([]string{"abs", "min", "max", "count"}, n.Name) {
			return vocab.Quantity
		}
	case *ast.CallNode:
		if d, _ := c.used(n); d != nil {
			return d.Kind
		}
		if dottedName(n.Callee) == "sqrt" {
			return vocab.Quantity
		}
	case *ast.IdentifierNode, *ast.MemberNode:
		if d, _ := c.used(n); d != nil {
			return d.Kind
		}
		if s := c.scope.Symbol(dottedName(n)); s != nil && s.Kind == vocab.Quantity {
			return vocab.Quantity
		}
	}
	return vocab.Truth
}

// frame is what stands for the parameters within a definition that is being put in the place of a use.
type frame struct {
	d    *Definition
	args []ast.Node
	up   *frame // in which the arguments stand
}

// used tells which definition an expression uses, and with what.
func (c *compiler) used(n ast.Node) (*Definition, []ast.Node) {
	switch n := n.(type) {
	case *ast.IdentifierNode:
		return c.scope.defs[n.Value], nil
	case *ast.CallNode:
		return c.scope.defs[dottedName(n.Callee)], n.Arguments
	}
	return nil, nil
}

// bound is what stands for an expression that is a parameter's name, and where.
func (c *compiler) bound(n ast.Node) (ast.Node, bool) {
	id, isName := n.(*ast.IdentifierNode)
	if !isName || c.frame == nil {
		return nil, false
	}
	i := c.frame.d.param(id.Value)
	if i < 0 {
		return nil, false
	}
	return c.frame.args[i], true
}

// outwards does something where the arguments of the present use stand.
func outwards[T any](c *compiler, do func() T) T {
	here := c.frame
	c.frame = here.up
	defer func() { c.frame = here }()
	return do()
}

// inwards does something within a definition; not when the use is wrong, which is told.
func inwards[T any](c *compiler, n ast.Node, d *Definition, args []ast.Node, do func(body ast.Node) T) (none T) {
	if c.parts++; c.parts > MaxNodes {
		if c.parts == MaxNodes+1 {
			c.refuse(n, diag.TooLong, "with its definitions the condition has more than %d parts", MaxNodes)
		}
		return none
	}
	if d.Broken || !c.fits(n, d, args) {
		return none
	}
	here := c.frame
	if c.outer == nil {
		start, end := c.at.extent(n)
		c.uses = append(c.uses, Use{start, end, d, d.with(c.argTexts(args))})
		c.outer = &[2]int{start, end}
		defer func() { c.outer = nil }()
	}
	c.frame = &frame{d, args, here}
	defer func() { c.frame = here }()
	return do(d.tree)
}

// fits checks what is given for the parameters of a definition.
func (c *compiler) fits(n ast.Node, d *Definition, args []ast.Node) bool {
	if len(args) != len(d.Params) {
		r := c.refuse(n, diag.UnlikeTypes, "%s takes %s", d.Name, d.takes())
		r.Related = append(r.Related, diag.Related{Span: d.at.whole(), Says: "its definition"})
		return false
	}
	if c.frame != nil {
		return true // it was checked with the definition
	}
	good := true
	for i, p := range d.Params {
		before := len(*c.out)
		switch p.Kind {
		case vocab.Quantity:
			good = c.arith(args[i]) != nil && good
		case vocab.Truth:
			good = c.condition(args[i]) != nil && good
		default:
			_, isWord := args[i].(*ast.StringNode)
			if w, _ := c.used(args[i]); !isWord && (w == nil || w.Kind != vocab.Choice) {
				s := c.name(args[i], vocab.Choice, vocab.Text, vocab.Features)
				if good = good && s != nil; s != nil && (s.Kind == vocab.Quantity || s.Kind == vocab.Truth) {
					c.refuse(args[i], diag.UnlikeTypes, "%s is a %s, but a word is wanted here", s.Name, s.Kind.Noun())
					good = false
				}
			}
		}
		if len(*c.out) > before {
			last := &(*c.out)[len(*c.out)-1]
			last.Related = append(last.Related, diag.Related{Span: d.at.whole(),
				Says: "for " + p.Name + ", which " + d.Name + " takes as a " + KindWord(p.Kind)})
		}
	}
	return good
}

// KindWord is what messages call a kind that a definition gives or takes.
func KindWord(k vocab.Kind) string {
	if k == vocab.Choice {
		return "word"
	}
	return k.Noun()
}

// takes says what a definition takes.
func (d *Definition) takes() string {
	if len(d.Params) == 0 {
		return "nothing: its name stands alone"
	}
	name := func(p Param) string { return p.Name + " (a " + KindWord(p.Kind) + ")" }
	return strings.Join(english.Each(d.Params, name), ", ")
}

// argTexts are what is given for parameters, as written.
func (c *compiler) argTexts(args []ast.Node) []string {
	return english.Each(args, func(arg ast.Node) string {
		start, end := c.at.extent(arg)
		return c.at.text[start:end]
	})
}

// with is the expression with texts in the place of its parameters.
func (d *Definition) with(args []string) string {
	var b strings.Builder
	end := 0
	for _, w := range wordsOf(d.Text) {
		i := d.param(w.text)
		if w.kind != 'w' || i < 0 {
			continue
		}
		b.WriteString(d.Text[end:w.start])
		if strings.ContainsAny(args[i], " ") {
			b.WriteString("(" + args[i] + ")")
		} else {
			b.WriteString(args[i])
		}
		end = w.end
	}
	return b.String() + d.Text[end:]
}

// words1 are the words that an expression can come to; what else stands in their place is refused.
func (c *compiler) words1(n ast.Node) []string {
	if arg, is := c.bound(n); is {
		return outwards(c, func() []string { return c.words1(arg) })
	}
	if d, args := c.used(n); d != nil && d.Kind == vocab.Choice {
		return inwards(c, n, d, args, c.words1)
	}
	switch n := n.(type) {
	case *ast.StringNode:
		return []string{n.Value}
	case *ast.ConditionalNode:
		return append(c.words1(n.Exp1), c.words1(n.Exp2)...)
	}
	c.refuse(n, diag.UnlikeTypes, "a word in quotes is wanted here").Detail = `A definition of a word is written: ri > 1.8 ? "high" : "low".`
	return nil
}

// wordAmong is "the expression comes to one of these words".
func (c *compiler) wordAmong(at, n ast.Node, words []string) *Node {
	if arg, is := c.bound(n); is {
		return outwards(c, func() *Node { return c.wordAmong(at, arg, words) })
	}
	if d, args := c.used(n); d != nil {
		return inwards(c, n, d, args, func(body ast.Node) *Node { return c.wordAmong(body, body, words) })
	}
	switch n := n.(type) {
	case *ast.StringNode:
		out := c.node(at, Always)
		out.Value = slices.Contains(words, n.Value)
		return out
	case *ast.ConditionalNode:
		cond, yes, no := c.condition(n.Cond), c.wordAmong(at, n.Exp1, words), c.wordAmong(at, n.Exp2, words)
		if cond == nil || yes == nil || no == nil {
			return nil
		}
		return c.chosen(at, cond, yes, no)
	}
	c.words1(n)
	return nil
}

// chosen is "yes where cond holds, else no", without parts that decide nothing.
func (c *compiler) chosen(at ast.Node, cond, yes, no *Node) *Node {
	switch {
	case yes.Op == Always && no.Op == Always && yes.Value == no.Value:
		return yes
	case yes.Op == Always && no.Op == Always && yes.Value:
		return cond
	case yes.Op == Always && no.Op == Always:
		return c.node(at, Not, cond)
	case yes.Op == Always && yes.Value:
		return c.node(at, Or, cond, no)
	case yes.Op == Always:
		return c.node(at, And, c.node(at, Not, cond), no)
	case no.Op == Always && no.Value:
		return c.node(at, Or, c.node(at, Not, cond), yes)
	case no.Op == Always:
		return c.node(at, And, cond, yes)
	}
	return c.node(at, Or, c.node(at, And, cond, yes), c.node(at, And, c.node(at, Not, cond), no))
}

// definedWords is a comparison of a definition of a word with words.
func (c *compiler) definedWords(n, left ast.Node, d *Definition, literals []*ast.StringNode) *Node {
	if d.Broken {
		return nil
	}
	if d.Kind != vocab.Choice {
		c.refuse(left, diag.UnlikeTypes, "%s is a %s, and can't be compared with a text", d.Name, KindWord(d.Kind)).
			Related = []diag.Related{{Span: d.at.whole(), Says: "its definition"}}
		return nil
	}
	var words []string
	for _, lit := range literals {
		if !slices.Contains(d.Words, lit.Value) {
			r := c.refuse(lit, diag.UnknownChoice, "%s never comes to %q", d.Name, lit.Value)
			if r.Nearest = diag.Nearest(lit.Value, d.Words); r.Nearest == "" {
				r.Detail = "It comes to: " + strings.Join(d.Words, ", ") + "."
			}
			r.Related = append(r.Related, diag.Related{Span: d.at.whole(), Says: "its definition"})
			return nil
		}
		words = append(words, lit.Value)
	}
	before := len(*c.out)
	out := c.wordAmong(n, left, words)
	if out == nil || len(*c.out) > before {
		return nil
	}
	return out.spanning(c.extent(n))
}

// spanning gives all of a tree one place: it is one test to whoever wrote it.
func (n *Node) spanning(start, end int) *Node {
	out := *n
	out.Start, out.End = start, end
	out.Kids = english.Each(n.Kids, func(k *Node) *Node { return k.spanning(start, end) })
	return &out
}

// Unfolded is the condition's text, with what the definitions that it uses stand for.
func (c *Condition) Unfolded() string {
	out := c.Text
	told := map[string]bool{}
	for _, u := range c.Uses {
		name := c.Text[u.Start:u.End]
		if !told[name] {
			told[name] = true
			out += ", where " + name + " is " + u.Says
		}
	}
	return out
}
