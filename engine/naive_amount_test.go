package engine_test

import (
	"errors"
	"fmt"
	"maps"
	"math"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/physics"
)

// amount is a quantity in a condition: a number that rests on readings, with its derivative by each ("first-order
// propagation by partial derivatives per reading, so that a reading used twice cancels"), or what lies between bounds.
type amount struct {
	value            float64
	by               map[string]float64 // derivatives by reading
	bounded          bool
	low, high        float64
	openLow, openTop bool       // a bound that is left out itself
	span             [2]float64 // "Where arithmetic needs the open end of a bound, it is that of the observable's span"
}

func exactly(x float64) amount { return amount{value: x} }

var errZero = errors.New("division by zero")

// ends are the expanded interval (k = 2), or the hard bounds.
func (w *wording) ends(a amount) (low, high float64) {
	if a.bounded {
		return a.low, a.high
	}
	if len(a.by) == 0 {
		return a.value, a.value
	}
	u := w.u(a.by)
	return a.value - 2*u, a.value + 2*u
}

// compared: "`holds` or `fails` only when the reading's expanded interval (k = 2, or its hard bounds) lies wholly on
// one side", for every combination of readings that stand side by side.
func (w *wording) compared(op string, left, right tree) verity {
	if op == ">" || op == ">=" {
		left, right = right, left
	}
	strict := op == "<" || op == ">"
	holds, fails, any := true, true, false
	err := w.combinations(left, right, func(pick map[string]amount) error {
		a, err := w.amount(left, pick)
		if err != nil {
			return err
		}
		b, err := w.amount(right, pick)
		if err != nil {
			return err
		}
		any = true
		if a.bounded || b.bounded {
			low, high, openLow, openTop := w.lessBy(a, b)
			holds = holds && (high < 0 || high == 0 && (!strict || openTop))
			fails = fails && (low > 0 || low == 0 && (strict || openLow))
			w.met["a bound decides where it ends"] = w.met["a bound decides where it ends"] || high == 0 && openTop ||
				low == 0 && openLow
			return nil
		}
		la, ha := w.ends(a)
		lb, hb := w.ends(b)
		if len(a.by) > 0 && len(b.by) > 0 { // what both rest on cancels
			d := w.minus(a, b)
			la, ha = w.ends(d)
			la, ha, lb, hb = b.value+la, b.value+ha, b.value, b.value
		}
		w.near(la, hb)
		w.near(ha, lb)
		holds = holds && (ha < lb || ha == lb && !strict)
		fails = fails && (la > hb || la == hb && strict)
		return nil
	})
	switch {
	case err != nil:
		return isFaulty
	case !any:
		return isUndecided
	}
	return decided(holds, fails)
}

// lessBy is where a - b lies when one of them is bounded, and which of the ends are left out.
func (w *wording) lessBy(a, b amount) (low, high float64, openLow, openTop bool) {
	al, ah := w.ends(a)
	bl, bh := w.ends(b)
	return al - bh, ah - bl, a.openLow || b.openTop, a.openTop || b.openLow
}

// combinations picks one reading of each name in turn; none where a reading is missing.
func (w *wording) combinations(left, right tree, do func(map[string]amount) error) error {
	l, _ := names(left)
	r, _ := names(right)
	picks := []map[string]amount{{}}
	for _, name := range append(l, r...) {
		m := w.of(name)
		if !m.here {
			return nil
		}
		if _, done := picks[0][name]; done {
			continue
		}
		var more []map[string]amount
		for _, p := range picks {
			for _, a := range m.amounts {
				q := maps.Clone(p)
				q[name] = a
				more = append(more, q)
			}
		}
		picks = more
	}
	for _, p := range picks {
		if err := do(p); err != nil {
			return err
		}
	}
	return nil
}

// amount computes an expression.
func (w *wording) amount(t tree, pick map[string]amount) (amount, error) {
	switch t := t.(type) {
	case *ast.IntegerNode:
		return exactly(float64(t.Value)), nil
	case *ast.FloatNode:
		return exactly(t.Value), nil
	case *ast.UnaryNode:
		a, err := w.amount(t.Node, pick)
		if t.Operator == "-" {
			return w.minus(exactly(0), a), err
		}
		return a, err
	case *ast.BuiltinNode:
		if t.Name == "abs" {
			a, err := w.amount(t.Arguments[0], pick)
			return w.absolute(a), err
		}
	case *ast.CallNode:
		return w.formula(t, pick)
	case *ast.BinaryNode:
		a, err := w.amount(t.Left, pick)
		if err != nil {
			return a, err
		}
		b, err := w.amount(t.Right, pick)
		if err != nil {
			return b, err
		}
		return w.reckon(t.Operator, a, b)
	}
	if a, ok := pick[nameOf(t)]; ok {
		return a, nil
	}
	panic(fmt.Sprintf("the second implementation reckons with no %T: %s", t, t))
}

// formula is one of the bench arithmetic, of exact numbers. Its own package holds it to published figures; here it
// counts what is made of it.
func (w *wording) formula(t *ast.CallNode, pick map[string]amount) (amount, error) {
	var x []float64
	for _, arg := range t.Arguments {
		a, err := w.amount(arg, pick)
		if err != nil || len(a.by) > 0 || a.bounded {
			return a, errors.Join(err, fmt.Errorf("the second implementation takes exact numbers only: %s", t))
		}
		x = append(x, a.value)
	}
	if nameOf(t.Callee) == "sqrt" {
		return exactly(math.Sqrt(x[0])), nil
	}
	for _, f := range physics.Functions() {
		if f.Name == nameOf(t.Callee) {
			v, err := f.F(x)
			return exactly(v), err
		}
	}
	panic(fmt.Sprintf("the second implementation has no formula %s", t))
}

// linear is a value with the derivatives ka and kb by two others.
func linear(value float64, a amount, ka float64, b amount, kb float64) amount {
	out := amount{value: value, by: map[string]float64{}}
	for r, d := range a.by {
		out.by[r] += ka * d
	}
	for r, d := range b.by {
		out.by[r] += kb * d
	}
	return out
}

func (w *wording) minus(a, b amount) amount {
	if a.bounded || b.bounded {
		out, _ := w.hull(a, b, func(x, y float64) float64 { return x - y })
		return out
	}
	return linear(a.value-b.value, a, 1, b, -1)
}

// reckon is one of the four kinds, or a power.
func (w *wording) reckon(op string, a, b amount) (amount, error) {
	bounded := a.bounded || b.bounded
	switch op {
	case "+":
		if bounded {
			return w.hull(a, b, func(x, y float64) float64 { return x + y })
		}
		return linear(a.value+b.value, a, 1, b, 1), nil
	case "-":
		return w.minus(a, b), nil
	case "*":
		if bounded {
			return w.hull(a, b, func(x, y float64) float64 { return x * y })
		}
		return linear(a.value*b.value, a, b.value, b, a.value), nil
	case "/":
		low, high := w.closed(b)
		if !b.bounded {
			low, high = b.value, b.value
		}
		if low <= 0 && high >= 0 {
			return amount{}, errZero
		}
		if bounded {
			return w.hull(a, b, func(x, y float64) float64 { return x / y })
		}
		return linear(a.value/b.value, a, 1/b.value, b, -a.value/b.value/b.value), nil
	case "**", "^": // to a number
		if a.bounded && !b.bounded && len(b.by) == 0 {
			out, err := w.hull(a, b, math.Pow)
			if low, high := w.closed(a); low < 0 && high > 0 && math.Mod(b.value, 2) == 0 {
				out.low = 0
			}
			return out, err
		}
		if !bounded && len(b.by) == 0 {
			return linear(math.Pow(a.value, b.value), a, b.value*math.Pow(a.value, b.value-1), b, 0), nil
		}
	}
	panic("the second implementation reckons no " + op)
}

// closed are the ends with those that are open at the observable's span.
func (w *wording) closed(a amount) (low, high float64) {
	low, high = w.ends(a)
	if math.IsInf(low, -1) {
		low = a.span[0]
	}
	if math.IsInf(high, 1) {
		high = a.span[1]
	}
	return low, high
}

// hull is what lies between the outcomes of the ends.
func (w *wording) hull(a, b amount, f func(x, y float64) float64) (amount, error) {
	al, ah := w.closed(a)
	bl, bh := w.closed(b)
	out := amount{bounded: true, low: math.Inf(1), high: math.Inf(-1)}
	for _, x := range []float64{al, ah} {
		for _, y := range []float64{bl, bh} {
			out.low, out.high = math.Min(out.low, f(x, y)), math.Max(out.high, f(x, y))
		}
	}
	return out, nil
}

// absolute: where the readings don't say on which side of zero it lies, what they leave open.
func (w *wording) absolute(a amount) amount {
	low, high := w.closed(a)
	switch {
	case low >= 0:
		return a
	case high <= 0:
		return w.minus(exactly(0), a)
	}
	return amount{bounded: true, high: math.Max(-low, high)}
}
