// Package replay judges an archive of cases again: what comes out against what was true and what was recorded, and what
// another ruleset would change.
//
// Records are read in order, cut into chunks, judged by as many workers as there are processors, and counted chunk by
// chunk in the order of the archive. A [Tally] holds nothing but sums, and lists that are capped, so that memory stays
// flat; whole, interrupted, resumed and merged runs give the same bytes.
//
// What makes it fast is that an archive says the same things over and over, and that most stones leave few materials. A
// chunk goes through four stages, each of which is derived from what judges a single case, and held to it by a test:
//
//   - Skimming ([casefile.Skimmer]). A record is cut into members without a tree; what each was read as is looked up by its text.
//     What was never read before is read by the reader itself.
//   - Rules ([eval.Block]). All cases of the chunk lie side by side, a lane each, and every node of the rules' program is two
//     planes of bits, "holds" and "fails". A reading that bears a number sets the leaves that it set before.
//   - Weighing ([engine.Judge.DecideLane]). What a reading says of the materials is a vector that is kept under its number;
//     quantities fill theirs only for materials of weight above zero. Everything from there on, families, verdict, claim, is
//     the very code that judges one case.
//   - Counting. What came of each rule is counted by planes, the rest case by case: workers take down what is to be
//     counted of each, and one for all of them counts it.
//
// Of two rulesets that differ in rules alone ([engine.Twins]) the new one's rules are tried on the cases as the old one
// reads them; it reads and judges only those in which that leaves a verdict open to change.
//
// A record in which anything is unusual is read, or judged, by itself; [Tally.Unusual] says how many.
package replay

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/engine/diff"
	"whystone/kb/diag"
)

// Config says what is replayed, and how.
type Config struct {
	archive.Input
	Engine  *engine.Engine
	Against *engine.Engine // nil: one ruleset only. Engine is the old one, Against the new
	Drafts  []string       // the rules that only Against has active, when it is the same ruleset otherwise
	Workers int            // 0: as many as there are processors
	AsOf    time.Time      // of cases that say no date
	Clock   bool           // AsOf is the clock's: a run that is resumed keeps the date it began with
	// Threshold is how far a share may move before it is counted.
	Threshold float64
	// Before is what an earlier, interrupted run counted; see [Part.Resume].
	Before *Part
	// Progress is told how many records are counted; Save is given what is counted, chunk by chunk.
	Progress func(records int64)
	Save     func(*Part) error
	Pinned   map[string]string // cases that must not change, with the reason
	Lists    *Lists            // where every list is written in full; nil: nowhere
}

// chunkSize is how many records a worker takes at once, at most.
const chunkSize = 512

// result is what came of a chunk. Nothing is added up in it that would bear a name: to add up the sums of chunks takes
// longer than to count their cases.
type result struct {
	records, undated, unusual int64
	cases                     []account // that were judged
	pairs                     []both
	rules                     []Coverage // by their places in Ruleset.Order
	faults, behind            []string   // names of what is to be counted
	pinned                    map[string]*Pin
	lists                     map[string]*List
	lines                     []listed
}

func newResult(rules int) *result {
	return &result{rules: make([]Coverage, rules), pinned: map[string]*Pin{}, lists: map[string]*List{}}
}

// Run replays. When ctx ends early, or an archive can't be read any further, what was counted comes back with the
// error: a partial report that can be used.
func Run(ctx context.Context, c Config) (*Part, error) {
	p := c.Before
	if p == nil {
		p = c.begin()
	}
	p.Partial = true
	p.Tally.pin(c.Pinned)
	sharing := archive.Sharing{Workers: c.Workers, Chunk: chunkSize, Past: slices.Clone(p.Archives),
		Seen: func(i int, e archive.Extent) {
			p.Archives[i].Records, p.Archives[i].Digest = e.Records, e.Digest
		}}
	var failed error
	of := c.memories()
	err := archive.Share(ctx, c.Input, sharing, func() archive.Worker[*result] { return newWorker(&c, of) },
		func(res *result) error {
			failed = c.add(p, res)
			return failed
		})
	if failed == nil && ctx.Err() != nil {
		err = ctx.Err()
	}
	p.Partial = err != nil
	p.name(c.Engine.Ruleset)
	return p, err
}

// add counts what came of a chunk.
func (c *Config) add(to *Part, res *result) (err error) {
	to.Tally.add(res, c.Engine.Ruleset.Order)
	if c.Progress != nil {
		c.Progress(to.Tally.Records)
	}
	if c.Lists != nil {
		err = c.Lists.write(res.lines)
	}
	if c.Save != nil && err == nil {
		err = c.Save(to)
	}
	return err
}

// parts finds where the two chains part.
func (w *worker) parts(r *archive.Raw, e Entry) *diff.Parting {
	d, _ := w.difference(r, e)
	return d.Parts
}

// reason is why a record can't be read, on one line; its place is told beside it.
func reason(found diag.List) string {
	var parts []string
	for _, d := range found {
		if d.Severity != diag.Error {
			continue
		}
		says := d.Summary
		if sp := d.Span; !sp.IsZero() && sp.Source.Key != "" {
			says = fmt.Sprintf("column %q: %s", sp.Source.Key, says)
		} else if !sp.IsZero() {
			says = fmt.Sprintf("column %d: %s", sp.Position().Column, says)
		}
		if parts = append(parts, says+diag.Meant(d.Nearest)); len(parts) == 3 {
			break
		}
	}
	return strings.Join(parts, "; ")
}
