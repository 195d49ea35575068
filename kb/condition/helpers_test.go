package condition

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// deskScope is a vocabulary with every kind of name that a condition can meet. Its words are invented but for the
// common ones of the bench.
func deskScope() *Scope {
	words := func(list ...string) (out []vocab.Outcome) {
		for _, w := range slices.Sorted(slices.Values(list)) {
			out = append(out, vocab.Outcome{Name: w})
		}
		return out
	}
	optic := words("aggregate", "biaxial", "doubly refractive", "isotropic", "uniaxial")
	optic[2].Covers = 1<<1 | 1<<4
	doubling := words("none", "slight", "strong")
	doubling[0].Also = []string{"no doubling"}
	inclusions := words("crystal", "curved striae", "feather", "gas bubbles", "needles")
	inclusions[3].Also = []string{"bubbles"}
	obs := []*vocab.Observable{
		{Name: "birefringence", Kind: vocab.Quantity}, {Name: "ri", Kind: vocab.Quantity},
		{Name: "specific_gravity", Kind: vocab.Quantity},
		{Name: "facet_doubling", Kind: vocab.Choice, Outcomes: doubling},
		{Name: "optic_character", Kind: vocab.Choice, Outcomes: optic},
		{Name: "thermal_probe", Kind: vocab.Choice, Outcomes: words("below diamond range", "diamond range",
			"unsteady")},
		{Name: "inclusions", Kind: vocab.Features, Outcomes: inclusions},
		{Name: "surface", Kind: vocab.Features, Outcomes: words("pits", "polish lines", "scratches")},
	}
	var symbols []Symbol
	for _, o := range obs {
		symbols = append(symbols, Symbol{Name: o.Name, Kind: o.Kind, Observable: o})
	}
	symbols = append(symbols, Symbol{Name: "stone.mounted", Kind: vocab.Truth},
		Symbol{Name: "stone.wet", Kind: vocab.Truth}, Symbol{Name: "stone.carat", Kind: vocab.Quantity, Exact: true},
		Symbol{Name: "stone.depth_mm", Kind: vocab.Quantity, Exact: true}, Symbol{Name: "stone.cut", Kind: vocab.Text},
		Symbol{Name: "claim", Kind: vocab.Text}, Symbol{Name: "stake", Kind: vocab.Quantity, Exact: true},
		Symbol{Name: "high_index", Kind: vocab.Truth,
			Fact: true}, Symbol{Name: "two_rays", Kind: vocab.Truth, Fact: true},
		Symbol{Name: "heft_class", Kind: vocab.Choice, Words: []string{"heavy", "light"}, Fact: true},
		Symbol{Name: "derived_index", Kind: vocab.Quantity, Fact: true})
	return NewScope(symbols)
}

// compileFor compiles text, with spans into a source that holds just it.
func compileFor(scope *Scope, text string) (*Condition, diag.List) {
	var out diag.List
	src := diag.NewSource("condition", []byte(text))
	c := Compile(text, func(start, end int) diag.Span { return diag.Span{Source: src, Start: start, End: end} }, scope,
		&out)
	return c, out
}

func mustCompile(t interface{ Fatalf(string, ...any) }, scope *Scope, text string) *Condition {
	c, out := compileFor(scope, text)
	if c == nil {
		t.Fatalf("%s: %s", text, out.Error())
	}
	return c
}

// stateOf makes a case of "name=value; name=value". Quantities are written 1.77 (exact), 1.77±0.01, 1.5..1.6, >1.81,
// <1.5; features feather,-needles (looked for, not seen); what stands side by side is separated by "/"; ?why is
// inconclusive, !why set aside, #why disagreeing.
func stateOf(t *testing.T, scope *Scope, text string) *State {
	t.Helper()
	s := &State{Slots: make([]Slot, scope.Len())}
	for i := range s.Slots {
		if sym := scope.At(i); sym.Fact && sym.Kind == vocab.Truth {
			s.Slots[i] = Slot{Status: Ready, Truth: logic.Fails}
		}
	}
	for _, part := range strings.Split(text, ";") {
		name, value, ok := strings.Cut(strings.TrimSpace(part), "=")
		if !ok {
			continue
		}
		sym := scope.Symbol(name)
		if sym == nil {
			t.Fatalf("readings %q: nothing is called %q", text, name)
		}
		slot := &s.Slots[sym.Slot]
		status := map[byte]Status{'?': Vague, '!': Aside, '#': Clashing}[value[0]]
		if status != Missing {
			slot.Status, slot.Reason = status, value[1:]
			continue
		}
		fillSlot(t, s, sym, slot, value)
	}
	return s
}

func fillSlot(t *testing.T, s *State, sym *Symbol, slot *Slot, value string) {
	t.Helper()
	slot.Status = Ready
	switch sym.Kind {
	case vocab.Truth:
		v, ok := logic.Parse(map[string]string{"true": "holds", "false": "fails"}[value])
		if slot.Truth = v; !ok && value != "undecided" {
			t.Fatalf("%q is no truth", value)
		}
	case vocab.Text:
		slot.Text = value
	case vocab.Choice:
		for _, w := range strings.Split(value, "/") {
			m, ok := sym.mask(w)
			if !ok {
				t.Fatalf("%s has no outcome %q", sym.Name, w)
			}
			slot.Set |= m
		}
	case vocab.Features:
		for _, w := range strings.Split(value, ",") {
			name, absent := strings.CutPrefix(w, "-")
			i, ok := sym.Observable.Outcome(name)
			switch {
			case !ok:
				t.Fatalf("%s has no outcome %q", sym.Name, name)
			case absent:
				slot.Unseen.Add(i)
			default:
				slot.Seen.Add(i)
			}
		}
	default:
		var values []quantity.Q
		for _, v := range strings.Split(value, "/") {
			values = append(values, quantityOf(t, s, v))
		}
		slot.SetQuantities(&s.Context, values...)
	}
}

func quantityOf(t *testing.T, s *State, text string) quantity.Q {
	t.Helper()
	num := func(v string) float64 {
		x, err := strconv.ParseFloat(v, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	if lo, hi, ok := strings.Cut(text, ".."); ok {
		return quantity.Between(num(lo), num(hi))
	}
	if v, u, ok := strings.Cut(text, "±"); ok {
		s.Context.U = append(s.Context.U, num(u))
		return quantity.Measured(num(v), len(s.Context.U)-1)
	}
	switch text[0] {
	case '>':
		return quantity.Between(math.Nextafter(num(text[1:]), math.Inf(1)), math.Inf(1))
	case '<':
		return quantity.Between(math.Inf(-1), math.Nextafter(num(text[1:]), math.Inf(-1)))
	}
	return quantity.Exact(num(text))
}
