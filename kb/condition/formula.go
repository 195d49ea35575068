package condition

import (
	"maps"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
	"whystone/kb/physics"
)

// formulas are those of the bench arithmetic that a condition may call, by name.
var formulas = func() map[string]physics.Function {
	out := map[string]physics.Function{}
	for _, f := range physics.Functions() {
		out[f.Name] = f
	}
	return out
}()

// formulaNames are their names, sorted.
var formulaNames = slices.Sorted(maps.Keys(formulas))

// sortedWith is a list with more words, sorted.
func sortedWith(list []string, more ...string) []string {
	return slices.Sorted(slices.Values(append(more, list...)))
}

// numeric is the type that expr's checker is told of a function of so many numbers.
func numeric(takes int) any {
	switch takes {
	case 1:
		return new(func(any) float64)
	case 2:
		return new(func(any, any) float64)
	default:
		return new(func(any, any, any) float64)
	}
}

// formula compiles the call of one.
func (c *compiler) formula(n *ast.CallNode, f physics.Function) *Arith {
	if len(n.Arguments) != len(f.Takes) {
		c.refuse(n, diag.UnlikeTypes, "%s takes %d, and %d are given", f.Name, len(f.Takes), len(n.Arguments)).
			Detail = "Write: " + f.Name + "(" + strings.Join(f.Takes, "; ") + "), which gives the " + f.Gives + "."
		return nil
	}
	return c.apply(n, f.Name, n.Arguments)
}
