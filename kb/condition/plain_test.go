package condition

import (
	"math"
	"math/rand/v2"
	"testing"

	"whystone/kb/quantity"
)

// TestPlainIsEval draws arithmetic on numbers without uncertainty, among them such as have no root, no quotient or no
// finite value, and one reading with an uncertainty: where plain says a number, eval says the same, to the last bit.
func TestPlainIsEval(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	numbers := []float64{0, 1, -1, 2, 0.5, 1.54, 40, 1e200, -1e-200, 3.52}
	s := &State{Slots: make([]Slot, len(numbers)+1)}
	for i, x := range numbers {
		s.Slots[i].SetQuantities(&s.Context, quantity.Exact(x))
	}
	s.Context.U = []float64{0.01}
	s.Slots[len(numbers)].SetQuantities(&s.Context, quantity.Measured(1.7, 0))
	arity := map[string]int{"+": 2, "-": 2, "*": 2, "/": 2, "**": 2, "min": 2, "max": 2, "neg": 1, "sqrt": 1, "abs": 1}
	for name, f := range formulas {
		arity[name] = len(f.Takes)
	}
	var draw func(deep int) *Arith
	draw = func(deep int) *Arith {
		switch {
		case deep == 0 && rng.IntN(2) == 0:
			return &Arith{Num: numbers[rng.IntN(len(numbers))]}
		case deep == 0:
			return &Arith{Fn: "slot", Slot: rng.IntN(len(s.Slots))}
		}
		names := append([]string{"+", "-", "*", "/", "**", "sqrt", "min", "neg"}, formulaNames...)
		out := &Arith{Fn: names[rng.IntN(len(names))]}
		for range arity[out.Fn] {
			out.Args = append(out.Args, draw(rng.IntN(deep)))
		}
		return out
	}
	same, refused, left := 0, 0, 0
	for range 50000 {
		a := draw(1 + rng.IntN(4))
		x, ok := a.plain(s)
		q, err := a.eval(s, func(int) int { return 0 })
		switch {
		case ok && (err != nil || q.Bounded || len(q.Partials) > 0 || math.Float64bits(q.Value) != math.Float64bits(x)):
			t.Fatalf("%s: plain says %v, eval %+v, %v", a.key(), x, q, err)
		case ok:
			same++
		case err != nil:
			refused++
		default:
			left++
		}
	}
	if same < 5000 || refused < 5000 || left < 1000 {
		t.Errorf("too few of a kind: %d alike, %d that eval refuses, %d with an uncertainty", same, refused, left)
	}
}
