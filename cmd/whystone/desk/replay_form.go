package desk

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"path"
	"runtime"
	"strings"
	"sync/atomic"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/judging"
	"whystone/engine"
	"whystone/engine/replay"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/load"
)

// replayForm is what somebody sends to have cases judged again.
type replayForm struct {
	Query   string // which cases of the casebook
	Against string // which ruleset is compared: a digest, "drafts" or "draft:" and a rule; empty: none
	Case    string // or that by which the verdict on this case was issued
	File    string // the name of an archive that is sent
	text    []byte
}

// mostArchive bounds an archive that is sent; it is held in memory for as long as its replay is at work.
const mostArchive = 64 << 20

// replayWorkers is how many processors judge: one is left for those who work at the desk.
func replayWorkers() int { return max(1, runtime.GOMAXPROCS(0)-1) }

// replayForm reads the form.
func (a *asked) replayForm() (*replayForm, error) {
	text := func(key string) string { return strings.TrimSpace(a.PostFormValue(key)) }
	f := &replayForm{Query: text("q"), Against: text("against"), Case: text("case")}
	file, head, err := a.FormFile("archive")
	switch {
	case errors.Is(err, http.ErrMissingFile), errors.Is(err, http.ErrNotMultipart), err == nil && head.Filename == "":
		return f, nil
	case err != nil:
		return nil, err
	}
	defer func() { _ = file.Close() }() // only read from
	f.File = path.Base(strings.ReplaceAll(head.Filename, `\`, "/"))
	f.text, err = io.ReadAll(file)
	return f, err
}

// isProblem tells what is wrong with what somebody sent, if that is what an error says.
func isProblem(err error) (says string, is bool) {
	if bad, ok := errors.AsType[*problem](err); ok {
		return strings.Join(append([]string{bad.Says}, bad.More...), " "), true
	}
	return "", false
}

// replayOf makes a replay of what was sent.
func (a *asked) replayOf(f *replayForm) (*replaying, error) {
	d, now := a.desk, a.desk.now()
	r := &replaying{By: a.who.Name, Begun: d.Now(), Workers: replayWorkers()}
	r.config = replay.Config{Engine: now.Prepared.first.Engine, Workers: r.Workers, Threshold: replay.MovedBy,
		AsOf: d.Now().In(now.Ruleset.Policy.Zone), Clock: true}
	err := a.compare(r, f, now)
	switch {
	case err != nil:
		return nil, err
	case f.File != "":
		err = r.ofArchive(f)
	default:
		err = r.ofBook(a, f.Query)
	}
	return r, err
}

// ofBook has cases of the casebook judged again.
func (r *replaying) ofBook(a *asked, query string) error {
	parts := joined(strings.Fields(query))
	q, err := judging.Query(parts, func() (*kb.Ruleset, error) { return a.ruleset(), nil })
	if err != nil {
		return wrong("%s.", err)
	}
	total := 0
	if err := a.desk.Book.Read(a.Context(), func(v casebook.View) error {
		for _, err := range v.Find(q.Terms) {
			if err != nil {
				return err
			}
			total++
		}
		return nil
	}); err != nil {
		return err
	}
	if total == 0 {
		return wrong("No case is found, so there is nothing to judge.")
	}
	r.Of, r.Kept = "all cases of the casebook", true
	if q.Says != "" {
		r.Of = "cases of the casebook: " + q.Says
	}
	book := a.desk.Book
	r.done = func(cases int64) float64 { return float64(cases) / float64(total) }
	r.config.Paths = []string{judging.CasePrefix + "?" + strings.Join(parts, "&")}
	r.config.Lines = func(ctx context.Context, _ string) (io.ReadCloser, bool) {
		return judging.Lines(func(do func(*casebook.State) error) error {
			return book.Read(ctx, func(v casebook.View) error { return judging.Each(ctx, v, q, do) })
		}), true
	}
	return nil
}

// ofArchive has the cases of an archive judged again.
func (r *replaying) ofArchive(f *replayForm) error {
	kind := strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(f.File), ".gz"), ".zst")
	if !strings.HasSuffix(kind, ".jsonl") && !strings.HasSuffix(kind, ".csv") {
		return wrong("%s is no archive that can be sent: its name ends in .jsonl or .csv, perhaps with .gz or .zst. "+
			"whystone replay reads Parquet and larger files.", f.File)
	}
	var read atomic.Int64
	r.Of = "the archive " + f.File
	r.done = func(int64) float64 { return float64(read.Load()) / float64(max(len(f.text), 1)) }
	r.config.Paths = []string{f.File}
	r.config.Lines = func(context.Context, string) (io.ReadCloser, bool) {
		return io.NopCloser(&counted{bytes.NewReader(f.text), &read}), true
	}
	return nil
}

// counted counts what is read.
type counted struct {
	io.Reader
	n *atomic.Int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.n.Add(int64(n))
	return n, err
}

// compare finds the two rulesets that are compared, if two are: the older first.
func (a *asked) compare(r *replaying, f *replayForm, now *snapshot) error {
	live := now.Prepared.first.Engine
	draft, one := strings.CutPrefix(f.Against, "draft:")
	switch {
	case f.Against == "drafts" || one:
		var ids []string
		if one {
			ids = []string{draft}
		}
		active, list := load.WithDrafts(now.Ruleset, ids...)
		if active == nil || active == now.Ruleset {
			return unfit("The draft can't be made active.", list)
		}
		if !one {
			ids = english.Each(now.Ruleset.Drafts(), func(d *kb.Rule) string { return d.ID })
		}
		r.config.Against, r.config.Drafts = engine.Prepare(active), ids
		r.With = "the rules of now, before; the same with " + strings.Join(ids, ", ") + " active, after"
	case f.Against != "" || f.Case != "":
		old, says, err := a.rulesOf(f)
		if err != nil {
			return err
		}
		if old.Ruleset.Digest == now.Ruleset.Digest {
			return wrong("That is the ruleset of now, so there is nothing to compare.")
		}
		r.config.Engine, r.config.Against = old, live
		r.With = says + ", before; the rules of now, " + kb.ShortDigest(now.Ruleset.Digest) + ", after"
	default:
		return nil
	}
	var list diag.List
	if r.gate, list = replay.Gate(r.config.Against.Ruleset.Policy.Gate); list.HasErrors() {
		return unfit("The policy's gate can't be used.", list)
	}
	return nil
}
