package casefile

import (
	"slices"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// CheckPath tells what is wrong with a path into a case, such as claim, stone.carat or readings.ri, if a case has
// nothing there.
func CheckPath(n *syntax.Node, v *vocab.Vocabulary, out *diag.List) {
	key, rest, parted := strings.Cut(n.Text, ".")
	inner := keysUnder(key, v)
	if !parted && slices.Contains(caseKeys, key) || parted && slices.Contains(inner, rest) ||
		key == "readings" && v.Called(rest) != nil {
		return
	}
	d := out.Errorf(diag.UnknownKey, n.Span, "a case has no %q", n.Text)
	d.Nearest = nearestPath(key, rest, parted, v)
	switch {
	case key == "readings":
		d.Detail = "It is written readings and the name of an observable, as in readings.ri."
		d.Write = "What can be read is listed by: whystone procedure --observables"
	case inner != nil:
		d.Detail = "Under " + key + " there are: " + strings.Join(inner, ", ") + "."
	default:
		d.Detail = "There are: " + strings.Join(caseKeys, ", ") + "; those of stone, readings and recorded are " +
			"written as in stone.carat, readings.ri, recorded.verdict."
	}
}

// withKeys are the keys of a case that have keys of their own.
var withKeys = [...]string{"stone", "readings", "recorded"}

// keysUnder are those that a key of a case has below it; none of most.
func keysUnder(key string, v *vocab.Vocabulary) []string {
	switch key {
	case "stone":
		return stoneKeys[:]
	case "readings":
		return v.Names()
	case "recorded":
		return recordedKeys[:]
	}
	return nil
}

// nearestPath is the path that was perhaps meant: each part as near as can be, or what was written without its first.
func nearestPath(key, rest string, parted bool, v *vocab.Vocabulary) string {
	if !parted {
		for _, k := range withKeys {
			if slices.Contains(keysUnder(k, v), key) {
				return k + "." + key
			}
		}
		return diag.Nearest(key, caseKeys)
	}
	if !slices.Contains(withKeys[:], key) {
		key = diag.Nearest(key, withKeys[:])
	}
	name, _, _ := strings.Cut(rest, ".") // one part too many
	near := name
	if inner := keysUnder(key, v); !slices.Contains(inner, name) {
		near = diag.NearestOrAbbreviated(rest, inner)
	}
	if near == "" || key == "" {
		return ""
	}
	return key + "." + near
}
