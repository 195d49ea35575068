package condition

import (
	"math"
	"slices"
	"strings"

	"pgregory.net/rapid"

	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// drawn is what was read under one name, and every value that the thing itself can still have.
type drawn struct {
	slot Slot
	can  []any // float64, string, []string or bool
}

// drawnCase is a case with all that it leaves open, by slot.
type drawnCase struct {
	scope *Scope
	state *State
	can   [][]any
}

// grid holds the cuts of the drawn conditions, what lies between them, and something far off to either side.
var grid = []float64{-1000, 1.45, 1.5, 1.55, 1.6, 1.65, 1.7, 1.75, 1.8, 1.85, 1000}

var claims = []string{"blue sapphire", "diamond", "ruby", "sapphire", "spinel", "something else"}

// style says which readings are drawn.
type style struct {
	measured bool // quantities with an uncertainty, besides bounds and exact ones
	known    bool // everything is known, and exactly
}

func drawCase(t *rapid.T, scope *Scope, st style) *drawnCase {
	c := &drawnCase{scope: scope, state: &State{Slots: make([]Slot, scope.Len())}, can: make([][]any, scope.Len())}
	for i := range scope.Len() {
		c.set(i, drawReading(t, scope.At(i), c.state, st))
	}
	return c
}

func (c *drawnCase) set(slot int, d drawn) {
	c.state.Slots[slot], c.can[slot] = d.slot, d.can
}

// with is the case with another reading in one slot.
func (c *drawnCase) with(slot int, d drawn) *drawnCase {
	out := &drawnCase{scope: c.scope, state: &State{Slots: slices.Clone(c.state.Slots), Context: c.state.Context},
		can: slices.Clone(c.can)}
	out.set(slot, d)
	return out
}

func drawReading(t *rapid.T, sym *Symbol, s *State, st style) drawn {
	d := drawn{slot: Slot{Status: Ready}}
	if !st.known && rapid.IntRange(0, 2).Draw(t, sym.Name+" read") == 0 && (!sym.Fact || sym.Kind != vocab.Truth) {
		d.slot.Status = rapid.SampledFrom([]Status{Missing, Missing, Missing, Vague, Aside, Clashing}).Draw(t, "status")
		d.can = everything(sym)
		return d
	}
	switch sym.Kind {
	case vocab.Quantity:
		drawQuantity(t, &d, s, st)
	case vocab.Choice:
		drawChoiceRead(t, &d, sym, st)
	case vocab.Features:
		drawFeaturesRead(t, &d, sym, st)
	case vocab.Truth:
		d.can = everything(sym)
		if v := rapid.IntRange(0, 2).Draw(t, sym.Name); v < 2 || st.known || !sym.Fact {
			d.slot.Truth = logic.Of(v == 0)
			d.can = []any{v == 0}
		}
	case vocab.Text:
		d.slot.Text = rapid.SampledFrom(claims).Draw(t, sym.Name)
		d.can = []any{d.slot.Text}
	}
	return d
}

// everything lists what a thing of which nothing is known can be.
func everything(sym *Symbol) (out []any) {
	switch sym.Kind {
	case vocab.Quantity:
		for _, v := range grid {
			out = append(out, v)
		}
	case vocab.Choice:
		for i, w := range sym.words() {
			if sym.Observable == nil || sym.Observable.Outcomes[i].Covers == 0 {
				out = append(out, w)
			}
		}
	case vocab.Features:
		out = subsets(sym.words(), vocab.Set{}, vocab.Set{})
	case vocab.Truth:
		out = []any{true, false}
	case vocab.Text:
		for _, c := range claims {
			out = append(out, c)
		}
	}
	return out
}

// subsets lists the sets of features that hold all seen ones and none of the unseen.
func subsets(words []string, seen, unseen vocab.Set) (out []any) {
	for bits := range 1 << len(words) {
		list := []string{}
		fits := true
		for i, w := range words {
			in := bits>>i&1 == 1
			fits = fits && (in || !seen.Has(i)) && (!in || !unseen.Has(i))
			if in {
				list = append(list, w)
			}
		}
		if fits {
			out = append(out, list)
		}
	}
	return out
}

func drawQuantity(t *rapid.T, d *drawn, s *State, st style) {
	inner := grid[1 : len(grid)-1]
	forms := []string{"exact", "between", "between", "above", "below", "beside"}
	if st.measured {
		forms = append(forms, "measured", "measured", "measured")
	}
	if st.known {
		forms = forms[:1]
	}
	at := rapid.SampledFrom(inner).Draw(t, "value")
	var values []quantity.Q
	switch rapid.SampledFrom(forms).Draw(t, "form") {
	case "exact":
		values = []quantity.Q{quantity.Exact(at)}
	case "between":
		values = []quantity.Q{quantity.Between(at, max(at, rapid.SampledFrom(inner).Draw(t, "high")))}
	case "above":
		values = []quantity.Q{quantity.Above(at)}
	case "below":
		values = []quantity.Q{quantity.Below(at)}
	case "beside":
		values = []quantity.Q{quantity.Exact(at), quantity.Exact(rapid.SampledFrom(inner).Draw(t, "other"))}
	case "measured":
		s.Context.U = append(s.Context.U, rapid.SampledFrom([]float64{0.001, 0.02, 0.1}).Draw(t, "u"))
		values = []quantity.Q{quantity.Measured(at, len(s.Context.U)-1)}
	}
	d.slot.SetQuantities(&s.Context, values...)
	for _, q := range values {
		lo, hi := q.Interval(&s.Context)
		d.can = append(d.can, max(lo, grid[0]), min(hi, grid[len(grid)-1]))
		for _, v := range grid {
			if lo < v && v < hi {
				d.can = append(d.can, v)
			}
		}
	}
}

func drawChoiceRead(t *rapid.T, d *drawn, sym *Symbol, st style) {
	words := sym.words()
	if sym.Observable != nil {
		words = plainChoices[sym.Name]
	}
	most := len(words)
	if st.known {
		most = 1
	}
	for _, w := range rapid.Permutation(words).Draw(t, sym.Name)[:rapid.IntRange(1, most).Draw(t, "open")] {
		m, _ := sym.mask(w)
		d.slot.Set |= m
		d.can = append(d.can, w)
	}
}

func drawFeaturesRead(t *rapid.T, d *drawn, sym *Symbol, st style) {
	kinds := []string{"seen", "not seen", "not looked for"}
	if st.known {
		kinds = kinds[:2]
	}
	for i := range sym.words() {
		switch rapid.SampledFrom(kinds).Draw(t, sym.Name) {
		case "seen":
			d.slot.Seen.Add(i)
		case "not seen":
			d.slot.Unseen.Add(i)
		}
	}
	d.can = subsets(sym.words(), d.slot.Seen, d.slot.Unseen)
}

// environment is one completion as expr's machine takes it.
func (c *drawnCase) environment(choose func(slot int) any) map[string]any {
	env := map[string]any{}
	for i := range c.scope.Len() {
		root, field, dotted := strings.Cut(c.scope.At(i).Name, ".")
		if !dotted {
			env[root] = choose(i)
			continue
		}
		if env[root] == nil {
			env[root] = map[string]any{}
		}
		env[root].(map[string]any)[field] = choose(i)
	}
	env["near"] = func(x, v, tol float64) bool { return v-tol <= x && x <= v+tol }
	env["sqrt"] = math.Sqrt
	for name, f := range formulas {
		env[name] = func(x ...float64) float64 { v, _ := f.F(x); return v }
	}
	env["seen"] = func(any) bool { return true }
	env["unclear"] = func(any) bool { return false }
	return env
}
