package quantity

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/kbtest"
)

var published = kbtest.Published

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// half is half a unit of the last digit of a printed number: what rounding allows.
func half(printed string) float64 {
	_, decimals, _ := strings.Cut(printed, ".")
	return 0.5000001 * math.Pow10(-len(decimals))
}

// must unwraps a result that a test knows to be fine.
func must[T any](q T, err error) T {
	if err != nil {
		panic(err)
	}
	return q
}

func near(a, b, relative float64) bool {
	return math.Abs(a-b) <= relative*max(1, math.Abs(a), math.Abs(b))
}

// formula is a random expression over a few variables.
type formula func(ctx *Context, x []Q) (Q, error)

type binaryOp func(ctx *Context, a, b Q) (Q, error)
type unaryOp func(ctx *Context, a Q) (Q, error)

var (
	binaries  = []binaryOp{Add, Sub, Mul, Div, Pow}
	unaries   = []unaryOp{Neg, Sqrt, exp}
	kinkPairs = []binaryOp{Min, Max}
)

// exp is e to the power a: what a caller may do with a function of its own.
func exp(ctx *Context, a Q) (Q, error) { return Monotone(ctx, a, math.Exp, math.Exp) }

// drawFormula draws an expression up to the given depth over n variables, kinks (Abs, Min, Max) included if asked for.
func drawFormula(t *rapid.T, depth, n int, kinks bool) formula {
	kind := rapid.IntRange(0, 9).Draw(t, "kind")
	switch {
	case depth == 0 || kind < 2:
		i := rapid.IntRange(0, n-1).Draw(t, "variable")
		return func(_ *Context, x []Q) (Q, error) { return x[i], nil }
	case kind == 2:
		c := float64(rapid.IntRange(-3, 4).Draw(t, "constant"))
		return func(*Context, []Q) (Q, error) { return Exact(c), nil }
	case kind < 5:
		ops := unaries
		if kinks {
			ops = append(ops[:len(ops):len(ops)], Abs)
		}
		op, a := rapid.IntRange(0, len(ops)-1).Draw(t, "unary"), drawFormula(t, depth-1, n, kinks)
		return func(ctx *Context, x []Q) (Q, error) {
			q, err := a(ctx, x)
			if err != nil {
				return Q{}, err
			}
			return gentle(ops[op](ctx, q))
		}
	}
	ops := binaries
	if kinks {
		ops = append(ops[:len(ops):len(ops)], kinkPairs...)
	}
	op := rapid.IntRange(0, len(ops)-1).Draw(t, "binary")
	a, b := drawFormula(t, depth-1, n, kinks), drawFormula(t, depth-1, n, kinks)
	return func(ctx *Context, x []Q) (Q, error) {
		p, err := a(ctx, x)
		if err != nil {
			return Q{}, err
		}
		q, err := b(ctx, x)
		if err != nil {
			return Q{}, err
		}
		return gentle(ops[op](ctx, p, q))
	}
}

var errSteep = errors.New("too steep for differences to follow")

// gentle refuses a step of a formula that is so steep that differences of the whole could alias (the sine of something
// huge).
func gentle(q Q, err error) (Q, error) {
	for _, p := range q.Partials {
		if math.Abs(p.D) > 1e3 {
			return Q{}, errSteep
		}
	}
	return q, err
}
