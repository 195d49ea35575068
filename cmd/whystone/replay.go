package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"

	"whystone/cmd/whystone/intake"
	"whystone/engine"
	"whystone/engine/archive"
	"whystone/engine/replay"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// replaying is what the flags of replay say.
type replaying struct {
	against                                  []string
	mapping, asOf, pinned, checkpoint, lists string
	workers, written                         int
	moved                                    float64
	resume, gate, back, drafts               bool
	reports
}

func (a *app) replay() *cobra.Command {
	var r replaying
	cmd := &cobra.Command{
		Use:   "replay ARCHIVE...",
		Short: "Judge an archive again, and say what is different",
		Long: `Replay judges every case of an archive again: against what was true and what was
recorded, and with --against, what another ruleset would change. With --drafts
that other ruleset is the same with its drafts active, whatever their since.

An archive is JSON lines, CSV or Parquet, the first two also as .gz or .zst; a
pattern names several; - is standard input: JSON lines, or with --mapping a
table. A record that can't be read is listed, and stops nothing. Ctrl-C ends
with a partial report that says so, and saves the checkpoint if there is one; a
second Ctrl-C ends at once.

--lists writes each list (changed, right to wrong, falsely accepted and so on)
whole: the case as the archive has it, the old verdict and the new, and where
the two chains part.`,
		Example: `  whystone archive sample --cases 10000 --seed 1 > sample.jsonl
  whystone replay sample.jsonl
  whystone replay sample.jsonl --against ../house-rules --gate \
    --html changes.html
  whystone replay sample.jsonl --layer rules --drafts --gate
  whystone replay sample.jsonl --layer rules --against git:main:rules \
    --against-is-old --gate --pinned pinned.txt --junit gate.xml
  whystone replay 'archive/*.csv.gz' --checkpoint replay.part --resume`,
		Args: needs("an archive, or - for standard input"),
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			return s.replay(cmd.Context(), args, &r)
		}),
	}
	f := cmd.Flags()
	f.StringArrayVar(&r.against, "against", nil,
		"the new ruleset: a `folder` in place of the house's own layers, or git:REV:FOLDER; may be repeated")
	f.BoolVar(&r.back, "against-is-old", false, "the ruleset of --against is the old one, and the settings' the new")
	f.BoolVar(&r.drafts, "drafts", false, "the new ruleset is the same with its drafts active")
	f.StringVar(&r.mapping, "mapping", "", "a mapping `file` for a foreign spreadsheet's columns")
	asOfFlag(cmd, &r.asOf)
	f.IntVar(&r.workers, "workers", 0, "how many `processors` judge (default: all)")
	f.Float64Var(&r.moved, "moved", replay.MovedBy,
		"count a share that moves by more than `this`, the verdict being the same")
	f.StringVar(&r.pinned, "pinned", "", "a `file` of cases that must not change: a case and the reason on each line")
	f.BoolVar(&r.gate, "gate", false, "check the policy's gate; exit status 1 when it is not kept")
	f.StringVar(&r.checkpoint, "checkpoint", "", "save what is counted to this `file` every few seconds")
	f.BoolVar(&r.resume, "resume", false, "go on from the checkpoint")
	r.flags(f)
	f.StringVar(&r.lists, "lists", "", "write every list of cases in full, as JSON lines in this `folder`")
	f.IntVar(&r.written, "written-out", 20, "how many `cases` that change the page shows with both chains")
	cmd.AddCommand(a.replayMerge())
	return cmd
}

func (s *session) replay(ctx context.Context, patterns []string, r *replaying) error {
	if err := r.check(); err != nil {
		return err
	}
	c, err := s.replayConfig(ctx, patterns, r)
	if err != nil {
		return err
	}
	if r.checkpoint != "" && slices.ContainsFunc(c.Paths, isCaseName) {
		return usageError("--checkpoint needs an archive that stays as it is: write one with casebook export first")
	}
	gate, err := s.gate(c, r)
	if err != nil {
		return err
	}
	if err := s.mayReport(c, r); err != nil {
		return err
	}
	if err := r.goOn(c); err != nil {
		return err
	}
	part, err := s.replayAll(ctx, c, r)
	if err != nil && ctx.Err() == nil {
		return err
	}
	if r.checkpoint != "" {
		if err := toFile(r.checkpoint, part.Write); err != nil {
			return err
		}
	}
	page, kept := &replay.Page{Part: part}, true
	if gate != nil {
		page.Conditions = c.Against.Ruleset.Policy.Gate
		page.Gate, kept = replay.CheckGate(gate, part)
	}
	if err := page.Refuse(ctx, c, gate, !part.Partial && c.Regular()); err != nil {
		return err
	}
	if err := writeOut(ctx, page, c, r); err != nil {
		return err
	}
	if err := s.tellReplay(page, &r.reports); err != nil {
		return err
	}
	switch {
	case part.Partial:
		return ctx.Err()
	case !kept:
		return errNotKept
	}
	return nil
}

// check refuses figures that mean nothing.
func (r *replaying) check() error {
	switch {
	case r.workers < 0:
		return usageError("--workers %d: give 1 or more, or leave it out for all processors", r.workers)
	case r.written < 0:
		return usageError("--written-out %d: give how many, or 0 for none", r.written)
	case !(r.moved >= 0 && r.moved <= 1): // what is no number, too
		return usageError("--moved %g: a share moves by 0 to 1", r.moved)
	case r.back && len(r.against) == 0 && !r.drafts:
		return usageError("--against-is-old says which of two rulesets is the old one: give the other with --against")
	}
	return nil
}

// mayReport sees to it that all files can be written, and overwrite nothing that is read.
func (s *session) mayReport(c *replay.Config, r *replaying) error {
	out := append(r.files(), r.checkpoint)
	if r.lists != "" {
		out = append(out, replay.ListFiles(r.lists, c.Against != nil)...)
		if err := os.MkdirAll(r.lists, 0o777); err != nil {
			return &ended{status: unusable, says: "the lists can't be written: " + err.Error()}
		}
	}
	return s.mayWrite(out, slices.Concat(c.Paths, r.against, []string{r.mapping, r.pinned})...)
}

// replayAll replays, and goes on with what an interrupted run counted before.
func (s *session) replayAll(ctx context.Context, c *replay.Config, r *replaying) (part *replay.Part, err error) {
	if r.lists != "" {
		var before *replay.Tally
		if c.Before != nil {
			before = c.Before.Tally
		}
		if c.Lists, err = replay.OpenLists(r.lists, c.Against != nil, before); err != nil {
			return nil, fmt.Errorf("the lists can't be written: %w", err)
		}
		defer func() { err = errors.Join(err, c.Lists.Close()) }()
	}
	if r.checkpoint != "" {
		c.Follow(checkpointEvery, s.now, func(p *replay.Part) error { return toFile(r.checkpoint, p.Write) })
	}
	var done func()
	c.Progress, done = s.progress(&c.Input)
	defer done()
	return replay.Run(ctx, *c)
}

// checkpointEvery is how much work a kill can cost.
const checkpointEvery = 5 * time.Second

// writeOut judges the cases that the page shows with both chains.
func writeOut(ctx context.Context, p *replay.Page, c *replay.Config, r *replaying) (err error) {
	switch {
	case r.html == "" || c.Against == nil:
	case p.Partial:
		p.Untold = "Changed cases are not shown with their chains: the replay was interrupted."
	case !c.Regular():
		p.Untold = "Changed cases are not shown with their chains: what is no file can't be read twice."
	default:
		if p.Differences, err = replay.Differences(ctx, *c, p.Tally.Lists[replay.Changed], r.written); err != nil {
			return err
		}
	}
	return nil
}

// replayConfig gathers what is replayed, by which rulesets.
func (s *session) replayConfig(ctx context.Context, patterns []string, r *replaying) (*replay.Config, error) {
	rs, err := s.ruleset(ctx)
	if err != nil {
		return nil, err
	}
	in, err := s.input(patterns, r.mapping, rs)
	if err != nil {
		return nil, err
	}
	c := &replay.Config{Input: in, Engine: engine.Prepare(rs), Workers: r.workers, Threshold: r.moved,
		Clock: r.asOf == ""}
	if c.AsOf, err = s.dateOrNow(rs, r.asOf); err != nil {
		return nil, err
	}
	if err := s.other(ctx, r, c); err != nil {
		return nil, err
	}
	if r.pinned != "" {
		if c.Against == nil {
			return nil, usageError("--pinned compares two rulesets: give the other one with --against, or --drafts")
		}
		if c.Pinned, err = readPinned(r.pinned); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// input opens archives, with the mapping of their columns to what a ruleset knows if there is one.
func (s *session) input(patterns []string, mapping string, rs *kb.Ruleset) (archive.Input, error) {
	in := archive.Input{Stdin: s.stdin, Read: new(atomic.Int64), Lines: s.lines}
	var err error
	if in.Paths, err = archive.Paths(patterns, isCaseName); err != nil {
		return in, err
	}
	if mapping != "" {
		in.Mapping, err = readMapping(mapping, rs)
	}
	return in, err
}

func readMapping(path string, rs *kb.Ruleset) (*archive.Mapping, error) {
	text, err := intake.ReadFile(path, syntax.MaxBytes)
	if err != nil {
		return nil, usageError("the mapping can't be read: %s", err)
	}
	var found diag.List
	m := archive.ReadMapping(diag.NewSource(path, text), rs.Vocabulary, &found)
	if m == nil {
		return nil, &ended{status: unusable, says: "the mapping can't be used", list: found}
	}
	return m, nil
}

// readPinned reads a case and the reason on each line, separated by a tab, else by the first space; blank lines and
// those that begin with # are passed over.
func readPinned(path string) (map[string]string, error) {
	text, err := intake.ReadFile(path, syntax.MaxBytes)
	if err != nil {
		return nil, usageError("the pinned cases can't be read: %s", err)
	}
	return pinnedCases(path, text)
}

func pinnedCases(path string, text []byte) (map[string]string, error) {
	unusableAt := func(line int, format string, args ...any) error {
		return usageError("%s:%d: %s", path, line, fmt.Sprintf(format, args...))
	}
	pinned, number := map[string]string{}, 0
	for line := range strings.Lines(strings.TrimPrefix(string(text), "\uFEFF")) {
		number++
		if !utf8.ValidString(line) {
			return nil, unusableAt(number, "the text is not valid UTF-8: save the file as UTF-8")
		}
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		id, why, tab := strings.Cut(line, "\t")
		if !tab {
			id, why, _ = strings.Cut(line, " ")
		}
		id, why = strings.TrimSpace(id), strings.TrimSpace(why)
		if why == "" {
			return nil, unusableAt(number, "the case %s is pinned without a reason", id)
		}
		if pinned[id] != "" {
			return nil, unusableAt(number, "the case %s is pinned twice", id)
		}
		pinned[id] = why
	}
	return pinned, nil
}

// gate reads the conditions of the new ruleset's policy.
func (s *session) gate(c *replay.Config, r *replaying) ([]replay.Condition, error) {
	if !r.gate {
		return nil, nil
	}
	if c.Against == nil {
		return nil, usageError("--gate compares two rulesets: give the new one with --against, or --drafts")
	}
	if len(c.Against.Ruleset.Policy.Gate) == 0 {
		return nil, &ended{status: unusable,
			says: "--gate: the new ruleset's policy has no gate, so nothing would be checked; write its conditions " +
				"under gate:"}
	}
	gate, found := replay.Gate(c.Against.Ruleset.Policy.Gate)
	if found.HasErrors() {
		return nil, &ended{status: unusable, says: "the policy's gate can't be used", list: found}
	}
	return gate, nil
}

// goOn goes on with what an interrupted run counted, if it is to be resumed and there is a checkpoint. If it is not to
// be, that must not be lost.
func (r *replaying) goOn(c *replay.Config) error {
	if !r.resume {
		return r.keepsCounted()
	}
	if r.checkpoint == "" {
		return usageError("--resume goes on from a --checkpoint: name its file")
	}
	p, err := readPart(r.checkpoint)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err == nil {
		err = p.Resume(c)
	}
	if err != nil {
		return usageError("%s: %s", r.checkpoint, plain(err))
	}
	return nil
}

// keepsCounted refuses to write over the checkpoint of an interrupted run.
func (r *replaying) keepsCounted() error {
	if info, err := os.Stat(r.checkpoint); err != nil || !info.Mode().IsRegular() {
		return nil
	}
	if p, err := readPart(r.checkpoint); err == nil && p.Partial {
		return usageError("%s is there already, and holds %s of an interrupted replay: go on from it with --resume, "+
			"or take it away", r.checkpoint, english.Count(p.Tally.Records, "record", "records"))
	}
	return nil
}

// progress shows how far the reading of archives is, with its rate and the time left, on a terminal only; elsewhere
// nobody is to be told.
func (s *session) progress(in *archive.Input) (tell func(records int64), done func()) {
	if _, is := terminalOf(s.stderr); !is {
		return nil, func() {}
	}
	size := in.Size()
	if size == 0 {
		size = -1
	}
	bar := progressbar.NewOptions64(size, progressbar.OptionSetWriter(s.stderr), progressbar.OptionSetWidth(24),
		progressbar.OptionShowBytes(true), progressbar.OptionSetPredictTime(true),
		progressbar.OptionThrottle(200*time.Millisecond), progressbar.OptionClearOnFinish())
	tell = func(records int64) {
		bar.Describe(fmt.Sprintf("%d cases", records))
		_ = bar.Set64(in.Read.Load()) // a bar that can't be drawn is no reason to stop
	}
	return tell, func() { _ = bar.Finish() }
}
