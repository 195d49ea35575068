package condition

import (
	"regexp"
	"regexp/syntax"
	"strings"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
)

// wordTest is what contains, startsWith, endsWith and matches ask of a word, with a key that tells it from others.
func (c *compiler) wordTest(op string, right ast.Node) (test func(string) bool, key string, ok bool) {
	lit, isText := right.(*ast.StringNode)
	if !isText {
		c.refuse(right, diag.NotAllowed, "%q wants a text in quotes on its right", op)
		return nil, "", false
	}
	word := lit.Value
	if op != "matches" {
		word = strings.ToLower(word) // as all words and texts of a case are
	}
	key = op + ":" + word
	switch op {
	case "contains":
		return func(s string) bool { return strings.Contains(s, word) }, key, true
	case "startsWith":
		return func(s string) bool { return strings.HasPrefix(s, word) }, key, true
	case "endsWith":
		return func(s string) bool { return strings.HasSuffix(s, word) }, key, true
	}
	re := c.pattern(lit)
	if re == nil {
		return nil, "", false
	}
	return re.MatchString, key, true
}

// MaxPattern bounds a pattern, in bytes, and MaxSteps the program that it comes to: a few bytes that repeat a
// repetition would take a hundred megabytes otherwise.
const (
	MaxPattern = 200
	MaxSteps   = 2000
)

func (c *compiler) pattern(lit *ast.StringNode) *regexp.Regexp {
	if len(lit.Value) > MaxPattern {
		c.refuse(lit, diag.TooLong, "the pattern is %d bytes long; at most %d are allowed", len(lit.Value), MaxPattern)
		return nil
	}
	parsed, err := syntax.Parse(lit.Value, syntax.Perl)
	if err != nil {
		c.refuse(lit, diag.BadSyntax, "this pattern can't be read: %s",
			strings.TrimPrefix(err.Error(), "error parsing regexp: "))
		return nil
	}
	prog, err := syntax.Compile(parsed.Simplify())
	if err != nil || len(prog.Inst) > MaxSteps {
		c.refuse(lit, diag.TooLong, "the pattern repeats too much").Detail = "Write a shorter repetition, or * or +."
		return nil
	}
	re, err := regexp.Compile(lit.Value)
	if err != nil {
		c.refuse(lit, diag.BadSyntax, "this pattern can't be read: %s", err)
		return nil
	}
	return re
}
