package replay

import (
	"context"
	"slices"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/engine/diff"
)

// Difference is one case under two rulesets, with both chains.
type Difference struct {
	Entry
	Before, After *engine.Explained
	Parts         *diff.Parting
	// The steps that tell, where the chains part: rules, evidence, checks, verdict, claim.
	BeforeSteps, AfterSteps []engine.Step
}

// Differences judges the cases of a list again, by both rulesets, with their chains: at most so many. The archives are
// read once more, up to the last of them.
func Differences(ctx context.Context, c Config, list *List, most int) ([]Difference, error) {
	if list == nil || c.Against == nil {
		return nil, nil
	}
	sample := list.Sample[:min(most, len(list.Sample))]
	wanted := map[int64]Entry{}
	for _, e := range sample {
		wanted[e.Number] = e
	}
	w := newWorker(&c, c.memories())
	var out []Difference
	number := int64(0)
	err := archive.Each(ctx, c.Input, func(r *archive.Raw) bool {
		number++
		if e, ok := wanted[number]; ok {
			if d, ok := w.difference(r, e); ok {
				out = append(out, d)
			}
		}
		return len(out) < len(wanted)
	})
	return out, err
}

func (w *worker) difference(r *archive.Raw, e Entry) (Difference, bool) {
	a, _ := w.decoder.Decode(r)
	b, _ := w.second.Decode(r)
	if a == nil || b == nil {
		return Difference{}, false
	}
	m := engine.Moment{On: w.config.AsOf, DatedBy: engine.ByAsking}
	if w.config.Clock {
		m.DatedBy = engine.ByClock
	}
	if a.HasTaken {
		m = engine.Moment{On: a.Taken, DatedBy: engine.ByCase}
	}
	d := Difference{Entry: e, Before: w.judge.Explain(a, m), After: w.against.Explain(b, m)}
	if d.Parts = diff.Chains(d.Before.Chain, d.After.Chain); d.Parts != nil {
		d.BeforeSteps, d.AfterSteps = telling(d.Before.Chain), telling(d.After.Chain)
	}
	return d, true
}

// telling leaves out the single exclusions and what was merely read.
func telling(steps []engine.Step) []engine.Step {
	return slices.DeleteFunc(slices.Clone(steps), func(s engine.Step) bool {
		return s.Kind == "exclusion" ||
			s.Kind == "reading"
	})
}
