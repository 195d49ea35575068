package condition

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/logic"
)

// told writes what an observer saw: "ri > 1.5 holds, decides".
func told(cond, exception *Condition, o *Observer) string {
	var out []string
	for _, p := range o.Parts {
		c := cond
		if p.Exception {
			c = exception
		}
		says := c.Text[p.Node.Start:p.Node.End] + " " + p.Truth.String()
		if p.Decides {
			says += ", decides"
		}
		out = append(out, says)
	}
	return strings.Join(out, "; ")
}

func TestObserver(t *testing.T) {
	scope := deskScope()
	for _, row := range []struct{ cond, exception, readings, is, want string }{
		{"ri > 1.5", "", "ri=1.6", "holds", "ri > 1.5 holds, decides"},
		{"ri > 1.5", "", "", "undecided", "ri > 1.5 undecided"},
		{"ri > 1.5 and stone.wet", "", "ri=1.6; stone.wet=true", "holds",
			"ri > 1.5 holds, decides; stone.wet holds, decides"},
		{"ri > 1.5 and stone.wet", "", "ri=1.6; stone.wet=false", "fails", "ri > 1.5 holds; stone.wet fails, decides"},
		{"ri > 1.5 and stone.wet", "", "ri=1.4; stone.wet=false", "fails", "ri > 1.5 fails; stone.wet fails"},
		{"ri > 1.5 and stone.wet", "", "ri=1.6", "undecided", "ri > 1.5 holds; stone.wet undecided"},
		{"ri > 1.5 or stone.wet", "", "ri=1.6; stone.wet=true", "holds", "ri > 1.5 holds; stone.wet holds"},
		{"ri > 1.5 or stone.wet", "", "ri=1.6", "holds", "ri > 1.5 holds, decides; stone.wet undecided"},
		{"ri > 1.5 or stone.wet", "", "ri=1.4; stone.wet=false", "fails",
			"ri > 1.5 fails, decides; stone.wet fails, decides"},
		{"not (ri > 1.5 or stone.wet)", "", "ri=1.4; stone.wet=false", "holds",
			"ri > 1.5 fails, decides; stone.wet fails, decides"},
		{"ri > 1.5", "stone.wet", "ri=1.6; stone.wet=false", "holds",
			"ri > 1.5 holds, decides; stone.wet fails, decides"},
		{"ri > 1.5", "stone.wet", "ri=1.6; stone.wet=true", "fails", "ri > 1.5 holds; stone.wet holds, decides"},
		{"ri > 1.5", "stone.wet", "ri=1.6", "undecided", "ri > 1.5 holds; stone.wet undecided"},
		// What was written as one test is one part, however many leaves it has, and its truth is that of the words.
		{"near(ri, 1.6, 0.1)", "", "ri=1.4", "fails", "near(ri, 1.6, 0.1) fails, decides"},
		{"near(ri, 1.6, 0.1) and stone.wet", "", "ri=1.4; stone.wet=true", "fails",
			"near(ri, 1.6, 0.1) fails, decides; stone.wet holds"},
		{`stone.wet or any(surface, # in ["pits", "scratches"])`, "", "surface=-pits,-scratches; stone.wet=true",
			"holds", `stone.wet holds, decides; any(surface, # in ["pits", "scratches"]) fails`},
		{`any(inclusions, # in ["feather", "needles"])`, "", "inclusions=needles", "holds",
			`any(inclusions, # in ["feather", "needles"]) holds, decides`},
		{`facet_doubling not in ["none"]`, "", "facet_doubling=slight", "holds",
			`facet_doubling not in ["none"] holds, decides`},
		{`"pits" not in surface and seen(ri)`, "", "surface=pits; ri=1.5", "fails",
			`"pits" not in surface fails, decides; seen(ri) holds`},
		{"1.5 <= ri < 1.6", "", "ri=1.7", "fails", "1.5 <= ri holds; ri < 1.6 fails, decides"},
		{"not stone.wet", "", "stone.wet=true", "fails", "stone.wet holds, decides"},
		{"high_index == false", "", "high_index=true", "fails", "high_index holds, decides"},
		{"true", "", "", "holds", ""},
		{`any(inclusions, # contains "nothing") or stone.wet`, "", "stone.wet=true", "holds",
			"stone.wet holds, decides"},
	} {
		cond, exception := mustCompile(t, scope, row.cond), (*Condition)(nil)
		if row.exception != "" {
			exception = mustCompile(t, scope, row.exception)
		}
		o := Observe(cond, exception)
		v, err := o.Evaluate(stateOf(t, scope, row.readings))
		if got := told(cond, exception, o); v.String() != row.is || got != row.want || err != nil {
			t.Errorf("%s unless %q, with %q: %s, %v\n got %s\nwant %s %s", row.cond, row.exception, row.readings, v,
				err, got, row.is, row.want)
		}
	}
	if v, _ := Observe(nil, nil).Evaluate(stateOf(t, scope, "")); v != logic.Holds {
		t.Errorf("no condition: %s", v)
	}
}

// TestObserverFault: what could not be evaluated is told where the truth rests on it, and only there.
func TestObserverFault(t *testing.T) {
	scope := deskScope()
	for _, row := range []struct {
		cond, readings string
		faulty         bool
	}{
		{"ri / specific_gravity > 1", "ri=1.5; specific_gravity=0", true},
		{"ri / specific_gravity > 1 and stone.wet", "ri=1.5; specific_gravity=0; stone.wet=false", false},
		{"ri / specific_gravity > 1 or stone.wet", "ri=1.5; specific_gravity=0; stone.wet=false", true},
		{"near(ri / specific_gravity, 1, 0.1)", "ri=1.5; specific_gravity=0", true},
	} {
		cond := mustCompile(t, scope, row.cond)
		o := Observe(cond, nil)
		s := stateOf(t, scope, row.readings)
		v, err := o.Evaluate(s)
		is, _, want := Evaluate(cond, s)
		if (err != nil) != row.faulty || (want != nil) != row.faulty || v != is {
			t.Errorf("%s with %s: %s, %v; the program says %s, %v", row.cond, row.readings, v, err, is, want)
		}
		if o.Parts[0].Err == nil || o.Parts[0].Decides {
			t.Errorf("%s: %+v", row.cond, o.Parts[0])
		}
	}
}

// TestObserverAgreesWithTheProgram: the same truth of the whole, and a part decides exactly when the program, given the
// tree with a fact that nobody decides in the part's place, comes to another truth.
func TestObserverAgreesWithTheProgram(t *testing.T) {
	scope := deskScope()
	rapid.Check(t, func(t *rapid.T) {
		more := []func(*rapid.T) string{drawRange, drawSeen, drawExtreme}
		cond := mustCompile(t, scope, drawAny(t, more...).String())
		var exception *Condition
		if rapid.Bool().Draw(t, "excepted") {
			exception = mustCompile(t, scope, drawAny(t, more...).String())
		}
		c := drawCase(t, scope, style{})
		o := Observe(cond, exception)
		got, err := o.Evaluate(c.state)
		if want := programTruth(c.state, scope, cond, exception, Observed{}); got != want || err != nil {
			t.Fatalf("%s, %v; the program says %s", got, err, want)
		}
		for _, p := range o.Parts {
			without := programTruth(c.state, scope, cond, exception, p)
			if want := p.Truth != logic.Undecided && without != got; p.Decides != want {
				t.Fatalf("%s: decides %v, but the whole is %s and %s without it", told(cond, exception, o), p.Decides,
					got, without)
			}
		}
	})
}

// programTruth is the truth of a condition with its exception by a program, one part being undecided.
func programTruth(s *State, scope *Scope, cond, exception *Condition, open Observed) logic.Value {
	blank := &Node{Op: Leafed, Leaf: (&Leaf{Kind: True, Slot: scope.Symbol("two_rays").Slot}).setKey()}
	var put func(n *Node) *Node
	put = func(n *Node) *Node {
		if n.Start == open.Node.Start && n.End == open.Node.End {
			return blank
		}
		out := *n
		out.Kids = nil
		for _, k := range n.Kids {
			out.Kids = append(out.Kids, put(k))
		}
		return &out
	}
	when, unless := cond.Root, &Node{Op: Always}
	if exception != nil {
		unless = exception.Root
	}
	switch {
	case open.Node == nil:
	case open.Exception:
		unless = put(unless)
	default:
		when = put(when)
	}
	state := *s
	state.Slots = slices.Clone(s.Slots)
	state.Slots[blank.Leaf.Slot] = Slot{} // nothing that is drawn names it
	b := NewBuilder(scope)
	whole := b.All(b.Add(when), b.Add(unless).Negated())
	p := b.Program(func(int) bool { return false })
	values := make([]logic.Value, p.Len())
	var faults []Fault
	p.Begin(&state, values)
	p.Run(&state, values, 0, p.Len(), &faults)
	return Of(values, whole)
}
