package ruledraft

import (
	"slices"
	"strconv"
	"strings"

	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// reading turns the words in which an answer tells a reading back into a reading; nil when they can't be.
func reading(o *vocab.Observable, says string) *syntax.Node {
	switch o.Kind {
	case vocab.Choice:
		return syntax.NewText(says)
	case vocab.Features:
		return seenAndNot(o, says)
	}
	says = strings.TrimSuffix(says, " "+o.Unit)
	if low, high, ok := strings.Cut(says, " and "); ok {
		return syntax.NewList(value(low), value(high))
	}
	if low, high, ok := strings.Cut(says, " to "); ok {
		return syntax.NewMap(syntax.Keyed("between", syntax.NewList(value(low), value(high))))
	}
	for _, key := range []string{"above", "below"} {
		if limit, ok := strings.CutPrefix(says, key+" "); ok {
			return syntax.NewMap(syntax.Keyed(key, value(limit)))
		}
	}
	return value(says)
}

// seenAndNot is a set of features: "crystal, no gas bubbles".
func seenAndNot(o *vocab.Observable, says string) *syntax.Node {
	seen, all := syntax.NewList(), syntax.NewList()
	for _, w := range strings.Split(says, ", ") {
		is := slices.Contains(o.Words(), w)
		if !is {
			w = strings.TrimPrefix(w, "no ")
		} else {
			seen.Items = append(seen.Items, syntax.NewText(w))
		}
		all.Items = append(all.Items, syntax.NewText(w))
	}
	if len(seen.Items) == len(all.Items) {
		return seen
	}
	return syntax.NewMap(syntax.Keyed("features", seen), syntax.Keyed("looked_for", all))
}

// value is a number, its uncertainty left out: "3.520 ± 0.010".
func value(says string) *syntax.Node {
	text, _, _ := strings.Cut(says, " ")
	if x, err := strconv.ParseFloat(text, 64); err == nil {
		text = strconv.FormatFloat(x, 'f', -1, 64)
	}
	return syntax.NewWord(text)
}
