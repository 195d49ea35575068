package condition

import (
	"testing"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/vm"
	"pgregory.net/rapid"

	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// native compiles a condition for expr's own machine, which knows nothing of what is missing or uncertain.
func native(t *rapid.T, text string, c *drawnCase) *vm.Program {
	p, err := expr.Compile(text, expr.Env(c.environment(func(i int) any { return c.can[i][0] })), expr.AsBool(),
		expr.Optimize(false))
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return p
}

func runNative(t *rapid.T, p *vm.Program, env map[string]any) bool {
	v, err := expr.Run(p, env)
	if err != nil {
		t.Fatal(err)
	}
	return v.(bool)
}

// mostCompletions bounds the brute force.
const mostCompletions = 3000

// bruteForce tries every value that everything the condition reads can still have, and tells whether some make the
// condition true and some make it false. It stops early at too many.
func bruteForce(t *rapid.T, text string, cond *Condition, c *drawnCase) (someTrue, someFalse, tried bool) {
	total := 1
	for _, slot := range cond.Reads {
		if total *= len(c.can[slot]); total > mostCompletions {
			return false, false, false
		}
	}
	p := native(t, text, c)
	chosen := map[int]any{}
	for n := range total {
		for _, slot := range cond.Reads {
			can := c.can[slot]
			chosen[slot] = can[n%len(can)]
			n /= len(can)
		}
		if runNative(t, p, c.environment(func(i int) any {
			if v, ok := chosen[i]; ok {
				return v
			}
			return c.can[i][0]
		})) {
			someTrue = true
		} else {
			someFalse = true
		}
	}
	return someTrue, someFalse, true
}

func evaluate(t *rapid.T, cond *Condition, c *drawnCase) logic.Value {
	v, causes, err := Evaluate(cond, c.state)
	if err != nil {
		t.Fatal(err)
	}
	if (v == logic.Undecided) != (len(causes) > 0) {
		t.Fatalf("%s is %s, with the causes %v", cond.Text, v, causes)
	}
	return v
}

// TestDefinition is what three-valued truth means: a condition that names nothing twice and whose every leaf can come
// out both ways holds exactly when it is true for every completion of what is unknown, and fails exactly when it is
// false for every one. The two-valued truth of a completion is expr's own.
func TestDefinition(t *testing.T) {
	scope := deskScope()
	for name, units := range map[string][]string{"plain": plainUnits, "arithmetic": sumUnits} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				c := drawCase(t, scope, style{measured: name == "plain"})
				text := drawOnce(t, units).String()
				cond := mustCompile(t, scope, text)
				someTrue, someFalse, tried := bruteForce(t, text, cond, c)
				if !tried {
					return
				}
				want := logic.Undecided
				if someTrue != someFalse {
					want = logic.Of(someTrue)
				}
				if got := evaluate(t, cond, c); got != want {
					t.Fatalf("%s\n%v\n%s; by brute force %s", text, describeCase(c, cond), got, want)
				}
			})
		})
	}
}

// TestNeverClaimsMore is the other half: a condition that names things several times may stay undecided where brute
// force decides, and never says what brute force contradicts.
func TestNeverClaimsMore(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, scope, style{})
		text := drawAny(t, drawRange, drawExtreme).String()
		cond := mustCompile(t, scope, text)
		someTrue, someFalse, tried := bruteForce(t, text, cond, c)
		if !tried {
			return
		}
		switch got := evaluate(t, cond, c); {
		case got == logic.Holds && someFalse, got == logic.Fails && someTrue:
			t.Fatalf("%s\n%v\n%s, but not for every completion", text, describeCase(c, cond), got)
		}
	})
}

// TestAgreesWithExpr holds the two machines together where they must agree: everything known, and exactly.
func TestAgreesWithExpr(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, scope, style{known: true})
		text := drawAny(t, drawRange, drawExtreme, drawSeen, func(t *rapid.T) string {
			return drawLeaf(t,
				"inclusions")
		}, drawExact).String()
		want := logic.Of(runNative(t, native(t, text, c), c.environment(func(i int) any { return c.can[i][0] })))
		if got := evaluate(t, mustCompile(t, scope, text), c); got != want {
			t.Fatalf("%s\n%s; expr says %s", text, got, want)
		}
	})
}

// drawExact is arithmetic on exact numbers, equality included.
func drawExact(t *rapid.T) string {
	return rapid.SampledFrom([]string{"stone.carat * 2 == stone.depth_mm * 2", "stone.carat != stake",
		"(ri + 1) / specific_gravity > 1.5", "ri ** 2 >= 2.56", "sqrt(specific_gravity) < 1.3",
		"ri - -specific_gravity > 3.2", "stake / 2 <= 0.8", "near(specific_gravity, ri, 0.1)", "min(ri, stake) < 1.6",
		"heft_class == \"heavy\"", "derived_index > 1.6", "stone.cut == \"ruby\""}).Draw(t,
		"exact")
}

// TestMoreReadings: a reading of what was not read leaves every decided condition as it was, and a second one beside
// what was read never turns it over. Conditions that ask seen or unclear are left out, as asking is what they are for.
func TestMoreReadings(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		before := drawCase(t, scope, style{measured: true})
		text := drawAny(t, drawRange, drawExtreme).String()
		cond := mustCompile(t, scope, text)
		slot := rapid.SampledFrom(cond.Reads).Draw(t, "slot")
		old := before.state.Slots[slot]
		d := drawReading(t, scope.At(slot), before.state, style{measured: true})
		if d.slot.Status != Ready {
			return
		}
		a := evaluate(t, cond, before)
		if old.Status == Ready {
			b := evaluate(t, cond, before.with(slot, beside(before.state, old, d)))
			if a != b && a != logic.Undecided && b != logic.Undecided {
				t.Fatalf("%s: a second reading of %s turned %s into %s", text, scope.At(slot).Name, a, b)
			}
			return
		}
		if b := evaluate(t, cond, before.with(slot, d)); a != b && a != logic.Undecided {
			t.Fatalf("%s: reading %s turned %s into %s", text, scope.At(slot).Name, a, b)
		}
	})
}

// beside lays a reading beside another, as a second place on the stone does.
func beside(s *State, old Slot, d drawn) drawn {
	out := drawn{slot: old, can: d.can}
	out.slot.Set |= d.slot.Set
	out.slot.Seen.Intersect(d.slot.Seen)
	out.slot.Unseen.Intersect(d.slot.Unseen)
	if old.Truth != d.slot.Truth {
		out.slot.Truth = logic.Undecided
	}
	if old.Text != "" {
		out.slot.Text = old.Text
	}
	if len(old.Values) > 0 {
		out.slot.SetQuantities(&s.Context, append(append([]quantity.Q(nil), old.Values...), d.slot.Values...)...)
	}
	return out
}

// TestNarrowing: less left open never turns a condition over, and decides no fewer. Intervals are cut down, choices and
// features settled.
func TestNarrowing(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		before := drawCase(t, scope, style{})
		text := drawAny(t, drawRange, drawExtreme, drawSeen).String()
		cond := mustCompile(t, scope, text)
		after := before
		for _, slot := range cond.Reads {
			after = after.with(slot, narrowed(t, before, slot))
		}
		a, b := evaluate(t, cond, before), evaluate(t, cond, after)
		if a != b && a != logic.Undecided {
			t.Fatalf("%s: narrower readings turned %s into %s", text, a, b)
		}
	})
}

func narrowed(t *rapid.T, c *drawnCase, slot int) drawn {
	d := drawn{slot: c.state.Slots[slot], can: c.can[slot]}
	s := &d.slot
	if s.Status != Ready {
		return d
	}
	switch c.scope.At(slot).Kind {
	case vocab.Choice:
		keep := rapid.Uint64().Draw(t, "keep") & s.Set
		if keep != 0 {
			s.Set = keep
		}
	case vocab.Features:
		for i := range c.scope.At(slot).words() {
			if !s.Seen.Has(i) && !s.Unseen.Has(i) && rapid.Bool().Draw(t, "settled") {
				s.Unseen.Add(i)
			}
		}
	case vocab.Quantity:
		if len(s.Values) == 1 && s.Values[0].Bounded {
			lo, hi := s.Values[0].Interval(&c.state.Context)
			from := max(lo, rapid.SampledFrom(grid).Draw(t, "from"))
			to := min(hi, rapid.SampledFrom(grid).Draw(t, "to"))
			if from <= to {
				s.SetQuantities(&c.state.Context, quantity.Between(from, to))
			}
		}
	}
	return d
}

// TestSmallerUncertainty: a smaller standard uncertainty of the same value never turns a condition over.
func TestSmallerUncertainty(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, scope, style{measured: true})
		text := drawAny(t, drawRange, drawExtreme).String()
		cond := mustCompile(t, scope, text)
		a := evaluate(t, cond, c)
		for i := range c.state.Context.U {
			c.state.Context.U[i] *= rapid.Float64Range(0, 1).Draw(t, "factor")
		}
		for i := range c.state.Slots {
			if s := &c.state.Slots[i]; s.Status == Ready && len(s.Values) > 0 {
				s.SetQuantities(&c.state.Context, s.Values...)
			}
		}
		if b := evaluate(t, cond, c); a != b && a != logic.Undecided && b != logic.Undecided {
			t.Fatalf("%s: smaller uncertainties turned %s into %s", text, a, b)
		}
	})
}

func describeCase(c *drawnCase, cond *Condition) (out []string) {
	for _, slot := range cond.Reads {
		out = append(out, c.scope.At(slot).Name+": "+c.state.Value(c.scope, slot))
	}
	return out
}
