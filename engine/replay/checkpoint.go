package replay

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"whystone/engine/archive"
)

// Part is a tally with what it is of: a checkpoint, a partial report, or a whole one.
type Part struct {
	Format   int       `json:"format"`
	Kind     string    `json:"kind"` // replay
	Ruleset  string    `json:"ruleset"`
	Against  string    `json:"against,omitempty"`
	Method   int       `json:"method"`
	Inputs   string    `json:"inputs"` // a hash of the archives' names and sizes, and of what was asked
	Archives []string  `json:"archives"`
	Partial  bool      `json:"partial"`
	AsOf     time.Time `json:"as_of"`
	Tally    *Tally    `json:"tally"`
}

// NewPart says what a tally is of.
func NewPart(c *Config, t *Tally, partial bool) *Part {
	p := &Part{Format: 1, Kind: "replay", Ruleset: c.Engine.Ruleset.Digest, Method: c.Engine.Ruleset.Method, Archives: []string{}, Partial: partial, AsOf: c.AsOf, Tally: t}
	if c.Against != nil {
		p.Against = c.Against.Ruleset.Digest
	}
	h := sha256.New()
	for _, path := range c.Paths {
		size := int64(-1)
		if info, err := os.Stat(path); err == nil {
			size = info.Size()
		}
		p.Archives = append(p.Archives, filepath.ToSlash(path))
		fmt.Fprintf(h, "%s\x00%d\x00", filepath.ToSlash(path), size)
	}
	for _, id := range Sorted(c.Pinned) {
		fmt.Fprintf(h, "%s\x00%s\x00", id, c.Pinned[id])
	}
	fmt.Fprintf(h, "%s %s %g %s", p.Ruleset, p.Against, c.Threshold, c.AsOf.Format(time.RFC3339Nano))
	p.Inputs = hex.EncodeToString(h.Sum(nil))
	return p
}

// Save writes a part so that a reader finds the old or the new one, never half of it.
func (p *Part) Save(path string) error {
	raw, err := json.Marshal(p)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".replay-*")
	if err != nil {
		return err
	}
	_, err = f.Write(raw)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}

// LoadPart reads a checkpoint or a report.
func LoadPart(path string) (*Part, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return ReadPart(raw)
}

// ReadPart reads a checkpoint or a report.
func ReadPart(raw []byte) (*Part, error) {
	p := &Part{}
	if err := json.Unmarshal(raw, p); err != nil {
		return nil, fmt.Errorf("this is no report of a replay: %w", err)
	}
	switch {
	case p.Kind != "replay" || p.Tally == nil:
		return nil, errors.New("this is no report of a replay")
	case p.Format != 1:
		return nil, fmt.Errorf("format %d is not understood; this program reads format 1", p.Format)
	}
	t := newTally(p.Tally.Pair != nil)
	t.merge(p.Tally) // what the text left out is there again
	p.Tally = t
	return p, nil
}

// Resume goes on from a checkpoint of the same replay. Its result is that of a run that was never interrupted.
func (p *Part) Resume(c *Config) error {
	if now := NewPart(c, nil, true); now.Inputs != p.Inputs {
		return errors.New("the checkpoint is of another replay: other archives, rulesets or options")
	}
	c.Skip = p.Tally.Records
	return nil
}

// Merge adds up parts of one replay, in the order given: that of the archives.
func Merge(parts []*Part) (*Part, error) {
	if len(parts) == 0 {
		return nil, errors.New("there is nothing to merge")
	}
	out := *parts[0]
	out.Tally, out.Archives, out.Partial = newTally(parts[0].Tally.Pair != nil), []string{}, false
	h := sha256.New()
	for _, p := range parts {
		if p.Ruleset != out.Ruleset || p.Against != out.Against || p.Method != out.Method {
			return nil, errors.New("the reports are of unlike rulesets, and can't be added up")
		}
		shifted := newTally(p.Tally.Pair != nil)
		shifted.merge(p.Tally)
		for _, l := range shifted.Lists {
			for i := range l.Sample {
				l.Sample[i].Number += out.Tally.Records
			}
		}
		out.Tally.merge(shifted)
		out.Archives = append(out.Archives, p.Archives...)
		out.Partial = out.Partial || p.Partial
		fmt.Fprintln(h, p.Inputs)
	}
	out.Inputs = hex.EncodeToString(h.Sum(nil))
	return &out, nil
}

// Follow adds to a run's configuration what saves a checkpoint every so often.
func (c *Config) Follow(path string, every time.Duration, now func() time.Time, before *Tally) {
	last := now()
	c.Save = func(t *Tally) error {
		if now().Sub(last) < every {
			return nil
		}
		last = now()
		all := newTally(c.Against != nil)
		if before != nil {
			all.merge(before)
		}
		all.merge(t)
		return NewPart(c, all, true).Save(path)
	}
}

// Add puts what an earlier, interrupted run counted before what this one did.
func (t *Tally) Add(later *Tally) { t.merge(later) }

// Paths opens the archives that patterns name.
func Paths(patterns []string) ([]string, error) { return archive.Paths(patterns) }
