package condition

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// quoted is a word as conditions write it.
func quoted(word string) string { return strconv.Quote(word) }

// hint is what there is to say of an unknown name: the name that was perhaps meant, of those that fit the place first,
// and what it is elsewhere. A name may stand for its initials, and they for it.
func (s *Scope) hint(name string, fits []vocab.Kind) (nearest, detail string) {
	if s.hints != nil {
		if detail = s.hints(name); detail != "" {
			return "", detail
		}
	}
	if nearest = cmp.Or(s.whole(name), s.end(name), s.called(name), s.ofTheStone(name)); nearest != "" {
		return nearest, ""
	}
	nearest = diag.NearestOrAbbreviated(name, s.of(fits), s.names)
	if nearest == "" {
		nearest = cmp.Or(s.fieldLike(name), diag.Nearest(name, s.definitions()))
	}
	if nearest == "" {
		detail = strings.TrimSpace(s.elsewhere(strings.ReplaceAll(name, "_", " ")))
	}
	return nearest, detail
}

// whole is the only name with a dot that ends with a name without one: stone.carat of carat.
func (s *Scope) whole(name string) string {
	with := slices.DeleteFunc(slices.Clone(s.names), func(known string) bool {
		_, field, dotted := cutDot(known)
		return !dotted || !strings.EqualFold(field, name)
	})
	if len(with) != 1 {
		return ""
	}
	return with[0]
}

// called is the name of the observable that cases may give by another.
func (s *Scope) called(name string) string {
	name = strings.ReplaceAll(vocab.Fold(name), "_", " ")
	for _, known := range s.names {
		if sym := s.Symbol(known); sym != nil && sym.Observable != nil && slices.Contains(sym.Observable.Also, name) {
			return known
		}
	}
	return ""
}

// ofTheStone is the property of the stone that goes by another word: stone.carat of stone.weight.
func (s *Scope) ofTheStone(name string) string {
	root, word, _ := cutDot(name)
	if meant := root + "." + vocab.OfTheStone[word]; s.Symbol(meant) != nil {
		return meant
	}
	return ""
}

// fieldLike is the only name with a dot of whose end a name without one is a slip.
func (s *Scope) fieldLike(name string) string {
	var fields []string
	for _, known := range s.names {
		if _, field, dotted := cutDot(known); dotted {
			fields = append(fields, field)
		}
	}
	return s.whole(diag.Slip(name, fields))
}

// ends are other words for the ends of a range.
var ends = map[string]string{"max": "high", "maximum": "high", "upper": "high", "top": "high", "hi": "high",
	"highest": "high", "to": "high", "min": "low", "minimum": "low", "lower": "low", "bottom": "low", "lo": "low",
	"lowest": "low", "from": "low"}

// end is the name of an end of a range that goes by another word.
func (s *Scope) end(name string) string {
	i := strings.LastIndexByte(name, '.')
	if i < 0 {
		return ""
	}
	if meant := name[:i+1] + ends[name[i+1:]]; s.Symbol(meant) != nil && ends[name[i+1:]] != "" {
		return meant
	}
	return ""
}

// elsewhere says of which names a word is an outcome.
func (s *Scope) elsewhere(word string) string {
	const most = 3
	var names []string
	for _, name := range s.of([]vocab.Kind{vocab.Choice, vocab.Features}) {
		if slices.ContainsFunc(s.byName[name].words(), func(w string) bool { return strings.EqualFold(w, word) }) {
			names = append(names, name)
		}
	}
	if len(names) == 0 || len(names) > most {
		return ""
	}
	return " " + quoted(strings.ToLower(word)) + " is an outcome of " + strings.Join(names, " and of ") + "."
}

// outcome is the word of a name's outcomes that a word without quotes was perhaps meant to be, else the word itself.
func (s *Scope) outcome(name, word string) string {
	sym := s.Symbol(name)
	if sym == nil {
		return word
	}
	return cmp.Or(diag.Nearest(word, sym.spellings()), word)
}

// truthHint says how a truth is asked for.
func truthHint(s *Symbol) string {
	if s.Kind != vocab.Truth {
		return ""
	}
	return "It is true or false by itself: write " + s.Name + ", or not " + s.Name + "."
}

// noNumbers refuses what is compared for equality and is no number, and says how that is asked for: a word without
// quotes, a truth and what stands for one, two names of which neither is a quantity. It tells whether it did.
func (c *compiler) noNumbers(n *ast.BinaryNode, left, right ast.Node) bool {
	s := c.scope.Symbol(dottedName(left))
	if other := c.scope.Symbol(dottedName(right)); s == nil || s.Kind == vocab.Quantity && other != nil {
		s, right = other, left
	}
	word := dottedName(right)
	switch right.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
	default:
		if word == "" {
			return false
		}
	}
	if s == nil || s.Kind == vocab.Quantity {
		return false
	}
	if s.Kind == vocab.Truth {
		c.refuse(n, diag.UnlikeTypes, "%s is a truth, and can't be compared with this", s.Name).Detail = truthHint(s)
		return true
	}
	if word == "" || c.scope.Symbol(word) != nil {
		c.refuse(n, diag.UnlikeTypes, "%s is a %s, and can't be compared with this", s.Name, s.Kind.Noun()).
			Detail = askFor(s, "")
		return true
	}
	c.refuse(right, diag.UnlikeTypes, "%s stands without quotes, and is no name", word).Detail = asked(s, n.Operator,
		c.scope.outcome(s.Name, word))
	return true
}

// askFor says how a word of a name is asked for; of an empty word the first that the name has.
func askFor(s *Symbol, word string) string { return asked(s, "==", word) }

// asked is the same with the comparison that somebody wrote.
func asked(s *Symbol, operator, word string) string {
	word = cmp.Or(word, first(s.words()), "...")
	if s.Kind == vocab.Features {
		return "Write: " + quoted(word) + " in " + s.Name + "."
	}
	return "Write: " + s.Name + " " + operator + " " + quoted(word) + "."
}

// misplacedFeature refuses "x in features" where x is no text in quotes, and says how a feature is asked for.
func (c *compiler) misplacedFeature(n *ast.BinaryNode) bool {
	s := c.scope.Symbol(dottedName(n.Right))
	if s == nil || s.Kind != vocab.Features {
		return false
	}
	if u, ok := n.Left.(*ast.UnaryNode); ok && (u.Operator == "not" || u.Operator == "!") {
		if lit, isText := u.Node.(*ast.StringNode); isText {
			c.refuse(n, diag.UnlikeTypes, "\"not\" binds to the text alone here").
				Detail = "Write: " + quoted(lit.Value) + " not in " + s.Name + "."
			return true
		}
	}
	word := dottedName(n.Left)
	if word == "" || c.scope.Symbol(word) != nil {
		return false
	}
	c.refuse(n.Left, diag.UnlikeTypes, "%s stands without quotes, and is no name", word).Detail = askFor(s,
		c.scope.outcome(s.Name, word))
	return true
}

// unquoted says how an outcome of several words is asked for that stands without quotes in a text that has no grammar.
func unquoted(text string, scope *Scope) string {
	words := wordsOf(text)
	for i, w := range words {
		s := scope.Symbol(w.text)
		if w.kind != 'w' || s == nil {
			continue
		}
		switch {
		case s.Kind == vocab.Choice && i+3 < len(words) && words[i+1].kind == '=' && words[i+2].kind == '=':
			if word, ok := outcomeAt(words[i+3:], s); ok {
				return askFor(s, word)
			}
		case s.Kind == vocab.Features && i > 1 && words[i-1].text == "in":
			for from := max(0, i-6); from < i-2; from++ {
				if word, ok := outcomeAt(words[from:i-1], s); ok {
					return askFor(s, word)
				}
			}
		}
	}
	return ""
}

// outcomeAt finds the outcome of several words with which words begin.
func outcomeAt(words []word, s *Symbol) (string, bool) {
	text := ""
	for i, w := range words {
		if w.kind != 'w' && w.kind != '0' {
			break
		}
		if text = strings.TrimPrefix(text+" "+w.text, " "); i > 0 && slices.Contains(s.words(), text) {
			return text, true
		}
	}
	return "", false
}

// bareWords refuses words that stand as alternatives by themselves: colour == "green" or "blue". It tells whether there
// are any.
func (c *compiler) bareWords(n *ast.BinaryNode) bool {
	var words []string
	var bare ast.Node
	var of *Symbol
	var walk func(ast.Node)
	walk = func(n ast.Node) {
		switch n := n.(type) {
		case *ast.StringNode:
			words, bare = append(words, n.Value), cmp.Or(bare, ast.Node(n))
		case *ast.BinaryNode:
			left, right := n.Left, n.Right
			if n.Operator == "in" {
				left, right = right, left
			}
			lit, isText := right.(*ast.StringNode)
			switch {
			case n.Operator == "or" || n.Operator == "||":
				walk(n.Left)
				walk(n.Right)
			case isText && (n.Operator == "==" || n.Operator == "in"):
				words, of = append(words, lit.Value), cmp.Or(c.scope.Symbol(dottedName(left)), of)
			}
		}
	}
	walk(n)
	if bare == nil || of == nil {
		return false
	}
	d := c.refuse(bare, diag.UnlikeTypes, "a word by itself stands where a condition is wanted")
	d.Detail = "Write: " + amongWords(of, words) + "."
	return true
}

// amongWords is how one of several words of a name is asked for.
func amongWords(s *Symbol, words []string) string {
	list := english.Each(words, quoted)
	if s.Kind == vocab.Features {
		return strings.Join(list, " in "+s.Name+" or ") + " in " + s.Name
	}
	return s.Name + " in [" + strings.Join(list, ", ") + "]"
}
