package casefile

import (
	"cmp"
	"fmt"
	"maps"
	"math/bits"
	"slices"
	"strings"

	"whystone/kb/english"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// Combine joins the repeats of each place; readings of unlike places stay apart, and so does each that the stone
// spoils. One that was combined before counts as what it was combined of, so that readings combined one after the other
// come to the same as all at once.
func Combine(given []*Reading) []*Reading {
	var spoilt []*Reading
	byPlace := map[string][]*Reading{}
	for _, r := range parts(given) {
		if r.Spoilt != "" {
			spoilt = append(spoilt, r)
			continue
		}
		byPlace[r.Where] = append(byPlace[r.Where], r)
	}
	out := english.Each(slices.Sorted(maps.Keys(byPlace)), func(p string) *Reading { return combineRepeats(byPlace[p]) })
	slices.SortStableFunc(spoilt, func(a, b *Reading) int {
		return cmp.Or(compareRepeats(a, b), slices.Compare(a.Seen.Words[:], b.Seen.Words[:]),
			slices.Compare(a.LookedFor.Words[:], b.LookedFor.Words[:]),
			slices.CompareFunc(a.Lines, b.Lines, compareLines), cmp.Compare(a.Tests[0], b.Tests[0]),
			cmp.Compare(a.By, b.By), cmp.Compare(a.At, b.At), cmp.Compare(a.Note, b.Note))
	})
	return append(out, spoilt...)
}

// parts takes combined readings apart.
func parts(given []*Reading) (out []*Reading) {
	for _, r := range given {
		if r.Parts == nil {
			out = append(out, r)
		}
		out = append(out, r.Parts...)
	}
	return out
}

// combineRepeats makes one reading of several in one place. Those that stayed inconclusive don't count beside one that
// didn't; repeats that disagree are inconclusive together.
func combineRepeats(all []*Reading) *Reading {
	if len(all) == 1 {
		return all[0]
	}
	usable := slices.DeleteFunc(slices.Clone(all), func(r *Reading) bool { return !r.Usable() })
	if len(usable) == 0 {
		usable = slices.Clone(all)
	}
	// The same repeats in any order are one reading.
	slices.SortStableFunc(usable, compareRepeats)
	out := *usable[0]
	out.Span, out.Repeats, out.Parts, out.Known = all[0].Span, len(usable), slices.Clone(all), 0
	slices.SortStableFunc(out.Parts, compareParts)
	for _, r := range usable[1:] {
		out.Tests = append(slices.Clone(out.Tests), r.Tests...)
		out.Blunder, out.Noise = max(out.Blunder, r.Blunder), max(out.Noise, r.Noise)
		if r.Instrument != out.Instrument {
			out.Instrument = ""
		}
	}
	slices.Sort(out.Tests)
	out.Tests = slices.Compact(out.Tests)
	out.By = joined(all, "; ", func(r *Reading) string { return r.By })
	out.At = joined(all, "; ", func(r *Reading) string { return r.At })
	out.Note = joined(all, "; ", func(r *Reading) string { return r.Note })
	if !out.Usable() {
		out.Reason = joined(all, "; ", func(r *Reading) string { return r.Reason })
		return &out
	}
	if why := join(&out, usable); why != "" {
		return disagreement(&out, why)
	}
	return &out
}

func compareRepeats(a, b *Reading) int {
	return cmp.Or(cmp.Compare(a.Form, b.Form), cmp.Compare(a.Value, b.Value), cmp.Compare(a.U, b.U),
		cmp.Compare(a.High, b.High), cmp.Compare(a.Lo, b.Lo), cmp.Compare(a.Hi, b.Hi),
		cmp.Compare(a.Outcome, b.Outcome), cmp.Compare(a.Instrument, b.Instrument))
}

// compareParts orders readings of one observable by all that they say.
func compareParts(a, b *Reading) int {
	return cmp.Or(compareRepeats(a, b), slices.Compare(a.Tests, b.Tests), cmp.Compare(a.Blunder, b.Blunder),
		cmp.Compare(a.Noise, b.Noise), slices.Compare(a.Seen.Words[:], b.Seen.Words[:]),
		slices.Compare(a.LookedFor.Words[:], b.LookedFor.Words[:]), slices.CompareFunc(a.Lines, b.Lines, compareLines),
		cmp.Compare(a.Reason, b.Reason),
		cmp.Compare(a.By, b.By), cmp.Compare(a.At, b.At), cmp.Compare(a.Note, b.Note))
}

// joined lists what several readings say, once each and sorted.
func joined(all []*Reading, by string, of func(*Reading) string) string {
	words := slices.DeleteFunc(english.Each(all, of), func(w string) bool { return w == "" })
	slices.Sort(words)
	return strings.Join(slices.Compact(words), by)
}

func disagreement(r *Reading, why string) *Reading {
	return &Reading{Observable: r.Observable, Where: r.Where, Form: Inconclusive, Disagrees: true, Reason: why,
		Tests: r.Tests, Blunder: r.Blunder, Repeats: r.Repeats, Parts: r.Parts, Span: r.Span, By: r.By, At: r.At,
		Note: r.Note}
}

// join puts what usable readings say into out, or says how they disagree.
func join(out *Reading, usable []*Reading) string {
	switch out.Observable.Kind {
	case vocab.Features:
		for _, r := range usable {
			out.Seen.Union(r.Seen)
			out.LookedFor.Union(r.LookedFor)
			out.Lines = append(slices.Clip(out.Lines), r.Lines...)
		}
		out.settleLines()
		return ""
	case vocab.Choice:
		return joinChoices(out, usable)
	default:
		return joinQuantities(out, usable)
	}
}

// joinChoices keeps the finest of choices that don't contradict each other.
func joinChoices(out *Reading, usable []*Reading) string {
	o := out.Observable
	left := ^uint64(0)
	for _, r := range usable {
		m := o.Meaning(r.Outcome)
		left &= m
		if bits.OnesCount64(m) < bits.OnesCount64(o.Meaning(out.Outcome)) {
			out.Outcome = r.Outcome
		}
	}
	if left == 0 {
		return "repeats disagree: " + joined(usable, ", ", func(r *Reading) string { return o.Outcomes[r.Outcome].Name })
	}
	return ""
}

// joinQuantities weights values by inverse variance and intersects bounds.
func joinQuantities(out *Reading, usable []*Reading) string {
	var values, pairs, bounds []*Reading
	for _, r := range usable {
		switch r.Form {
		case Value:
			values = append(values, r)
		case Pair:
			pairs = append(pairs, r)
		default:
			bounds = append(bounds, r)
		}
	}
	why := ""
	switch {
	case len(pairs) > 0:
		out.Form = Pair
		why = cmp.Or(joinRays(out, pairs), valuesOnRays(out, values))
	case len(values) > 0:
		out.Form = Value
		why = joinValues(values, &out.Value, &out.U,
			func(r *Reading) quantity.Sample { return quantity.Sample{Value: r.Value, U: r.U} })
	}
	if why != "" {
		return why
	}
	return withBounds(out, bounds, len(values)+len(pairs) > 0)
}

func joinValues(list []*Reading, value, u *float64, of func(*Reading) quantity.Sample) string {
	samples := english.Each(list, of)
	s, ok := quantity.Combine(samples)
	if !ok {
		text := func(x quantity.Sample) string { return quantity.Text(x.Value, x.U) }
		return "repeats disagree: " + strings.Join(english.Each(samples, text), ", ")
	}
	*value, *u = s.Value, s.U
	return ""
}

func joinRays(out *Reading, pairs []*Reading) string {
	low := func(r *Reading) quantity.Sample { return quantity.Sample{Value: r.Value, U: r.U} }
	high := func(r *Reading) quantity.Sample { return quantity.Sample{Value: r.High, U: r.HighU} }
	var lv, lu, hv, hu float64
	if why := cmp.Or(joinValues(pairs, &lv, &lu, low), joinValues(pairs, &hv, &hu, high)); why != "" {
		return why
	}
	out.Value, out.U, out.High, out.HighU = lv, lu, hv, hu
	return ""
}

// valuesOnRays checks single values against a full turn: each must agree with one of its rays.
func valuesOnRays(out *Reading, values []*Reading) string {
	for _, r := range values {
		x := quantity.Sample{Value: r.Value, U: r.U}
		_, onLow := quantity.Combine([]quantity.Sample{x, {Value: out.Value, U: out.U}})
		_, onHigh := quantity.Combine([]quantity.Sample{x, {Value: out.High, U: out.HighU}})
		if !onLow && !onHigh {
			return fmt.Sprintf("repeats disagree: %s lies on neither ray of the full turn", quantity.Text(r.Value, r.U))
		}
	}
	return ""
}

// withBounds narrows bounds by each other, and checks values against them.
func withBounds(out *Reading, bounds []*Reading, valued bool) string {
	if len(bounds) == 0 {
		return ""
	}
	lo, hi := bounds[0].Lo, bounds[0].Hi
	for _, b := range bounds[1:] {
		lo, hi = max(lo, b.Lo), min(hi, b.Hi)
	}
	if lo > hi {
		return "repeats disagree: no value satisfies all bounds"
	}
	if !valued {
		if lo == hi { // an interval without width is never read: nothing could be made of it
			return "repeats disagree: the bounds leave nothing but " + quantity.Text(lo, 0)
		}
		out.Form, out.Lo, out.Hi = Interval, lo, hi
		return ""
	}
	last, lastU := out.Value, out.U
	if out.Form == Pair {
		last, lastU = out.High, out.HighU
	}
	if out.Value+2*out.U < lo || last-2*lastU > hi {
		return "repeats disagree: the value lies outside the bound " + quantity.FormatBounds(lo, hi)
	}
	return ""
}
