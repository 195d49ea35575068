package condition

import (
	"math"
	"slices"
	"strconv"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// arith compiles what must be a number.
func (c *compiler) arith(n ast.Node) *Arith {
	if arg, is := c.bound(n); is {
		return outwards(c, func() *Arith { return c.arith(arg) })
	}
	if d, args := c.used(n); d != nil {
		if d.Kind != vocab.Quantity && !d.Broken {
			c.refuse(n, diag.UnlikeTypes, "%s is a %s, but a number is wanted here", d.Name, KindWord(d.Kind)).
				Related = []diag.Related{{Span: d.at.whole(), Says: "its definition"}}
			return nil
		}
		return inwards(c, n, d, args, c.arith)
	}
	switch n := n.(type) {
	case *ast.IntegerNode:
		return &Arith{Num: float64(n.Value)}
	case *ast.FloatNode:
		if math.IsInf(n.Value, 0) || math.IsNaN(n.Value) {
			return c.noArith(n, diag.BadNumber, "this number is out of range")
		}
		return &Arith{Num: n.Value}
	case *ast.UnaryNode:
		return c.sign(n)
	case *ast.BinaryNode:
		return c.arithBinary(n)
	case *ast.IdentifierNode, *ast.MemberNode:
		return c.quantityName(n)
	case *ast.CallNode:
		fn := dottedName(n.Callee)
		if fn == "sqrt" && len(n.Arguments) == 1 {
			return c.apply(n, "sqrt", n.Arguments)
		}
		if f, ok := formulas[fn]; ok {
			return c.formula(n, f)
		}
		if fn != "" && !slices.Contains(functions, fn) {
			c.noFunction(n, fn)
			return nil
		}
	case *ast.BuiltinNode:
		return c.builtin(n)
	case *ast.StringNode:
		d := c.refuse(n, diag.UnlikeTypes, "a text stands where a number is wanted")
		if _, err := strconv.ParseFloat(n.Value, 64); err == nil {
			d.Detail = "Write the number without quotes."
		}
		return nil
	case *ast.BoolNode:
		return c.noArith(n, diag.UnlikeTypes, "true or false stands where a number is wanted")
	}
	c.notAllowed(n)
	return nil
}

func (c *compiler) sign(n *ast.UnaryNode) *Arith {
	if n.Operator != "-" && n.Operator != "+" {
		return c.noArith(n, diag.UnlikeTypes, "%q makes a condition, but a number is wanted here", n.Operator)
	}
	a := c.arith(n.Node)
	if a == nil || n.Operator == "+" {
		return a
	}
	return fold("neg", a)
}

func (c *compiler) arithBinary(n *ast.BinaryNode) *Arith {
	op := n.Operator
	if op == "^" {
		op = "**"
	}
	if _, ok := binary[op]; !ok || op == "min" || op == "max" {
		return c.noArith(n, diag.UnlikeTypes, "%q gives no number, but one is wanted here", n.Operator)
	}
	return c.apply(n, op, []ast.Node{n.Left, n.Right})
}

func (c *compiler) apply(n ast.Node, fn string, args []ast.Node) *Arith {
	list := english.Each(args, c.arith)
	if slices.Contains(list, nil) {
		return nil
	}
	out := fold(fn, list...)
	if out.Fn == "" && (math.IsNaN(out.Num) || math.IsInf(out.Num, 0)) {
		return c.noArith(n, diag.BadNumber, "this comes to no finite number")
	}
	return out
}

func (c *compiler) builtin(n *ast.BuiltinNode) *Arith {
	switch n.Name {
	case "abs":
		if len(n.Arguments) == 1 {
			return c.apply(n, "abs", n.Arguments)
		}
	case "min", "max":
		if len(n.Arguments) == 2 {
			return c.apply(n, n.Name, n.Arguments)
		}
		return c.noArith(n, diag.UnlikeTypes, "%s takes two numbers", n.Name)
	case "count":
		s, set, ok := c.featuresWhere(n)
		if !ok {
			return nil
		}
		return &Arith{Fn: "count", Slot: s.Slot, Set: set}
	case "any", "all", "none":
		return c.noArith(n, diag.UnlikeTypes, "%s(...) is a condition, but a number is wanted here", n.Name)
	}
	c.notAllowed(n)
	return nil
}

func (c *compiler) quantityName(n ast.Node) *Arith {
	s := c.name(n, vocab.Quantity)
	if s == nil {
		return nil
	}
	if s.Kind != vocab.Quantity {
		return c.noArith(n, diag.UnlikeTypes, "%s is a %s, but a number is wanted here", s.Name, s.Kind.Noun())
	}
	return &Arith{Fn: "slot", Slot: s.Slot, Span: s.span()}
}

// fold applies fn, at once when all its arguments are numbers. What fails or has no finite value stays as it is, for
// the caller to report.
func fold(fn string, args ...*Arith) *Arith {
	out := &Arith{Fn: fn, Args: args}
	for _, a := range args {
		if _, ok := a.constant(); !ok {
			return out
		}
	}
	q, err := out.eval(&State{}, nil)
	if err != nil {
		return &Arith{Num: math.NaN()}
	}
	return &Arith{Num: q.Value}
}
