package answers

import (
	"fmt"
	"math"
	"slices"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
)

// missing says what a node lacks to be named.
func (a *Asker) missing(d *engine.Decision, x *kb.Material) []string {
	out := []string{}
	if d.Class == engine.Contradictory {
		return append(out, "the readings contradict each other, and nothing is named before that is resolved")
	}
	if d.NotListed == engine.NotListedLikely {
		return append(out, "no listed stone fits all readings, so that it is likely not on this list")
	}
	if d.Faulty {
		return append(out, "a rule can't be evaluated, and nothing is named before it is mended")
	}
	if !x.Nameable {
		return append(out, fmt.Sprintf("%s is a group that no verdict names", wording.Node(x)))
	}
	s := a.judge.Standing(d, x)
	if s.Share < s.Required {
		out = append(out, fmt.Sprintf("too much of what is not excluded lies outside it: %s", a.othersThan(x)))
	}
	if s.Doubt > s.DoubtLimit {
		out = append(out, "too much hangs on a single reading, which may be a mistake")
	}
	if !s.Supported {
		out = append(out, supportSays(s.Families))
	}
	out = append(out, a.rivalsSay(s.Rivals)...)
	for _, r := range s.Withheld {
		out = append(out, "a rule of the house keeps its name back: "+r.Says)
	}
	if lift := a.judge.LiftSays(s.Withheld); lift != "" {
		out = append(out, lower(lift))
	}
	return append(out, growthSays(x, &s)...)
}

// growthSays tells what keeps a node of one origin from being named.
func growthSays(x *kb.Material, s *engine.Standing) []string {
	var out []string
	if s.GrownUnknown {
		out = append(out, fmt.Sprintf("%s may be grown in a laboratory too, and no sheet says how that would show", wording.Node(x.Species)))
	}
	var words []string
	for _, m := range s.Unsettled {
		words = append(words, wording.Node(m))
	}
	if len(words) > 0 {
		out = append(out, fmt.Sprintf("nothing rules out %s", fewest(words)))
	}
	return out
}

func supportSays(families []string) string {
	switch len(families) {
	case 0:
		return "no kind of evidence supports it; two are needed, by two tests"
	case 1:
		return fmt.Sprintf("only one kind of evidence supports it (%s); two are needed, by two tests", families[0])
	}
	return fmt.Sprintf("%s support it, but by one test alone; two tests are needed", engine.List(families, "and"))
}

// rivalsSay tells of the rivals that are too near: those that the readings do not tell it from, and those that they tell
// it from too weakly. A group is left out beside a material under it.
func (a *Asker) rivalsSay(rivals []engine.Rival) []string {
	var same, near []string
	for _, r := range rivals {
		if slices.ContainsFunc(rivals, func(o engine.Rival) bool {
			return o.Node != r.Node && o.Node.Under(r.Node) && math.Abs(o.Gap-r.Gap) < 1e-9
		}) {
			continue
		}
		if r.Gap < 0.05 {
			same = append(same, wording.Node(r.Node))
		} else {
			near = append(near, wording.Node(r.Node))
		}
	}
	var out []string
	if len(same) > 0 {
		out = append(out, fmt.Sprintf("the readings do not speak for it over %s", fewest(same)))
	}
	if len(near) > 0 {
		out = append(out, fmt.Sprintf("they speak for it over %s, but not %s times likelier as is needed", fewest(near), engine.Figures(a.rs.Policy.Rival)))
	}
	return out
}

// fewest names three of several, and counts the rest.
func fewest(list []string) string {
	if rest := len(list) - 3; rest > 1 {
		list = append(slices.Clone(list[:3]), fmt.Sprintf("%d more", rest))
	}
	return engine.List(list, "and")
}

// othersThan names the candidates outside a node that hold most.
func (a *Asker) othersThan(x *kb.Material) string {
	var words []string
	for _, i := range a.candidates() {
		if !slices.Contains(x.Leaves, i) && len(words) < 3 {
			words = append(words, a.name(i))
		}
	}
	if len(words) == 0 {
		return "what is not listed"
	}
	return engine.List(words, "and") + " foremost"
}
