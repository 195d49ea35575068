package answers

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
)

// How a node stands to the verdict.
const (
	Named    = "named"    // it is what the stone was identified as, or a group that holds it
	Excluded = "excluded" // it has no weight: two families and two tests exclude it
	Missing  = "missing"  // it is what the verdict is about, and something is missing for its name
	Behind   = "behind"   // the evidence speaks for another
)

// WhyNot is why a stone was not called something.
type WhyNot struct {
	Format  int            `json:"format"`
	Case    string         `json:"case"`
	Node    string         `json:"node"`
	Leaf    string         `json:"leaf"` // its likeliest leaf, which stands for it
	Verdict wording.Result `json:"verdict"`
	Stands  string         `json:"stands"` // named, excluded, missing or behind
	Says    string         `json:"says"`
	// Exclusions are what excludes it, the first as it counts; each of the others would exclude it as well.
	Exclusions []Exclusion `json:"exclusions"`
	Ledger     *Ledger     `json:"ledger"`  // between the verdict's leaf and its own; null where it has no weight
	Missing    []string    `json:"missing"` // what is missing for its name
}

// Exclusion is a piece of evidence that excludes a leaf.
type Exclusion struct {
	Name     string    `json:"name"`
	Rule     string    `json:"rule,omitempty"`
	Family   string    `json:"family"`
	Readings []Reading `json:"readings"`
	Says     string    `json:"says"`
}

// UnknownNode is the error for a name that is no material or group.
type UnknownNode struct{ Name, Nearest string }

// Error says it, with the nearest known id.
func (e *UnknownNode) Error() string {
	says := fmt.Sprintf("no material or group is called %q", e.Name)
	if e.Nearest != "" {
		says += fmt.Sprintf("; the nearest is %q", e.Nearest)
	}
	return says
}

// WhyNot says why a case was not called a material or group, by its id. The error is *UnknownNode.
func (a *Asker) WhyNot(c *casefile.Case, m engine.Moment, id string) (*WhyNot, error) {
	x := a.rs.Node(id)
	if x == nil {
		return nil, &UnknownNode{Name: id, Nearest: diag.Nearest(id, a.rs.NodeIDs())}
	}
	d := a.decide(c, m.On)
	w := &WhyNot{Format: Format, Case: c.ID, Node: id, Verdict: wording.Of(&d), Exclusions: []Exclusion{}, Missing: []string{}}
	leaf := a.judge.LikeliestLeaf(x)
	if leaf == engine.Unlisted {
		leaf = a.leastExcluded(x)
	}
	w.Leaf = a.id(leaf)
	w.Exclusions = a.exclusions(c, leaf)
	if d.Named != nil && d.Named.Under(x) {
		w.Stands, w.Says = Named, fmt.Sprintf("The stone is %s.", w.Verdict.Says)
		return w, nil
	}
	if a.judge.Nought(leaf) {
		w.Stands = Excluded
		w.Says = excludedSays(x, w.Exclusions)
		return w, nil
	}
	foremost, own := a.foremost(&d), side{leaf, wording.Node(x)}
	if a.about(x, &d, foremost.leaf) {
		if slices.Contains(x.Leaves, foremost.leaf) {
			foremost = a.side(a.rival([]*kb.Material{x})) // it is ahead itself: of what?
			own, foremost = foremost, own
		}
		w.Ledger = a.ledger(c, foremost, own)
		w.Stands, w.Missing = Missing, a.missing(&d, x)
		w.Says = missingSays(x, w)
		return w, nil
	}
	w.Ledger = a.ledger(c, foremost, own)
	w.Stands, w.Says = Behind, behindSays(x, w, foremost.name)
	return w, nil
}

// about tells whether a node is what a verdict is about: it holds the leaf that stands for the verdict, or lies under
// the named node, or is one of those that the stone is narrowed to.
func (a *Asker) about(x *kb.Material, d *engine.Decision, foremost int) bool {
	if a.judge.Excluded(a.judge.LikeliestLeaf(x)) {
		return false
	}
	if d.Named != nil && x.Under(d.Named) || foremost != engine.Unlisted && slices.Contains(x.Leaves, foremost) {
		return true
	}
	return slices.ContainsFunc(d.Nodes, func(n *kb.Material) bool { return x.Under(n) || n.Under(x) })
}

// leastExcluded is the leaf of a node, all of weight nought, that the fewest pieces of evidence exclude.
func (a *Asker) leastExcluded(x *kb.Material) int {
	best, fewest := x.Leaves[0], math.MaxInt
	for _, i := range x.Leaves {
		n := 0
		for _, t := range a.judge.Terms(i) {
			if t.Excludes {
				n++
			}
		}
		if n < fewest {
			best, fewest = i, n
		}
	}
	return best
}

// exclusions lists what excludes a leaf: those that count in full first, then as the evidence is ordered.
func (a *Asker) exclusions(c *casefile.Case, leaf int) []Exclusion {
	terms := slices.DeleteFunc(a.judge.Terms(leaf), func(t engine.Term) bool { return !t.Excludes })
	slices.SortStableFunc(terms, func(x, y engine.Term) int {
		switch {
		case x.Counts < y.Counts:
			return -1
		case x.Counts > y.Counts:
			return 1
		}
		return 0
	})
	out := []Exclusion{}
	for _, t := range terms {
		e := Exclusion{Name: t.Name, Family: t.Family, Readings: toldAll(t.Readings), Says: stop(capital(t.Says))}
		if t.Rule != nil {
			e.Rule, e.Readings = t.Rule.ID, toldAll(namedBy(c, t.Rule))
		}
		out = append(out, e)
	}
	return out
}

func excludedSays(x *kb.Material, list []Exclusion) string {
	var also []string
	for _, e := range list[1:] {
		if e.Rule != "" {
			also = append(also, fmt.Sprintf("the rule %q", e.Rule))
		} else {
			also = append(also, engine.InWords(e.Name))
		}
	}
	says := notSays(x, list[0])
	if len(also) > 0 {
		says += fmt.Sprintf(" Besides, %s would exclude it as well.", engine.List(also, "and"))
	}
	return says
}

// notSays says what excludes a node; its name is not told twice.
func notSays(x *kb.Material, e Exclusion) string {
	says := strings.TrimPrefix(e.Says, capital(x.Name)+" is out: ")
	return fmt.Sprintf("Not %s: %s", wording.Node(x), lower(says))
}

func behindSays(x *kb.Material, w *WhyNot, foremost string) string {
	says := "Not " + wording.Node(x) + ": "
	switch {
	case len(w.Exclusions) > 0:
		return notSays(x, w.Exclusions[0]) + " All that excludes it rests on one test or one kind of physics, so it keeps a small weight: " +
			w.Ledger.Says + "."
	case w.Ledger.Support > 0.05 || w.Ledger.Gap <= 0:
		says += w.Ledger.Says + "."
	default:
		says += fmt.Sprintf("the readings do not speak against it; the house sees it less often than %s.", foremost)
	}
	return says
}

func missingSays(x *kb.Material, w *WhyNot) string {
	if len(w.Missing) == 0 {
		return fmt.Sprintf("Not %s alone: the stone is %s.", wording.Node(x), w.Verdict.Says)
	}
	return fmt.Sprintf("Not yet %s. %s", wording.Node(x), stop(capital(strings.Join(w.Missing, "; "))))
}
