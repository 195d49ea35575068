package separation

import (
	"context"
	"math"
	"slices"
	"time"

	"whystone/engine"
	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// scan judges the readings of one test after another. One goroutine uses it at a time.
type scan struct {
	rs     *kb.Ruleset
	j      *engine.Judge
	on     time.Time
	judged map[same][]float64 // of one test and observable: a reading that several materials give is judged once
	logs   []float64          // of one test, by leaf and leaf: the logarithm of the ratio of one from the other
}

func newScan(e *engine.Engine, on time.Time) *scan {
	n := len(e.Ruleset.Leaves)
	return &scan{rs: e.Ruleset, j: e.NewJudge(), on: on, judged: map[same][]float64{}, logs: make([]float64, n*n)}
}

// test works out how well a test tells each pair of leaves apart, either way: the logarithm of the ratio, positive
// where it tells the lower leaf from the higher, negative where it tells the higher from the lower better, infinite
// where it excludes, zero where it favours neither. Beside it are the outcomes that some sheet has sometimes.
func (s *scan) test(ctx context.Context, t *kb.Test) ([]float32, []sign) {
	clear(s.logs)
	sources := feasible.Sources(s.rs, &casefile.Case{Stone: bench()}, t)
	index, _ := feasible.FullTurn(sources)
	var signs []sign
	for _, from := range sources {
		clear(s.judged)
		for _, leaf := range s.rs.Leaves {
			if ctx.Err() != nil {
				return nil, nil
			}
			s.leaf(leaf, from, index != nil)
		}
		signs = append(signs, s.signs(from)...)
	}
	n := len(s.rs.Leaves)
	out := make([]float32, 0, n*(n-1)/2)
	for a := range n {
		for b := a + 1; b < n; b++ {
			log := s.logs[a*n+b]
			if back := s.logs[b*n+a]; back > log {
				log = -back
			}
			out = append(out, float32(log))
		}
	}
	return out, signs
}

// leaf works out how well one observable tells a leaf from each other.
func (s *scan) leaf(leaf *kb.Material, from *feasible.Source, fullTurn bool) {
	readings := usual(s.rs, leaf, from, fullTurn)
	if len(readings) == 0 {
		return
	}
	need := 1
	if from.Observable.Kind == vocab.Quantity {
		need = most
	}
	said := make([][]float64, len(readings))
	for k := range readings {
		said[k] = s.judge(&readings[k])
	}
	n := len(s.rs.Leaves)
	row := s.logs[leaf.Index*n : (leaf.Index+1)*n]
	ratios := make([]float64, len(readings))
	for b := range row {
		for k, logs := range said {
			ratios[k] = ratio(logs[leaf.Index], logs[b])
		}
		slices.Sort(ratios)
		row[b] = max(row[b], ratios[len(ratios)-need])
	}
}

// ratio is the logarithm of how many times likelier something is under one leaf than under another. What excludes the
// leaf itself tells it from nothing.
func ratio(own, other float64) float64 {
	switch {
	case math.IsInf(own, -1):
		return math.Inf(-1)
	case math.IsInf(other, -1):
		return math.Inf(1)
	}
	return own - other
}

// judge gives the log-likelihood of every leaf by a reading alone; minus infinity for those that it excludes. A reading
// by which a rule fails to evaluate leads to no verdict, and tells nothing.
func (s *scan) judge(r *reading) []float64 {
	key := r.same()
	if logs := s.judged[key]; logs != nil {
		return logs
	}
	logs := make([]float64, len(s.rs.Leaves))
	s.judged[key] = logs
	var d engine.Decision
	s.j.Decide(&casefile.Case{Stone: r.stone, Readings: []*casefile.Reading{r.Reading}}, s.on, &d)
	if d.Faulty {
		return logs
	}
	for i := range logs {
		logs[i] = s.j.Likelihood(i)
		if s.j.Excluded(i) {
			logs[i] = math.Inf(-1)
		}
	}
	return logs
}
