package condition

import (
	"cmp"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// words is "left is one of these": a choice of a mask, or a text of a list.
func (c *compiler) words(n ast.Node, left ast.Node, literals []*ast.StringNode) *Node {
	if arg, is := c.bound(left); is {
		return outwards(c, func() *Node { return c.words(n, arg, literals) })
	}
	if d, _ := c.used(left); d != nil {
		return c.definedWords(n, left, d, literals)
	}
	if u, ok := left.(*ast.UnaryNode); ok && (u.Operator == "not" || u.Operator == "!") {
		d := c.refuse(n, diag.UnlikeTypes, "\"not\" binds to the name alone here")
		d.Detail = "Write: x not in [...], or not (x in [...])."
		if b, isEquality := n.(*ast.BinaryNode); isEquality && b.Operator == "==" {
			d.Detail = "Write: " + cmp.Or(dottedName(u.Node), "x") + " != " + quoted(literals[0].Value) + "."
		}
		return nil
	}
	s := c.name(left, vocab.Choice, vocab.Text)
	if s == nil {
		return nil
	}
	switch s.Kind {
	case vocab.Choice:
		return c.choiceAmong(n, s, literals)
	case vocab.Text:
		list := english.Each(literals, func(lit *ast.StringNode) string { return vocab.Fold(lit.Value) })
		list = slices.Compact(slices.Sorted(slices.Values(list)))
		return c.leaf(n, &Leaf{Kind: Matches, Slot: s.Slot, Words: list, key: "in:" + strings.Join(list, "\x00"),
			Match: func(text string) bool { return slices.Contains(list, text) }})
	case vocab.Features:
		c.refuse(n, diag.UnlikeTypes, "%s is a set of features", s.Name).
			Detail = "Ask for a feature the other way round: \"" + literals[0].Value + "\" in " + s.Name + "."
	default:
		c.refuse(n, diag.UnlikeTypes, "%s is a %s, and can't be compared with a text", s.Name,
			s.Kind.Noun()).Detail = truthHint(s)
	}
	return nil
}

func (c *compiler) choiceAmong(n ast.Node, s *Symbol, literals []*ast.StringNode) *Node {
	var mask uint64
	good := true
	for _, lit := range literals {
		m, ok := s.mask(lit.Value)
		switch isPast := slices.Contains(s.PastWords, lit.Value); {
		case ok || isPast && c.scope.record:
		case isPast:
			good = false
			c.refuse(lit, diag.Inactive, "only retired rules gave %s the value %q", s.Name, lit.Value)
		default:
			good = false
			c.unknownWord(lit, s, diag.UnknownChoice)
		}
		mask |= m
	}
	if !good {
		return nil
	}
	return c.leaf(n, &Leaf{Kind: Within, Slot: s.Slot, Mask: mask})
}

func (c *compiler) unknownWord(lit *ast.StringNode, s *Symbol, code diag.Code) {
	d := c.refuse(lit, code, "%s has no outcome %q", s.Name, lit.Value)
	d.Lacks = lit.Value
	if d.Nearest = diag.Nearest(lit.Value, s.spellings()); d.Nearest == "" {
		d.Detail = "It has: " + strings.Join(s.words(), ", ") + "." + c.scope.elsewhere(lit.Value)
	}
}

// word is the word in quotes that stands for a parameter here, or the expression itself.
func (c *compiler) word(n ast.Node) ast.Node {
	if arg, is := c.bound(n); is {
		if w, isWord := outwards(c, func() ast.Node { return c.word(arg) }).(*ast.StringNode); isWord {
			return w
		}
	}
	return n
}

// isParam tells whether an expression is a word's parameter of the definition that is being checked by itself.
func (c *compiler) isParam(n ast.Node) bool {
	s := c.scope.Symbol(dottedName(n))
	return s != nil && s.Param && s.Kind == vocab.Choice
}

// anyWord is a comparison with a parameter that may be any word: it is checked where the definition is used.
func (c *compiler) anyWord(n ast.Node, left, right ast.Node) *Node {
	if c.isParam(left) {
		left = right
	}
	s := c.name(left, vocab.Choice, vocab.Features, vocab.Text)
	if s == nil {
		return nil
	}
	if s.Kind == vocab.Quantity || s.Kind == vocab.Truth {
		return c.noNode(n, diag.UnlikeTypes, "%s is a %s, and can't be compared with a word", s.Name, s.Kind.Noun())
	}
	return c.leaf(n, &Leaf{Kind: Within, Slot: s.Slot})
}

// plainName is the name that an expression is, or that stands for it; "" of anything else.
func (c *compiler) plainName(n ast.Node) string {
	if arg, is := c.bound(n); is {
		return outwards(c, func() string { return c.plainName(arg) })
	}
	return dottedName(n)
}

// membership is "x in [words]" and "feature in features".
func (c *compiler) membership(n *ast.BinaryNode) *Node {
	if lit, ok := c.word(n.Left).(*ast.StringNode); ok {
		return c.feature(n, lit, n.Right)
	}
	if c.isParam(n.Left) {
		if _, isList := n.Right.(*ast.ArrayNode); !isList {
			return c.anyWord(n, n.Left, n.Right)
		}
	}
	if c.misplacedFeature(n) {
		return nil
	}
	list, ok := n.Right.(*ast.ArrayNode)
	if !ok {
		if b, isRange := n.Right.(*ast.BinaryNode); isRange && b.Operator == ".." {
			c.refuse(n.Right, diag.NotAllowed, "\"..\" counts whole numbers only, and is not used here").
				Detail = "Write a range as 1.70 <= ri <= 1.80."
			return nil
		}
		return c.noNode(n.Right, diag.UnlikeTypes,
			"\"in\" wants a list of words here, such as [\"slight\", \"strong\"]")
	}
	var literals []*ast.StringNode
	for _, item := range list.Nodes {
		lit, ok := c.word(item).(*ast.StringNode)
		if !ok && c.isParam(item) {
			continue
		}
		if !ok {
			d := c.refuse(item, diag.UnlikeTypes, "only words in quotes may stand in a list")
			d.Detail = "A quantity is compared with <, <=, >, >= or near(x, value, tolerance)."
			if name := dottedName(item); name != "" {
				d.Detail = "Put the word in quotes: " + quoted(c.scope.outcome(dottedName(n.Left), name)) + "."
			}
			return nil
		}
		literals = append(literals, lit)
	}
	if len(literals) == 0 && len(list.Nodes) > 0 {
		return c.anyWord(n, n.Left, list.Nodes[0])
	}
	if len(literals) == 0 {
		return c.noNode(n.Right, diag.UnlikeTypes, "the list is empty")
	}
	return c.words(n, n.Left, literals)
}

func (c *compiler) feature(n ast.Node, lit *ast.StringNode, right ast.Node) *Node {
	if _, ok := right.(*ast.ArrayNode); ok {
		return c.noNode(n, diag.UnlikeTypes, "a word is looked up in a fixed list: name a reading on one side")
	}
	s := c.name(right, vocab.Features)
	if s == nil {
		return nil
	}
	if s.Kind != vocab.Features {
		d := c.refuse(n, diag.UnlikeTypes, "%s is a %s, not a set of features", s.Name, s.Kind.Noun())
		if s.Kind == vocab.Choice {
			d.Detail = "Write: " + s.Name + " == \"" + lit.Value + "\"."
		}
		return nil
	}
	i, ok := s.Observable.Outcome(lit.Value)
	if !ok {
		c.unknownWord(lit, s, diag.UnknownFeature)
		return nil
	}
	c.nameFeature(s, i)
	return c.leaf(n, &Leaf{Kind: Contains, Slot: s.Slot, Feature: i})
}

func (c *compiler) nameFeature(s *Symbol, i int) {
	set := c.features[s.Slot]
	set.Add(i)
	c.features[s.Slot] = set
}

// textual is contains, startsWith, endsWith and matches: decided over the vocabulary for a choice, per case for a text.
func (c *compiler) textual(n *ast.BinaryNode) *Node {
	test, key, ok := c.wordTest(n.Operator, n.Right)
	if !ok {
		return nil
	}
	s := c.name(n.Left, vocab.Choice, vocab.Text)
	if s == nil {
		return nil
	}
	switch s.Kind {
	case vocab.Choice:
		var mask uint64
		for _, w := range s.words() {
			if m, _ := s.mask(w); test(w) {
				mask |= m
			}
		}
		return c.leaf(n, &Leaf{Kind: Within, Slot: s.Slot, Mask: mask})
	case vocab.Text:
		return c.leaf(n, &Leaf{Kind: Matches, Slot: s.Slot, Match: test, key: key})
	case vocab.Features:
		c.refuse(n, diag.UnlikeTypes, "%s is a set of features", s.Name).
			Detail = "Write: " + quoted(literal(n.Right, "feature")) + " in " + s.Name + ", or any(" + s.Name + ", # " +
			n.Operator + " \"...\")."
	default:
		c.refuse(n, diag.UnlikeTypes, "%s is a %s, not a text", s.Name, s.Kind.Noun())
	}
	return nil
}

// literal is a text in quotes, or another.
func literal(n ast.Node, otherwise string) string {
	if lit, ok := n.(*ast.StringNode); ok {
		return lit.Value
	}
	return otherwise
}

// quantifier is any, all and none over a set of features. The vocabulary is finite, so each is a plain "or" of
// features: all(f, p) says that nothing was seen that isn't p.
func (c *compiler) quantifier(n *ast.BuiltinNode) *Node {
	s, set, ok := c.featuresWhere(n)
	if !ok {
		return nil
	}
	if n.Name == "all" {
		var rest vocab.Set
		for i := range s.Observable.Outcomes {
			if !set.Has(i) {
				rest.Add(i)
			}
		}
		set = rest
	}
	var kids []*Node
	for _, i := range set.Members() {
		c.nameFeature(s, i)
		kids = append(kids, c.leaf(n, &Leaf{Kind: Contains, Slot: s.Slot, Feature: i}))
	}
	var out *Node
	switch len(kids) {
	case 0:
		out = c.node(n, Always) // false: no feature is like that
	case 1:
		out = kids[0]
	default:
		out = c.node(n, Or, kids...)
	}
	if n.Name == "any" {
		return out
	}
	return c.not(n, out)
}

// featuresWhere decides a predicate over the features of a vocabulary.
func (c *compiler) featuresWhere(n *ast.BuiltinNode) (*Symbol, vocab.Set, bool) {
	var set vocab.Set
	if len(n.Arguments) != 2 {
		c.refuse(n, diag.UnlikeTypes, "%s takes a set of features and a condition: %s(inclusions, # contains "+
			"\"bubbles\")", n.Name, n.Name)
		return nil, set, false
	}
	s := c.name(n.Arguments[0], vocab.Features)
	if s == nil {
		return nil, set, false
	}
	p, isPredicate := n.Arguments[1].(*ast.PredicateNode)
	if s.Kind != vocab.Features || !isPredicate {
		c.refuse(n, diag.UnlikeTypes, "%s takes a set of features and a condition; %s is a %s", n.Name, s.Name, s.Kind.Noun())
		return nil, set, false
	}
	test := c.predicate(p.Node, s)
	if test == nil {
		return nil, set, false
	}
	for i, w := range s.words() {
		if test(w) {
			set.Add(i)
			c.nameFeature(s, i)
		}
	}
	return s, set, true
}

// predicate compiles a condition on "#", one feature's name.
func (c *compiler) predicate(n ast.Node, s *Symbol) func(string) bool {
	switch n := n.(type) {
	case *ast.UnaryNode:
		if inner := c.predicate(n.Node, s); inner != nil && (n.Operator == "not" || n.Operator == "!") {
			return func(w string) bool { return !inner(w) }
		}
		return nil
	case *ast.BinaryNode:
		return c.predicateBinary(n, s)
	}
	c.refuse(n, diag.NotAllowed, "only comparisons of # with words, and \"and\", \"or\", \"not\", may stand here")
	return nil
}

func (c *compiler) predicateBinary(n *ast.BinaryNode, s *Symbol) func(string) bool {
	switch n.Operator {
	case "and", "&&", "or", "||":
		a, b := c.predicate(n.Left, s), c.predicate(n.Right, s)
		if a == nil || b == nil {
			return nil
		}
		if n.Operator[0] == 'a' || n.Operator == "&&" {
			return func(w string) bool { return a(w) && b(w) }
		}
		return func(w string) bool { return a(w) || b(w) }
	}
	if p, ok := n.Left.(*ast.PointerNode); !ok || p.Name != "" {
		c.refuse(n.Left, diag.NotAllowed, "only # may stand on the left here")
		return nil
	}
	switch n.Operator {
	case "==", "!=":
		return c.predicateWords(s, []ast.Node{n.Right}, n.Operator == "==")
	case "in":
		if list, ok := n.Right.(*ast.ArrayNode); ok {
			return c.predicateWords(s, list.Nodes, true)
		}
	case "contains", "startsWith", "endsWith", "matches":
		if test, _, ok := c.wordTest(n.Operator, n.Right); ok {
			return test
		}
		return nil
	}
	c.refuse(n, diag.NotAllowed, "%q can't be used on a feature's name", n.Operator)
	return nil
}

func (c *compiler) predicateWords(s *Symbol, nodes []ast.Node, want bool) func(string) bool {
	var list []string
	for _, item := range nodes {
		lit, ok := item.(*ast.StringNode)
		if !ok {
			c.refuse(item, diag.UnlikeTypes, "a word in quotes is wanted here")
			return nil
		}
		i, ok := s.Observable.Outcome(lit.Value)
		if !ok {
			c.unknownWord(lit, s, diag.UnknownFeature)
			return nil
		}
		list = append(list, s.Observable.Outcomes[i].Name)
	}
	return func(w string) bool { return slices.Contains(list, w) == want }
}

// notAllowed refuses a construct of expr by name, with the reason.
func (c *compiler) notAllowed(n ast.Node) {
	what, why := construct(n)
	d := c.refuse(n, diag.NotAllowed, "%s may not be used in a condition", what)
	d.Detail = why
	if b, ok := n.(*ast.BuiltinNode); ok {
		if c.outer != nil {
			return
		}
		start, _ := c.at.extent(n)
		d.Span, d.Nearest = c.at.locate(start, start+len(b.Name)), nearestFunction(b.Name, len(b.Arguments) == 1)
	}
}

func construct(n ast.Node) (what, why string) {
	switch n := n.(type) {
	case *ast.NilNode:
		return "nil", "Whether something was read is seen(x)."
	case *ast.ConditionalNode:
		return "a choice between two expressions", "Write two rules, or use \"and\" and \"or\"."
	case *ast.VariableDeclaratorNode:
		return "\"let\"", "Let a rule establish a fact, and name the fact."
	case *ast.SequenceNode:
		return "\";\"", "A condition is one expression."
	case *ast.BuiltinNode:
		return "the function " + n.Name,
			"It is not reproducible, not bounded, or has no meaning for readings that may be missing."
	case *ast.CallNode:
		return "the call", "Only near, seen, unclear, sqrt, abs, min, max, any, all, none, count and the formulas " +
			"may be called."
	case *ast.SliceNode:
		return "a slice", "Readings are no lists."
	case *ast.MapNode, *ast.PairNode:
		return "a map", "Readings are no maps."
	case *ast.ArrayNode:
		return "a list", "A list may stand only to the right of \"in\"."
	case *ast.PointerNode:
		return "#", "It has a meaning only within any, all, none and count."
	case *ast.ChainNode:
		return "\"?.\"", "A missing property leaves the condition undecided by itself."
	case *ast.BinaryNode:
		return "\"" + n.Operator + "\"",
			"Allowed are < <= > >= == != in, and or not, + - * / **, contains startsWith endsWith matches."
	case *ast.UnaryNode:
		return "\"" + n.Operator + "\" here", "A condition is wanted here."
	default:
		return "this", "It is outside the language of rules."
	}
}
