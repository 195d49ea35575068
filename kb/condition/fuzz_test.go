package condition

import (
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/quantity"
)

// FuzzCompile: whatever the text, compiling it ends in a condition or in refusals that point into the text and bear
// known codes, the same each time; and what compiles runs on any case.
func FuzzCompile(f *testing.F) {
	for _, h := range hostileCorpus() {
		if len(h.text) <= 2*MaxBytes {
			f.Add(h.text, uint64(1))
		}
	}
	cases := []string{"near(ri, 1.77, 0.01) and not seen(claim)", `"é" in inclusions or riz > 1`,
		"count(inclusions, # != \"feather\") >= 2 or -ri < 1"}
	for _, c := range cases {
		f.Add(c, uint64(7))
	}
	scope := deskScope()
	f.Fuzz(func(t *testing.T, text string, seed uint64) {
		c, out := compileFor(scope, text)
		again, same := compileFor(scope, text)
		if d := cmp.Diff(out, same, cmpopts.IgnoreTypes(&diag.Source{})); d != "" || (c == nil) != (again == nil) {
			t.Fatalf("compiled twice, it differs:\n%s", d)
		}
		if (c == nil) != (len(out) > 0) {
			t.Fatalf("compiled %t with %d refusals", c != nil, len(out))
		}
		for _, d := range out {
			checkDiagnostic(t, text, d)
		}
		if c == nil {
			return
		}
		checkTree(t, c.Root, 0, len(text))
		r := rand.New(rand.NewPCG(seed, 1))
		for range 4 {
			checkRun(t, scope, c, randomState(r, scope))
		}
	})
}

func checkDiagnostic(t *testing.T, text string, d diag.Diagnostic) {
	t.Helper()
	if d.Span.Start < 0 || d.Span.End < d.Span.Start || d.Span.End > len(text) {
		t.Fatalf("%s lies at %d-%d of %d bytes", d.Code, d.Span.Start, d.Span.End, len(text))
	}
	if !diag.Known(d.Code) || d.Summary == "" {
		t.Fatalf("the code %q with %q", d.Code, d.Summary)
	}
	if d.Code == "unlike-types" && strings.HasPrefix(d.Summary, "the types don't fit") {
		t.Fatalf("expr refuses what our checks accept: %s", d.Error())
	}
	if utf8.ValidString(text) && !utf8.ValidString(d.Span.Text()) {
		t.Fatalf("%s cuts a letter: %q", d.Code, d.Span.Text())
	}
}

// checkTree: every part lies within the part that it belongs to.
func checkTree(t *testing.T, n *Node, from, to int) {
	t.Helper()
	if n.Start < from || n.End > to || n.End <= n.Start {
		t.Fatalf("a part at %d-%d lies outside %d-%d", n.Start, n.End, from, to)
	}
	for _, k := range n.Kids {
		checkTree(t, k, n.Start, n.End)
	}
}

func checkRun(t *testing.T, scope *Scope, c *Condition, s *State) {
	t.Helper()
	v, causes, err := Evaluate(c, s)
	w, other, err2 := Evaluate(c, s)
	if v != w || (err == nil) != (err2 == nil) || !cmp.Equal(causes, other) {
		t.Fatalf("run twice: %v %v %v, then %v %v %v", v, causes, err, w, other, err2)
	}
	if err == nil && (v == logic.Undecided) != (len(causes) > 0) {
		t.Fatalf("it is %s, with the causes %v", v, causes)
	}
}

// randomState is any case, a sensible one or not.
func randomState(r *rand.Rand, scope *Scope) *State {
	s := &State{Slots: make([]Slot, scope.Len())}
	values := []float64{-1e308, -1, 0, 0.25, 1, 1.5, 1.77, 4, 1e9, 1e308}
	any := func() float64 { return values[r.IntN(len(values))] }
	for i := range s.Slots {
		slot := &s.Slots[i]
		*slot = Slot{Status: Status(r.IntN(5)), Truth: logic.Value(r.IntN(3)), Set: 1 << r.IntN(3),
			Text: claims[r.IntN(len(claims))], Reason: "because"}
		slot.Set |= 1 << r.IntN(3)
		slot.Seen.Words[0], slot.Unseen.Words[0] = r.Uint64()&0b10101, r.Uint64()&0b01010
		if slot.Status != Ready {
			continue
		}
		var list []quantity.Q
		for range 1 + r.IntN(3) {
			switch r.IntN(3) {
			case 0:
				list = append(list, quantity.Exact(any()))
			case 1:
				list = append(list, quantity.Between(any(), any()))
			default:
				s.Context.U = append(s.Context.U, 0.01)
				list = append(list, quantity.Measured(any(), len(s.Context.U)-1))
			}
		}
		slot.SetQuantities(&s.Context, list...)
	}
	return s
}
