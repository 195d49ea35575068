package answers

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
)

// Stands is how a node stands to the verdict.
type Stands string

// The ways.
const (
	Named    Stands = "named"    // it is what the stone was identified as, or a group that holds it
	Excluded Stands = "excluded" // it has no weight: two families and two tests exclude it
	Missing  Stands = "missing"  // it is what the verdict is about, and something is missing for its name
	Behind   Stands = "behind"   // the evidence speaks for another
)

// WhyNot is why a stone was not called something.
type WhyNot struct {
	Format  int            `json:"format"`
	Case    string         `json:"case"`
	Node    string         `json:"node"`
	Leaf    string         `json:"leaf"` // its likeliest leaf, which stands for it
	Verdict wording.Result `json:"verdict"`
	Stands  Stands         `json:"stands"`
	phrase.Told
	// Exclusions are what excludes it, the first as it counts; each of the others would exclude it as well.
	Exclusions []Exclusion `json:"exclusions"`
	Ledger     *Ledger     `json:"ledger"`  // between the verdict's leaf and its own; null where it has no weight
	Missing    []string    `json:"missing"` // what is missing for its name
	// Lacks is that as data too.
	Lacks []phrase.Told `json:"lacks"`
}

// Exclusion is a piece of evidence that excludes a leaf.
type Exclusion struct {
	Name     string    `json:"name"`
	Rule     string    `json:"rule,omitempty"`
	Family   string    `json:"family"`
	Readings []Reading `json:"readings"`
	phrase.Told

	term engine.Term
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
	w := &WhyNot{Format: Format, Case: c.ID, Node: id, Verdict: wording.Of(&d), Exclusions: []Exclusion{},
		Missing: []string{}, Lacks: []phrase.Told{}}
	leaf := a.judge.LikeliestLeaf(x)
	if leaf == engine.Unlisted {
		leaf = a.leastExcluded(x)
	}
	w.Leaf = a.id(leaf)
	w.Exclusions = a.exclusions(c, leaf)
	if d.Named != nil && d.Named.Under(x) {
		verdict := d.Reason()
		return w.stands(Named, phrase.Reason{Code: phrase.ItIsNamed, Why: &verdict}), nil
	}
	if a.judge.Zero(leaf) {
		return w.stands(Excluded, excludedSays(x, w.Exclusions)), nil
	}
	foremost, own := a.foremost(&d), side{leaf, x}
	if a.about(x, &d, foremost.leaf) {
		if slices.Contains(x.Leaves, foremost.leaf) {
			foremost = a.side(a.rival([]*kb.Material{x})) // it is ahead itself: of what?
			own, foremost = foremost, own
		}
		w.Ledger = a.ledger(c, foremost, own)
		lacks := a.missing(&d, x)
		w.Missing, w.Lacks = worded(lacks)
		verdict := d.Reason()
		says := phrase.Reason{Code: phrase.NotYet, Node: x, Then: lacks}
		if len(lacks) == 0 {
			says = phrase.Reason{Code: phrase.NotAlone, Node: x, Why: &verdict}
		}
		return w.stands(Missing, says), nil
	}
	w.Ledger = a.ledger(c, foremost, own)
	return w.stands(Behind, a.behindSays(x, w, foremost.node)), nil
}

// stands says how the node stands to the verdict.
func (w *WhyNot) stands(how Stands, says phrase.Reason) *WhyNot {
	w.Stands, w.Told = how, says.Told()
	return w
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

// leastExcluded is the leaf of a node, all of weight zero, that the fewest pieces of evidence exclude.
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
	slices.SortStableFunc(terms, func(x, y engine.Term) int { return cmp.Compare(x.Counts, y.Counts) })
	list := []Exclusion{}
	for _, t := range terms {
		e := Exclusion{Name: t.Name, Family: t.Family, Readings: toldAll(t.Readings), term: t}
		out := phrase.Reason{Code: phrase.Out, Node: t.Why.Node, Why: t.Why, Colours: t.Why.Colours}
		e.Told = phrase.Told{Says: phrase.Sentence(out.Says()), Values: t.Why.Values()}
		if t.Rule != nil {
			e.Rule, e.Readings = t.Rule.ID, toldAll(namedBy(c, t.Rule))
		}
		list = append(list, e)
	}
	return list
}

func excludedSays(x *kb.Material, list []Exclusion) phrase.Reason {
	says, also := not(x, list[0]), phrase.Reason{Code: phrase.NotBesides}
	for _, e := range list[1:] {
		if r := e.term.Rule; r != nil {
			also.Rules = append(also.Rules, r)
		} else {
			also.Observables = append(also.Observables, e.Name)
		}
	}
	if len(list) > 1 {
		says.Then = []phrase.Reason{also}
	}
	return says
}

// not is what excludes a node.
func not(x *kb.Material, e Exclusion) phrase.Reason {
	return phrase.Reason{Code: phrase.Not, Node: x, Why: e.term.Why}
}

func (a *Asker) behindSays(x *kb.Material, w *WhyNot, foremost *kb.Material) phrase.Reason {
	support := w.Ledger.support(a.rs.Policy)
	switch {
	case len(w.Exclusions) > 0:
		says := not(x, w.Exclusions[0])
		says.Then = []phrase.Reason{{Code: phrase.NotSure, Why: &support}}
		return says
	case w.Ledger.Support > 0.05 || w.Ledger.Gap <= 0:
		return phrase.Reason{Code: phrase.Not, Node: x, Why: &support}
	}
	return phrase.Reason{Code: phrase.Not, Node: x, Why: &phrase.Reason{Code: phrase.SeenLess, Other: foremost}}
}
