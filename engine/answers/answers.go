// Package answers says why a verdict is as it is: why not another material, what it rests on, what would change it, how
// a contradiction would resolve, which rules are waiting for a reading, and the short chain of reasoning.
//
// None of this is reasoned out beside the engine. The ledger of evidence is the engine's own, piece by piece. What a
// verdict rests on and what would change it are found by judging the case again with readings left out or altered
// (sufficient and necessary reasons: Darwiche and Ji 2022; contrast and selection: Miller 2019), so that each answer
// can be checked by doing what it says. All results have a "format" for JSON, and the same case gives the same bytes.
package answers

import (
	"cmp"
	"slices"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
	"whystone/kb/eval"
)

// Format is the version of the results' JSON shape.
const Format = 1

// Asker answers questions about cases by one ruleset, and uses its memory again. One goroutine uses it at a time.
type Asker struct {
	e     *engine.Engine
	rs    *kb.Ruleset
	judge *engine.Judge
	run   *eval.Run
}

// New makes an asker.
func New(e *engine.Engine) *Asker {
	return &Asker{e: e, rs: e.Ruleset, judge: e.NewJudge(), run: eval.New(e.Ruleset)}
}

// decide judges a case; what the judge says afterwards is about it.
func (a *Asker) decide(c *casefile.Case, on time.Time) engine.Decision {
	var d engine.Decision
	a.judge.Decide(c, on, &d)
	return d
}

// Head is what an answer begins with: of which case it is, and the verdict on it.
type Head struct {
	Format  int            `json:"format"`
	Case    string         `json:"case"`
	Verdict wording.Result `json:"verdict"`
}

func head(c *casefile.Case, d *engine.Decision) Head { return Head{Format, c.ID, wording.Of(d)} }

// Reading is a reading as an answer names it.
type Reading struct {
	Name string `json:"name"` // the observable, with the place where several were read
	Says string `json:"says"` // what was read
	// But tells, of a reading that a verdict rests on, that the stone does not suit it or that a caution stands beside
	// it.
	But string `json:"but,omitempty"`
}

func told(r *casefile.Reading) Reading { return Reading{Name: r.Name(), Says: phrase.ReadingText(r)} }

func toldAll(list []*casefile.Reading) []Reading {
	return append([]Reading{}, english.Each(list, told)...)
}

// without is the case less some readings.
func without(c *casefile.Case, set []*casefile.Reading) *casefile.Case {
	return c.Without(func(r *casefile.Reading) bool { return slices.Contains(set, r) })
}

// only is the case with some readings alone.
func only(c *casefile.Case, set []*casefile.Reading) *casefile.Case {
	return c.Without(func(r *casefile.Reading) bool { return !slices.Contains(set, r) })
}

// subject is what a verdict is about: the named node, the nodes that the stone is narrowed to, or else the candidate
// with the largest share. Empty when nothing stays open.
func (a *Asker) subject(d *engine.Decision) []*kb.Material {
	switch d.Class {
	case engine.Identified:
		return []*kb.Material{d.Named}
	case engine.Narrowed:
		return d.Nodes
	}
	if best := a.candidates(); len(best) > 0 {
		return []*kb.Material{a.rs.Leaves[best[0]]}
	}
	return nil
}

// candidates lists the leaves without exclusion by falling share, ties by id.
func (a *Asker) candidates() []int {
	out := english.Only(a.rs.Leaves, func(m *kb.Material) (int, bool) { return m.Index, !a.judge.Excluded(m.Index) })
	slices.SortStableFunc(out, func(x, y int) int {
		return cmp.Compare(a.judge.Share(a.rs.Leaves[y]), a.judge.Share(a.rs.Leaves[x]))
	})
	return out
}

// foremost is the leaf that stands for the verdict: the likeliest of what it is about. Where everything is excluded it
// is the leaf with the largest log-weight, or what is unlisted.
func (a *Asker) foremost(d *engine.Decision) side {
	if s := a.subject(d); len(s) > 0 {
		return a.standsFor(s[0])
	}
	best := engine.Unlisted
	for i := range a.rs.Leaves {
		if a.judge.LogWeight(i) > a.judge.LogWeight(best) {
			best = i
		}
	}
	return a.side(best)
}

func (a *Asker) side(leaf int) side { return side{leaf, a.material(leaf)} }

// standsFor is a node's likeliest leaf under the node's name.
func (a *Asker) standsFor(m *kb.Material) side {
	return side{a.judge.LikeliestLeaf(m), m}
}

// material is that of a leaf; nil: what the ruleset lacks.
func (a *Asker) material(leaf int) *kb.Material {
	if leaf == engine.Unlisted {
		return nil
	}
	return a.rs.Leaves[leaf]
}

func (a *Asker) id(leaf int) string {
	if leaf == engine.Unlisted {
		return "unlisted"
	}
	return engine.Told(a.rs.Leaves[leaf]).ID
}

// count is how many sets of a size there are of n things, or more than most.
func count(n, size, most int) int {
	c := 1
	for i := range size {
		c = c * (n - i) / (i + 1)
		if c > most {
			return most + 1
		}
	}
	return c
}

func pick(list []*casefile.Reading, set []int) []*casefile.Reading {
	return english.Each(set, func(k int) *casefile.Reading { return list[k] })
}
