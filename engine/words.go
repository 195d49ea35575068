package engine

import (
	"math"
	"strconv"
	"strings"

	"whystone/kb"
)

// figures writes a number for a sentence: three figures, large ones with commas between thousands.
func figures(x float64) string {
	switch {
	case math.IsInf(x, 1) || x >= 1e9:
		return "over 1,000,000,000"
	case x >= 1000:
		return thousands(round3(x))
	case x != 0 && math.Abs(x) < 0.0005:
		return "less than 0.0005"
	}
	return strconv.FormatFloat(round3(x), 'g', -1, 64)
}

func round3(x float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		return x
	}
	return r
}

func thousands(x float64) string {
	s := strconv.FormatFloat(x, 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// list joins words as a sentence does.
func list(words []string, last string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

// spoken lists nodes by the words that a verdict uses, what comes after a semicolon in brackets: the bare word "diamond"
// would claim a growth that was not tested.
func spoken(nodes []*kb.Material) []string {
	out := make([]string, len(nodes))
	for i, m := range nodes {
		says, rest, more := strings.Cut(m.Says(), "; ")
		if more {
			says += " (" + rest + ")"
		}
		if strings.HasPrefix(says, "consistent with ") {
			says = "a stone " + says
		}
		out[i] = says
	}
	return out
}

// sentence says the verdict.
func (d *Decision) sentence() string {
	switch d.Class {
	case Identified:
		return "Identified: " + d.Named.Says() + "."
	case Narrowed:
		if len(d.Nodes) == 1 {
			return "Narrowed, not identified: " + d.Nodes[0].Says() + "."
		}
		return "Narrowed to " + list(spoken(d.Nodes), "or") + "."
	case Contradictory:
		return "Contradictory: the readings can't all be true of one listed material."
	default:
		if d.Faulty {
			return "Inconclusive: " + list(d.FaultyRules, "and") + " could not be evaluated."
		}
		return "Inconclusive: the readings leave too many materials open."
	}
}

// count is a number of things: "1 material", "46 materials".
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}
