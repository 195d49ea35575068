package ruledraft

import (
	"math"

	"whystone/kb/casefile"
	"whystone/kb/quantity"
	"whystone/kb/syntax"
)

// reading writes a reading as somebody would, who leaves it to the test how sure a value is.
func reading(r *casefile.Reading) *syntax.Node {
	switch r.Form {
	case casefile.Choice:
		return syntax.NewText(r.Observable.Outcomes[r.Outcome].Name)
	case casefile.Features:
		return seenAndNot(r)
	case casefile.Value:
		return value(r.Value, r.U)
	case casefile.Pair:
		return syntax.NewList(value(r.Value, r.U), value(r.High, r.HighU))
	case casefile.Inconclusive:
		return syntax.NewMap(syntax.Keyed("inconclusive", syntax.NewText(r.Reason)))
	}
	out := syntax.NewMap()
	switch low, high := syntax.NewWord(number(r.Lo)), syntax.NewWord(number(r.Hi)); {
	case math.IsInf(r.Lo, -1):
		out.Entries = append(out.Entries, syntax.Keyed("below", high))
	case math.IsInf(r.Hi, 1):
		out.Entries = append(out.Entries, syntax.Keyed("above", low))
	default:
		out.Entries = append(out.Entries, syntax.Keyed("between", syntax.NewList(low, high)))
	}
	return out
}

// seenAndNot lists the features that were seen, and where others were looked for in vain, all that were looked for.
func seenAndNot(r *casefile.Reading) *syntax.Node {
	unseen := r.LookedFor
	unseen.Minus(r.Seen)
	seen := r.Observable.Named(r.Seen)
	if unseen.Empty() {
		return syntax.NewTexts(seen...)
	}
	return syntax.NewMap(syntax.Keyed("features", syntax.NewTexts(seen...)),
		syntax.Keyed("looked_for", syntax.NewTexts(append(seen, r.Observable.Named(unseen)...)...)))
}

// value is a number to the last figure that its uncertainty leaves meaningful.
func value(x, u float64) *syntax.Node { return syntax.NewWord(number(quantity.Meant(x, u))) }
