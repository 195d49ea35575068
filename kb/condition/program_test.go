package condition

import (
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb/diag"
	"whystone/kb/logic"
)

func drawRule(t *rapid.T) *part { return drawAny(t, drawRange, drawExtreme, drawSeen, drawFaulty) }

// drawFaulty is arithmetic that can fail.
func drawFaulty(t *rapid.T) string {
	return rapid.SampledFrom([]string{"specific_gravity / (ri - ri) > 2", "1 / (ri - 1.5) < 1",
		"sqrt(specific_gravity - 1.6) >= 0.1"}).Draw(t, "faulty")
}

// outcome is all that a condition comes to on a case.
type outcome struct {
	Truth  logic.Value
	Causes []logic.Cause
	Fault  string
}

func outcomeOf(cond *Condition, c *drawnCase) outcome {
	v, causes, err := Evaluate(cond, c.state)
	out := outcome{Truth: v, Causes: causes}
	if err != nil {
		out.Fault = err.Error()
	}
	return out
}

// TestSharing: many conditions joined into one program come to what each comes to by itself, with the same causes and
// faults, whatever slots are held to change while it runs, and however the run is cut into steps.
func TestSharing(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, scope, style{measured: true})
		late := rapid.Uint64().Draw(t, "late")
		b := NewBuilder(scope)
		var conds []*Condition
		var refs []Ref
		var ends []int
		for range rapid.IntRange(1, 6).Draw(t, "conditions") {
			cond := mustCompile(t, scope, drawRule(t).String())
			conds, refs, ends = append(conds, cond), append(refs, b.Add(cond.Root)), append(ends, b.Len())
		}
		p := b.Program(func(slot int) bool { return late>>slot&1 == 1 })
		values := make([]logic.Value, p.Len())
		var faults []Fault
		p.Begin(c.state, values)
		from := 0
		for i, cond := range conds {
			p.Run(c.state, values, from, ends[i], &faults)
			from = ends[i]
			alone := outcomeOf(cond, c)
			got := outcome{Truth: Of(values, refs[i]), Causes: p.Causes(c.state, values, refs[i])}
			at := slices.IndexFunc(faults, func(f Fault) bool {
				return p.Rests(values, refs[i],
					func(n int) bool { return n == f.Node })
			})
			if (at >= 0) != (alone.Fault != "") {
				t.Fatalf("%s: a fault %t, alone %q", cond.Text, at >= 0, alone.Fault)
			}
			if alone.Fault != "" {
				continue
			}
			if d := cmp.Diff(alone, got); d != "" {
				t.Fatalf("%s: alone and shared differ:\n%s", cond.Text, d)
			}
		}
	})
}

// TestOrderOfOperands: "a and b" is "b and a", in its truth, its causes and whether it faults.
func TestOrderOfOperands(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t, scope, style{measured: true})
		p := drawRule(t)
		a, b := outcomeOf(mustCompile(t, scope, p.String()), c), outcomeOf(mustCompile(t, scope,
			p.reordered(t).String()), c)
		if (a.Fault == "") != (b.Fault == "") {
			t.Fatalf("%s: %q, reordered %q", p, a.Fault, b.Fault)
		}
		a.Fault, b.Fault = "", ""
		if d := cmp.Diff(a, b); d != "" {
			t.Fatalf("%s: reordered, it differs:\n%s", p, d)
		}
	})
}

func TestEqualPartsAreOneNode(t *testing.T) {
	scope := deskScope()
	b := NewBuilder(scope)
	first := b.Add(mustCompile(t, scope, `ri > 1.7 and facet_doubling in ["slight", "strong"]`).Root)
	size := b.Len()
	for _, same := range []string{
		`facet_doubling in ["strong", "slight"] and ri > 1.70`,
		`not (ri <= 1.7) and not (facet_doubling not in ["slight", "strong"])`,
		`not (ri <= 1.7 or facet_doubling not in ["strong", "slight"])`,
		`(1.7 < ri) && (ri > 1.7) && facet_doubling in ["slight", "strong", "slight"]`,
	} {
		if got := b.Add(mustCompile(t, scope, same).Root); got != first {
			t.Errorf("%s is node %d, not %d", same, got, first)
		}
	}
	if b.Len() != size {
		t.Errorf("equal conditions made %d more nodes", b.Len()-size)
	}
	if other := b.Add(mustCompile(t, scope,
		`facet_doubling in ["slight", "strong"] or ri > 1.7`).Root); other == first {
		t.Error("an \"or\" is the node of an \"and\"")
	}
	if leaves := b.Program(func(int) bool { return false }).Leaves(); leaves != 2 {
		t.Errorf("%d leaves, want 2", leaves)
	}
}

// TestUnlikeLeavesStayApart: what looks alike but isn't must not be shared.
func TestUnlikeLeavesStayApart(t *testing.T) {
	scope := deskScope()
	texts := []string{"ri < 1.7", "ri <= 1.7", "specific_gravity < 1.7", "ri < 1.71", "seen(ri)", "unclear(ri)",
		`claim == "ruby"`, `claim contains "ruby"`, `claim startsWith "ruby"`, `claim endsWith "ruby"`,
		`claim matches "ruby"`, `claim in ["ruby", "spinel"]`, `stone.cut == "ruby"`, "ri + 1 < specific_gravity",
		"ri - 1 < specific_gravity", "-ri < specific_gravity", "ri < specific_gravity", "specific_gravity < ri",
		"min(ri, specific_gravity) < 1", "max(ri, specific_gravity) < 1", `count(inclusions, # == "feather") < 1`,
		`count(surface, # == "pits") < 1`, `"feather" in inclusions`, `"crystal" in inclusions`, "high_index",
		"two_rays"}
	b := NewBuilder(scope)
	nodes := map[Ref]string{}
	for _, text := range texts {
		r := b.Add(mustCompile(t, scope, text).Root) &^ 1
		if other, taken := nodes[r]; taken {
			t.Errorf("%s shares a node with %s", text, other)
		}
		nodes[r] = text
	}
}

// TestRunInSteps: a slot may change between two steps, and what is read after it sees the change, where the program was
// told that the slot may.
func TestRunInSteps(t *testing.T) {
	scope := deskScope()
	ri := scope.Symbol("ri").Slot
	for _, late := range []bool{true, false} {
		b := NewBuilder(scope)
		first := b.Add(mustCompile(t, scope, "stone.mounted").Root)
		end := b.Len()
		second := b.Add(mustCompile(t, scope, "ri > 1.7").Root)
		p := b.Program(func(slot int) bool { return late && slot == ri })
		values := make([]logic.Value, p.Len())
		s := stateOf(t, scope, "ri=1.8; stone.mounted=true")
		p.Begin(s, values)
		p.Run(s, values, 0, end, nil)
		s.Slots[ri].Status = Aside
		p.Run(s, values, end, p.Len(), nil)
		want := logic.Undecided
		if !late {
			want = logic.Holds // decided when the case came, as nothing can change it
		}
		if Of(values, first) != logic.Holds || Of(values, second) != want {
			t.Errorf("late %t: %s and %s", late, Of(values, first), Of(values, second))
		}
	}
}

// TestConcurrentUse: one scope compiles, and one program runs, for many at once. It is for the race detector.
func TestConcurrentUse(t *testing.T) {
	scope := deskScope()
	cond := mustCompile(t, scope, "near(ri, 1.77, 0.01) or specific_gravity / ri > 2")
	s := stateOf(t, scope, "ri=1.9±0.01; specific_gravity=4±0.01")
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for range 20 {
				if v, _, _ := Evaluate(cond, s); v != logic.Holds {
					t.Errorf("it %s", v)
				}
				if c, _ := compileFor(scope, `"feather" in inclusions and riz > 1`); c != nil {
					t.Error("an unknown name was accepted")
				}
			}
		})
	}
	all.Wait()
}

func TestCompileQuantity(t *testing.T) {
	scope := deskScope()
	at := func(start, end int) diag.Span {
		return diag.Span{Source: diag.NewSource("condition", nil), Start: start, End: end}
	}
	var out diag.List
	a, reads := CompileQuantity("specific_gravity / ri ** 2", at, scope, &out)
	if a == nil || len(out) > 0 {
		t.Fatal(out)
	}
	want := []int{scope.Symbol("ri").Slot, scope.Symbol("specific_gravity").Slot}
	if d := cmp.Diff(want, reads.Reads); d != "" {
		t.Errorf("it reads:\n%s", d)
	}
	for _, bad := range []string{"ri > 1", "claim", "riz", "", "1 / 0", "true"} {
		out = nil
		if a, _ := CompileQuantity(bad, at, scope, &out); a != nil || len(out) == 0 {
			t.Errorf("%q is taken for a quantity", bad)
		}
	}
}

// TestReadsAndFeatures: what a condition rests on is told exactly.
func TestReadsAndFeatures(t *testing.T) {
	scope := deskScope()
	c := mustCompile(t, scope, `ri > 1.7 and (1.5 < ri or seen(claim)) and any(inclusions, # startsWith "f") and "pits" not in surface`)
	var names []string
	for _, slot := range c.Reads {
		names = append(names, scope.At(slot).Name)
	}
	if d := cmp.Diff([]string{"ri", "inclusions", "surface", "claim"}, names); d != "" {
		t.Error(d)
	}
	for name, want := range map[string][]int{"inclusions": {2}, "surface": {0}} {
		set := c.Features[scope.Symbol(name).Slot]
		if d := cmp.Diff(want, set.Members()); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}
