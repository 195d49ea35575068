package casefile

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// twoFigures is how people type two figures that belong together: 1.544-1.553, 3.51 and 3.53.
var twoFigures = regexp.MustCompile(`^\s*(\d+(?:\.\d+)?)(?:\s*[-–/]\s*|\s+(?:to|and|or)\s+)(\d+(?:\.\d+)?)\s*$`)

// howWritten says how what was meant by a reading is written, where it can't be read as it stands; empty where that is
// not clear.
func howWritten(o *vocab.Observable, n *syntax.Node) string {
	key := map[vocab.Kind]string{vocab.Choice: "choice", vocab.Features: "features"}[o.Kind]
	key = cmp.Or(key, "value")
	switch {
	case n.Kind == syntax.Map:
		return severalKeys(o, n, key)
	case n.Kind == syntax.List && slices.ContainsFunc(n.Items,
		func(it *syntax.Node) bool { return it.Kind == syntax.List }):
		return "Repeats are a list of maps: [{" + key + ": [...]}, {" + key + ": [...]}]."
	case n.Kind == syntax.List && o.Kind == vocab.Choice:
		return "One outcome is read at a time. Repeats are a list of maps: [{choice: ...}, {choice: ...}]."
	case n.Kind == syntax.List && o.Name == vocab.RefractiveIndex && len(n.Items) > 2:
		return "Of a full turn the two extreme rays are written. Repeats are a list of maps: [{value: 1.544}, " +
			"{value: 1.545}]."
	case n.Kind == syntax.Scalar && o.Kind == vocab.Choice:
		return either(o, n.Text)
	case n.Kind == syntax.Scalar && o.Kind == vocab.Quantity:
		return both(o, n.Text)
	}
	return ""
}

// both is how two figures are written that were typed in one.
func both(o *vocab.Observable, text string) string {
	m := twoFigures.FindStringSubmatch(text)
	if m == nil {
		return ""
	}
	says := "Two bounds are {between: [" + m[1] + ", " + m[2] + "]}, repeats [{value: " + m[1] + "}, {value: " + m[2] +
		"}]."
	if o.Name == vocab.RefractiveIndex {
		says = "The two extreme rays of a full turn are [" + m[1] + ", " + m[2] + "]. " + says
	}
	return says
}

// either is what to write where somebody could not tell one outcome from another.
func either(o *vocab.Observable, text string) string {
	parts := regexp.MustCompile(`\s+or\s+|\s+and\s+|\s*[/,]\s*`).Split(text, -1)
	for _, p := range parts {
		if _, ok := o.Outcome(vocab.Fold(p)); !ok {
			return ""
		}
	}
	if len(parts) < 2 {
		return ""
	}
	return "Write the one that was seen. If nobody could tell which, it is {inconclusive: " +
		strings.Join(parts, " or ") + "}; repeats are a list of maps."
}

// severalKeys is how a mapping is written whose keys are none: of the rays of a full turn, or of places on the stone.
func severalKeys(o *vocab.Observable, n *syntax.Node, key string) string {
	var unknown []string
	for _, e := range n.Entries {
		if slices.Contains(readingKeys, e.Key.Text) {
			return ""
		}
		unknown = append(unknown, e.Key.Text)
	}
	rays := []string{"low", "high", "pair", "rays", "no", "ne", "alpha", "beta", "gamma"}
	switch {
	case len(unknown) == 0:
		return ""
	case o.Name == vocab.RefractiveIndex && !slices.ContainsFunc(unknown,
		func(k string) bool { return !slices.Contains(rays, vocab.Fold(k)) }):
		return "The two extreme rays of a full turn are a list, the lower one first: [1.544, 1.553]."
	case len(unknown) > 1:
		return "Readings of several places are a list of maps: [{" + key + ": ..., where: " + unknown[0] + "}, {" +
			key + ": ..., where: " + unknown[1] + "}]."
	}
	return ""
}
