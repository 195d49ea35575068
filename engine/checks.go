package engine

import (
	"fmt"
	"math"
	"strings"

	"whystone/kb"
)

// says words a check.
func (j *Judge) says(c *check) string {
	name := j.nameOf
	switch c.point {
	case allExcluded:
		return "every material is excluded"
	case mistakenBest:
		return fmt.Sprintf("one mistaken reading explains the case better than anything left: %s, excluded by %s, is %s times likelier than %s",
			name(c.node), InWords(c.by), figures(math.Exp(c.value)), name(c.other))
	case notListed:
		if c.ok {
			return "nothing on the list fits all readings: something that is not on it is likelier than all materials together"
		}
		return "no material listed here fits all readings: one of them is wrong, or the stone is not on the list"
	case consistent:
		return "the readings can be true together"
	case holdsShare:
		return name(c.node) + " has the share of the whole weight that the house requires"
	case noneHolds:
		if c.node == nil || c.other == nil {
			return "no listed stone holds the share of all that is required at this stake"
		}
		return fmt.Sprintf("no single name holds enough: the readings fit %s, and %s too", name(c.node), name(c.other))
	case bearsDoubt:
		if c.ok {
			return "no more hangs on a single reading being right than the house allows"
		}
		return "too much hangs on a single reading being right: repeat it, or add a test of another kind"
	case hasFamilies:
		return c.familiesSay()
	case beatsRival:
		return j.rivalSays(c)
	case isWithheld:
		what := "no name that the readings fit may be given yet"
		if c.node != nil {
			what = name(c.node) + " is not named yet"
		}
		return what + ": " + j.keptBack(c.rules)
	case growthUnknown:
		if len(c.others) == 0 {
			return fmt.Sprintf("%s may be grown in a laboratory too, and no sheet here says how that would show", name(c.node.Species))
		}
		return fmt.Sprintf("%s is not named while nothing rules out %s", name(c.node), list(j.namesOf(c.others), "and"))
	case tooMany:
		return fmt.Sprintf("the readings fit more than %d materials, too many to name", MaxNodes)
	case tooLittle:
		return "what stays open on the list does not hold together as much as is required: the rest is what is not on it"
	case narrowedTo:
		return "what it is narrowed to holds the share that is required, at the house's priors and at equal ones"
	}
	return ""
}

func (c *check) familiesSay() string {
	switch by := c.family; {
	case c.ok:
		return "it is supported by " + list(by, "and") + ", and by more than one test"
	case len(by) == 0:
		return "no kind of evidence supports it; two are needed, by two tests"
	case len(by) == 1:
		return "only one kind of evidence supports it (" + by[0] + "); two are needed, by two tests"
	default:
		return list(by, "and") + " support it, but by one test alone; two tests are needed"
	}
}

func (j *Judge) rivalSays(c *check) string {
	one, other := j.nameOf(c.node), j.nameOf(c.other)
	switch {
	case c.value < 0:
		return fmt.Sprintf("the readings fit %s better than %s", other, one)
	case c.value < 0.05:
		return fmt.Sprintf("the readings fit %s as well as %s", other, one)
	}
	return fmt.Sprintf("the readings are %s times likelier on %s than on %s; %s times are needed", figures(math.Exp(c.value)), one, other, figures(c.needed))
}

// keptBack says why rules keep names back, and which tests may lift it.
func (j *Judge) keptBack(by []*kb.Rule) string {
	var words []string
	for _, r := range by {
		words = append(words, strings.TrimSuffix(r.Says, "."))
	}
	says := strings.Join(words, "; ")
	if lift := j.LiftSays(by); lift != "" {
		says += ". " + lift
	}
	return says
}

// LiftSays names what may lift what rules keep back: tests, or the observables where no test can be done.
func (j *Judge) LiftSays(by []*kb.Rule) string {
	var words []string
	for _, t := range j.liftedBy(by) {
		words = append(words, t.Name)
	}
	if len(words) == 0 {
		for _, o := range j.e.lifts(by) {
			words = append(words, spell(o.Name))
		}
	}
	switch {
	case len(words) == 0:
		return ""
	case len(words) > mostLifting:
		words = append(words[:mostLifting], "another such test")
	}
	return "What may settle that: " + list(words, "or")
}

// mostLifting is how many tests a sentence names.
const mostLifting = 4

// nameOf is how a sentence names a material: where its name follows the colour, by the colour that was read.
func (j *Judge) nameOf(m *kb.Material) string {
	if m.ByColour == nil {
		return m.Name
	}
	says, _, _ := strings.Cut(m.SaysOf(j.colours()), "; ")
	return strings.TrimPrefix(says, "consistent with ")
}

func (j *Judge) namesOf(nodes []*kb.Material) []string {
	out := make([]string, len(nodes))
	for i, m := range nodes {
		out[i] = j.nameOf(m)
	}
	return out
}
