package ruledraft

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// conditions writes readings as conditions that hold on both states: of the case, and of the case as an example, which
// doesn't know the house's own instruments.
type conditions struct {
	rs     *kb.Ruleset
	states []*condition.State
}

// of writes what was read of an observable as conditions that hold; none when nothing that does can be written.
func (w *conditions) of(o *vocab.Observable) []string {
	slot := &w.states[0].Slots[o.Index]
	switch {
	case slot.Status == condition.Vague || slot.Status == condition.Clashing:
		return w.holding("unclear(" + o.Name + ")")
	case slot.Status != condition.Ready:
		return nil
	case o.Kind == vocab.Choice:
		return w.holding(choice(o, slot.Set))
	case o.Kind == vocab.Features:
		return w.holding(features(o, slot)...)
	}
	return w.quantity(o, slot)
}

// holding leaves out the conditions that don't hold.
func (w *conditions) holding(texts ...string) []string {
	return slices.DeleteFunc(texts, func(text string) bool { return !w.is(text, logic.Holds) })
}

// is tells whether a condition comes out so on all states.
func (w *conditions) is(text string, want logic.Value) bool {
	var wrong diag.List
	c := condition.Compile(text, func(int, int) diag.Span { return diag.Span{} }, w.rs.Scope, &wrong)
	return c != nil && !slices.ContainsFunc(w.states, func(s *condition.State) bool {
		got, _, err := condition.Evaluate(c, s)
		return err != nil || got != want
	})
}

func choice(o *vocab.Observable, set uint64) string {
	for i := range o.Outcomes {
		if o.Meaning(i) == set {
			return o.Name + " == " + strconv.Quote(o.Outcomes[i].Name)
		}
	}
	return o.Name + " in [" + strings.Join(english.Each(o.Of(set), strconv.Quote), ", ") + "]"
}

// features asks for those that were seen; where none was, for the want of those that were looked for.
func features(o *vocab.Observable, slot *condition.Slot) []string {
	set, in := slot.Seen, " in "
	if set.Empty() {
		set, in = slot.Unseen, " not in "
	}
	return english.Each(set.Members(), func(i int) string { return strconv.Quote(o.Outcomes[i].Name) + in + o.Name })
}

// quantity asks for a value within its expanded uncertainty (k = 2), rounded up; for a range that holds several values
// or two rays; or for the bounds that were read.
func (w *conditions) quantity(o *vocab.Observable, slot *condition.Slot) []string {
	lo, hi, bounded := math.Inf(1), math.Inf(-1), false
	for _, s := range w.states {
		lo, hi = min(lo, s.Slots[o.Index].Lo), max(hi, s.Slots[o.Index].Hi)
	}
	for _, q := range slot.Values {
		bounded = bounded || q.Bounded
	}
	if bounded {
		return w.holding(bounds(o.Name, lo, hi)...)
	}
	middle := (lo + hi) / 2
	if len(slot.Values) == 1 {
		middle = slot.Values[0].Value
	}
	for _, tolerance := range tolerances(max(middle-lo, hi-middle)) {
		text := fmt.Sprintf("near(%s, %s, %s)", o.Name, number(to(middle, tolerance)), number(tolerance))
		if len(slot.Values) > 1 {
			text = fmt.Sprintf("%s <= %s <= %s", number(down(lo, tolerance)), o.Name, number(-down(-hi, tolerance)))
		}
		if w.is(text, logic.Holds) {
			return []string{text}
		}
	}
	return nil
}

// steps are the round figures that a tolerance may have, by powers of ten.
var steps = []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8}

// tolerances lists round figures from half a width up: the least, and those next to it should rounding make that too
// small.
func tolerances(half float64) []float64 {
	if !(half > 0) || math.IsInf(half, 0) {
		return nil
	}
	var out []float64
	for e := int(math.Floor(math.Log10(half))) - 1; len(out) < 4; e++ {
		for _, s := range steps {
			if x := quantity.Round(s*math.Pow10(e), 2); x >= half*(1-1e-9) {
				out = append(out, x)
			}
		}
	}
	return out
}

// down rounds a limit down to the second figure of a width, and to rounds a value there.
func down(x, width float64) float64 {
	unit := math.Pow10(int(math.Floor(math.Log10(width))) - 1)
	return quantity.Round(math.Floor(x/unit+1e-9)*unit, 12)
}

func to(x, width float64) float64 {
	unit := math.Pow10(int(math.Floor(math.Log10(width))) - 1)
	return quantity.Round(math.Round(x/unit)*unit, 12)
}

// number writes a figure of a condition, without the last places that only a binary number has.
func number(x float64) string { return strconv.FormatFloat(quantity.Round(x, 12), 'f', -1, 64) }

// bounds asks for what lies within the limits that were read. A limit that was excluded lies one place beside what was
// written.
func bounds(name string, lo, hi float64) []string {
	switch {
	case math.IsInf(lo, -1) && math.IsInf(hi, 1):
		return nil
	case math.IsInf(hi, 1):
		return []string{name + compared(lo, " > ", " >= ")}
	case math.IsInf(lo, -1):
		return []string{name + compared(hi, " < ", " <= ")}
	}
	if l, h := quantity.Round(lo, 12), quantity.Round(hi, 12); l == lo && h == hi {
		return []string{number(l) + " <= " + name + " <= " + number(h)}
	}
	return []string{name + compared(lo, " > ", " >= "), name + compared(hi, " < ", " <= ")}
}

// compared is a comparison with a limit; strict where the limit is one place beside a rounder number.
func compared(x float64, strict, wide string) string {
	if written := quantity.Round(x, 12); written != x {
		return strict + number(written)
	}
	return wide + number(x)
}

// stateOf is a case as conditions see it.
func stateOf(rs *kb.Ruleset, c *casefile.Case, on time.Time) *condition.State {
	run := eval.New(rs)
	run.Do(c, on)
	return &run.State
}
