package engine

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb"
	"whystone/kb/casefile"
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

// spoken is a node by the words that a verdict uses, what comes after a semicolon in brackets: the bare word "diamond" would
// claim a growth that was not tested.
func (d *Decision) spoken(m *kb.Material) string {
	says, rest, more := strings.Cut(m.SaysOf(d.Colours), "; ")
	if more {
		says += " (" + rest + ")"
	}
	if strings.HasPrefix(says, "consistent with ") {
		says = "a stone " + says
	}
	return says
}

func (d *Decision) spokenList(nodes []*kb.Material) string {
	words := make([]string, len(nodes))
	for i, m := range nodes {
		words[i] = d.spoken(m)
	}
	return list(words, "or")
}

// sentence says the verdict; first of all that nothing on the list may fit, and after a name what it rests on.
func (j *Judge) sentence(c *casefile.Case, d *Decision) string {
	switch d.Class {
	case Identified:
		says := "Identified: " + d.Named.SaysOf(d.Colours) + "."
		if len(d.RestsOnPriors) > 0 {
			says += " " + j.priorsSay(c, d)
		}
		return says
	case Narrowed:
		if len(d.Nodes) == 1 {
			return "Narrowed, not identified: " + d.Nodes[0].SaysOf(d.Colours) + "."
		}
		return "Narrowed to " + d.spokenList(d.Nodes) + "."
	case Contradictory:
		if d.NotListed != Listed {
			return "Contradictory: no listed stone fits all these readings. " + d.listingSays()
		}
		return "Contradictory: the readings can't all be true of one listed stone."
	}
	return "Inconclusive: " + j.openSays(d)
}

func (d *Decision) listingSays() string {
	if d.NotListed == NotListedLikely {
		return "The stone is likely not on this list."
	}
	return "Either the stone is not on this list, or a reading is wrong."
}

// openSays is why a case stays inconclusive.
func (j *Judge) openSays(d *Decision) string {
	switch {
	case d.Faulty:
		return list(d.FaultyRules, "and") + " could not be evaluated."
	case d.NotListed == NotListedLikely:
		return "no listed stone fits all these readings. " + d.listingSays()
	case len(d.KeptBack) > 0:
		return "no name that the readings fit may be given yet. " + stop(j.keptBack(d.KeptBack))
	case j.readings == 0:
		return "no reading counts that tells stones apart."
	case d.TooMany:
		return "the readings leave too many materials open."
	}
	return "the readings do not rule out well enough that it is a stone that is not on this list."
}

// priorsSay tells that a name rests on what is common at the counter.
func (j *Judge) priorsSay(c *casefile.Case, d *Decision) string {
	how := "as well"
	if gap := j.nodeLikelihood(d.Named) - j.nodeLikelihood(d.RestsOnPriors[0]); gap > math.Ln2 {
		how = "nearly as well"
	} else if gap < -math.Ln2 {
		how = "better"
	}
	says := fmt.Sprintf("It is named as what this counter sees most: the readings fit %s %s.", d.spoken(d.RestsOnPriors[0]), how)
	var tests []string
	for _, t := range j.tellsApart(c, d.Named, d.RestsOnPriors[0]) {
		tests = append(tests, t.Name)
	}
	if len(tests) == 0 {
		return says
	}
	return fmt.Sprintf("%s %s would tell them apart.", says, capital(list(tests, "or")))
}

// capital and lower set the first letter of what stands within a sentence; an abbreviation keeps its own.
func capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[size:]
}

func lower(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if next, _ := utf8.DecodeRuneInString(s[size:]); size == 0 || unicode.IsUpper(next) {
		return s
	}
	return string(unicode.ToLower(r)) + s[size:]
}

// stop ends a sentence with one full stop.
func stop(s string) string { return strings.TrimRight(s, ". ") + "." }

// count is a number of things: "1 material", "46 materials".
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}
