package skeleton

import (
	"slices"
	"strconv"
	"strings"

	"whystone/kb/doc"
	"whystone/kb/vocab"
)

// reading turns the words in which an answer tells a reading back into a reading; nil when they can't be.
func reading(o *vocab.Observable, says string) *doc.Node {
	switch o.Kind {
	case vocab.Choice:
		return doc.NewText(says)
	case vocab.Features:
		return seenAndNot(o, says)
	}
	says = strings.TrimSuffix(says, " "+o.Unit)
	if low, high, ok := strings.Cut(says, " and "); ok {
		return doc.NewList(value(low), value(high))
	}
	if low, high, ok := strings.Cut(says, " to "); ok {
		return doc.NewMap(doc.Keyed("between", doc.NewList(value(low), value(high))))
	}
	for _, key := range []string{"above", "below"} {
		if limit, ok := strings.CutPrefix(says, key+" "); ok {
			return doc.NewMap(doc.Keyed(key, value(limit)))
		}
	}
	return value(says)
}

// seenAndNot is a set of features: "crystal, no gas bubbles".
func seenAndNot(o *vocab.Observable, says string) *doc.Node {
	seen, all := doc.NewList(), doc.NewList()
	for _, w := range strings.Split(says, ", ") {
		is := slices.Contains(o.Words(), w)
		if !is {
			w = strings.TrimPrefix(w, "no ")
		} else {
			seen.Items = append(seen.Items, doc.NewText(w))
		}
		all.Items = append(all.Items, doc.NewText(w))
	}
	if len(seen.Items) == len(all.Items) {
		return seen
	}
	return doc.NewMap(doc.Keyed("features", seen), doc.Keyed("looked_for", all))
}

// value is a number, its uncertainty left out: "3.520 ± 0.010".
func value(says string) *doc.Node {
	text, _, _ := strings.Cut(says, " ")
	if x, err := strconv.ParseFloat(text, 64); err == nil {
		text = strconv.FormatFloat(x, 'f', -1, 64)
	}
	return doc.NewWord(text)
}
