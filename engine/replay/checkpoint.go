package replay

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Part is a tally with what it is of: a checkpoint, a partial report, or a whole one.
type Part struct {
	Format   int       `json:"format"`
	Kind     string    `json:"kind"` // replay
	Ruleset  string    `json:"ruleset"`
	Against  string    `json:"against,omitempty"`
	Drafts   []string  `json:"drafts,omitempty"` // that only the ruleset compared has active, when it is the same otherwise
	Method   int       `json:"method"`
	Inputs   string    `json:"inputs"` // a hash of what is replayed, and of what was asked
	Archives []string  `json:"archives"`
	Partial  bool      `json:"partial"`
	AsOf     time.Time `json:"as_of"`
	Moved    float64   `json:"moved_by"` // how far a share may move before it is counted
	// Conditions are those of the gate that was checked, if one was.
	Conditions []string `json:"conditions,omitempty"`
	Tally      *Tally   `json:"tally"`
}

// NewPart says what a tally is of.
func NewPart(c *Config, t *Tally, partial bool) *Part {
	p := &Part{Format: 1, Kind: "replay", Ruleset: c.Engine.Ruleset.Digest, Method: c.Engine.Ruleset.Method, Archives: []string{}, Partial: partial, AsOf: c.AsOf, Moved: c.Threshold, Tally: t}
	if c.Against != nil {
		p.Against, p.Drafts = c.Against.Ruleset.Digest, c.Drafts
	}
	h := sha256.New()
	for _, path := range c.Paths {
		p.Archives = append(p.Archives, filepath.ToSlash(path))
		_, _ = fmt.Fprintf(h, "%s\x00", filepath.ToSlash(path))
		likeness(h, path)
	}
	for _, id := range Sorted(c.Pinned) {
		_, _ = fmt.Fprintf(h, "%s\x00%s\x00", id, c.Pinned[id])
	}
	if c.Mapping != nil {
		c.Mapping.Hash(h)
	}
	_, _ = fmt.Fprintf(h, "%s %s %g %s", p.Ruleset, p.Against, c.Threshold, c.AsOf.Format(time.RFC3339Nano))
	p.Inputs = hex.EncodeToString(h.Sum(nil))
	return p
}

// likeness is by what an archive is known again: its size, how it begins and how it ends. To read all of it would take
// as long as to replay it.
func likeness(h io.Writer, path string) {
	const edge = 64 << 10
	f, err := os.Open(path)
	if err != nil {
		return // standard input, or what the replay itself will report
	}
	defer func() { _ = f.Close() }() // only read from
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return
	}
	_, _ = fmt.Fprintf(h, "%d\x00", info.Size())
	_, _ = io.Copy(h, io.NewSectionReader(f, 0, edge)) // a file that can't be read is told by the replay
	_, _ = io.Copy(h, io.NewSectionReader(f, max(0, info.Size()-edge), edge))
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
	if c.Clock {
		c.AsOf = p.AsOf
	}
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
	h, seen := sha256.New(), map[string]bool{}
	for _, p := range parts {
		if p.Ruleset != out.Ruleset || p.Against != out.Against || p.Method != out.Method {
			return nil, errors.New("the reports are of unlike rulesets, and can't be added up")
		}
		if !slices.Equal(p.Conditions, out.Conditions) {
			return nil, errors.New("the reports have unlike gates, and can't be added up")
		}
		if p.Moved != out.Moved {
			return nil, errors.New("the reports count shares that moved by unlike thresholds, and can't be added up")
		}
		if seen[p.Inputs] {
			return nil, fmt.Errorf("the report of %s is there twice, and would be counted twice", strings.Join(p.Archives, ", "))
		}
		seen[p.Inputs] = true
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
		_, _ = fmt.Fprintln(h, p.Inputs)
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
		if c.Lists != nil {
			if err := c.Lists.Flush(); err != nil {
				return err
			}
		}
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
