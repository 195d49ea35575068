package replay

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/english"
)

// Part is a tally with what it is of: a checkpoint, a partial report, or a whole one.
type Part struct {
	Format  int    `json:"format"`
	Kind    string `json:"kind"` // replay
	Ruleset string `json:"ruleset"`
	Against string `json:"against,omitempty"`
	// that only the ruleset compared has active, when it is the same otherwise
	Drafts []string `json:"drafts,omitempty"`
	Method int      `json:"method"`
	// a hash of what was asked: which archives by name, which cases are pinned and so on
	Inputs string `json:"inputs"`
	// Archives are known again by what was read of them.
	Archives []archive.Extent `json:"archives"`
	Partial  bool             `json:"partial"`
	AsOf     time.Time        `json:"as_of"`
	Moved    float64          `json:"moved_by"` // how far a share may move before it is counted
	// Conditions are those of the gate that was checked, if one was.
	Conditions []string `json:"conditions,omitempty"`
	Tally      *Tally   `json:"tally"`
	// Names are those of the materials and groups that the tally has by their ids.
	Names map[string]string `json:"names,omitempty"`
}

// name gives the names of what the tally has by ids, so that a report that is read without its ruleset has them.
func (p *Part) name(rs *kb.Ruleset) {
	p.Names = map[string]string{}
	for was, row := range p.Tally.Confusion {
		for said := range row {
			for _, id := range []string{was, said} {
				if m := rs.Node(id); m != nil {
					p.Names[id] = m.Name
				}
			}
		}
	}
}

// begin is the report of a run that has counted nothing.
func (c *Config) begin() *Part {
	p := &Part{Format: 1, Kind: "replay", Ruleset: c.Engine.Ruleset.Digest, Method: c.Engine.Ruleset.Method,
		Archives: []archive.Extent{}, AsOf: c.AsOf, Moved: c.Threshold, Tally: newTally(c.Against != nil)}
	if c.Against != nil {
		p.Against, p.Drafts = c.Against.Ruleset.Digest, c.Drafts
	}
	h := sha256.New()
	for _, path := range c.Paths {
		p.Archives = append(p.Archives, archive.Extent{Archive: filepath.ToSlash(path)})
		_, _ = fmt.Fprintf(h, "%s\x00", filepath.ToSlash(path))
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

// Write writes a part as JSON.
func (p *Part) Write(w io.Writer) error { return json.NewEncoder(w).Encode(p) }

// MaxPart bounds the text of a report: one of a thousand desks, with its lists, has a few megabytes.
const MaxPart = 64 << 20

// ReadPart reads a checkpoint or a report.
func ReadPart(raw []byte) (*Part, error) {
	p := &Part{}
	if err := json.Unmarshal(raw, p); err != nil {
		return nil, fmt.Errorf("this is no report of a replay: %w", err)
	}
	switch {
	case p.Kind != "replay" || p.Tally == nil || len(p.Conditions) > 0 && p.Tally.Pair == nil:
		return nil, errors.New("this is no report of a replay")
	case p.Format != 1:
		return nil, fmt.Errorf("format %d is not understood; this program reads format 1", p.Format)
	}
	if at := nullIn(raw); at >= 0 {
		return nil, fmt.Errorf("this is no report of a replay: byte %d is the end of a null, and a replay writes none",
			at)
	}
	t := newTally(p.Tally.Pair != nil)
	t.merge(p.Tally) // what the text left out is there again
	p.Tally = t
	return p, nil
}

// nullIn finds a null in a JSON text; below 0 there is none.
func nullIn(raw []byte) int64 {
	for d := json.NewDecoder(bytes.NewReader(raw)); ; {
		switch token, err := d.Token(); {
		case err != nil: // the end, as it is JSON
			return -1
		case token == nil:
			return d.InputOffset()
		}
	}
}

// Resume goes on from a checkpoint of the same replay. Its result is that of a run that was never interrupted. Whether
// the archives are still what they were is seen when they are read.
func (p *Part) Resume(c *Config) error {
	if c.Clock {
		c.AsOf = p.AsOf
	}
	if now := c.begin(); now.Inputs != p.Inputs || len(now.Archives) != len(p.Archives) {
		return errors.New("the checkpoint is of another replay: other archives, rulesets or options")
	}
	if err := p.comparable(); err != nil {
		return err
	}
	c.Before = p
	return nil
}

// comparable refuses a part of which nothing tells whether an archive is one of its own.
func (p *Part) comparable() error {
	for _, e := range p.Archives {
		if err := e.Comparable(); err != nil {
			return err
		}
	}
	return nil
}

// Merge adds up parts of one replay, in the order given: that of the archives.
func Merge(parts []*Part) (*Part, error) {
	if len(parts) == 0 {
		return nil, errors.New("there is nothing to merge")
	}
	out := *parts[0]
	out.Tally, out.Archives, out.Partial = newTally(parts[0].Tally.Pair != nil), []archive.Extent{}, false
	out.Names = map[string]string{}
	h := sha256.New()
	var dated *Part // whose date counts, as it has cases that say none
	for _, p := range parts {
		if err := out.goesWith(p); err != nil {
			return nil, err
		}
		switch {
		case p.Tally.Undated == 0:
		case dated == nil:
			dated, out.AsOf = p, p.AsOf
		case !p.AsOf.Equal(dated.AsOf):
			return nil, fmt.Errorf("cases that say no date were judged as of %s in the report of %s, and as of %s in "+
				"that of %s: replay both with the same --as-of",
				dated.AsOf.Format(time.RFC3339), dated.of(), p.AsOf.Format(time.RFC3339), p.of())
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
		maps.Copy(out.Names, p.Names)
		out.Partial = out.Partial || p.Partial
		_, _ = fmt.Fprintln(h, p.Inputs)
	}
	out.Inputs = hex.EncodeToString(h.Sum(nil))
	return &out, nil
}

// of names what the part is of.
func (p *Part) of() string {
	return strings.Join(english.Each(p.Archives, func(e archive.Extent) string { return e.Archive }), ", ")
}

// goesWith tells why another part can't be added, if it can't.
func (p *Part) goesWith(o *Part) error {
	switch {
	case o.Ruleset != p.Ruleset || o.Against != p.Against || o.Method != p.Method ||
		(o.Tally.Pair == nil) != (p.Tally.Pair == nil):
		return errors.New("the reports are of unlike rulesets, and can't be added up")
	case !slices.Equal(o.Conditions, p.Conditions):
		return errors.New("the reports have unlike gates, and can't be added up")
	case o.Moved != p.Moved:
		return errors.New("the reports count shares that moved by unlike thresholds, and can't be added up")
	}
	if err := o.comparable(); err != nil {
		return err
	}
	for _, b := range o.Archives {
		for _, a := range p.Archives {
			// By whatever names; of a part that was read, only the name tells that it is of the same.
			if b.Records > 0 && (a.Digest == b.Digest || (p.Partial || o.Partial) &&
				path.Clean(a.Archive) == path.Clean(b.Archive)) {
				return archive.Twice(a.Archive, b.Archive)
			}
		}
	}
	return nil
}

// Follow adds to a run's configuration what saves a checkpoint every so often.
func (c *Config) Follow(every time.Duration, now func() time.Time, save func(*Part) error) {
	last := now()
	c.Save = func(p *Part) error {
		if now().Sub(last) < every {
			return nil
		}
		last = now()
		if c.Lists != nil {
			if err := c.Lists.Flush(); err != nil {
				return err
			}
		}
		return save(p)
	}
}
