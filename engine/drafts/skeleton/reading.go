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
		return word(says)
	case vocab.Features:
		return seenAndNot(o, says)
	}
	says = strings.TrimSuffix(says, " "+o.Unit)
	if low, high, ok := strings.Cut(says, " and "); ok {
		return list(value(low), value(high))
	}
	if low, high, ok := strings.Cut(says, " to "); ok {
		return mapping(entry("between", list(value(low), value(high))))
	}
	for _, key := range []string{"above", "below"} {
		if limit, ok := strings.CutPrefix(says, key+" "); ok {
			return mapping(entry(key, value(limit)))
		}
	}
	return value(says)
}

// seenAndNot is a set of features: "crystal, no gas bubbles".
func seenAndNot(o *vocab.Observable, says string) *doc.Node {
	seen, all := list(), list()
	for _, w := range strings.Split(says, ", ") {
		is := slices.Contains(o.Words(), w)
		if !is {
			w = strings.TrimPrefix(w, "no ")
		} else {
			seen.Items = append(seen.Items, word(w))
		}
		all.Items = append(all.Items, word(w))
	}
	if len(seen.Items) == len(all.Items) {
		return seen
	}
	return mapping(entry("features", seen), entry("looked_for", all))
}

// value is a number, its uncertainty left out: "3.520 ± 0.010".
func value(says string) *doc.Node {
	text, _, _ := strings.Cut(says, " ")
	if x, err := strconv.ParseFloat(text, 64); err == nil {
		text = strconv.FormatFloat(x, 'f', -1, 64)
	}
	return &doc.Node{Kind: doc.Scalar, Style: doc.Plain, Text: text}
}

func word(text string) *doc.Node { return &doc.Node{Kind: doc.Scalar, Style: doc.Double, Text: text} }

func list(items ...*doc.Node) *doc.Node { return &doc.Node{Kind: doc.List, Items: items} }

func mapping(entries ...doc.Entry) *doc.Node { return &doc.Node{Kind: doc.Map, Entries: entries} }
