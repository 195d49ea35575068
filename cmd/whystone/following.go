package main

import (
	"bytes"
	"context"
	"slices"
	"time"

	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/diff"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/proofread"
	"whystone/kb/reload"
	"whystone/kb/syntax"
)

// follow waits for changes.
func (f *following) follow(ctx context.Context) error {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return ctx.Err()
		case pair := <-f.rules:
			err = f.rulesChanged(pair[0], pair[1])
		case st := <-f.health:
			err = f.healthChanged(st)
		case <-tick.C:
			err = f.look(time.Now())
		}
		if err != nil {
			return err
		}
	}
}

// rulesChanged judges the case by the new ruleset. The case is read anew, because the vocabulary may have changed.
func (f *following) rulesChanged(before, after *reload.Snapshot[*proofread.Report]) error {
	was, is := before.Ruleset, after.Ruleset
	f.rs = is
	says, what := "Files changed, and what they say did not: the ruleset is "+kb.ShortDigest(is.Digest)+" still.",
		[]string(nil)
	if was.Digest != is.Digest {
		says = "The ruleset changed: " + kb.ShortDigest(was.Digest) + " became " + kb.ShortDigest(is.Digest) + "."
		what = judging.Foremost(is, diff.Rulesets(was, is))
	}
	if err := f.note(says, what...); err != nil {
		return err
	}
	if found := standing(after).Beyond(standing(before)); len(found) > 0 {
		if err := f.broken("Proofreading finds something new. The ruleset is used nevertheless.", found); err != nil {
			return err
		}
	}
	c, found := f.read(f.text)
	if c == nil {
		return f.broken("The case can't be read by the new ruleset; its last verdict stays.", found)
	}
	return f.again(c)
}

// standing lists the errors and warnings of a snapshot that nobody accepted.
func standing(s *reload.Snapshot[*proofread.Report]) diag.List {
	out := slices.Clone(s.Findings)
	if s.Prepared == nil {
		return out // following has ended
	}
	open := english.Each(s.Prepared.Open(false), func(f proofread.Finding) diag.Diagnostic { return f.Diagnostic })
	return append(out, open...)
}

// caseChanges says in what the case differs: "ri: 1.54 became above 1.81".
func caseChanges(was, is *casefile.Case) []string {
	var out []string
	for _, r := range diff.Cases(was, is) {
		switch {
		case r.Was == "":
			out = append(out, r.Name+": "+r.Is+", new")
		case r.Is == "":
			out = append(out, r.Name+": "+r.Was+", gone")
		default:
			out = append(out, r.Name+": "+r.Was+" became "+r.Is)
		}
	}
	if len(out) == 0 {
		return []string{"the readings and the claim are the same"}
	}
	return out
}

// healthChanged tells of a ruleset on disk that can't be used, and of its mending.
func (f *following) healthChanged(st reload.Status) error {
	was := f.stale
	f.stale = st.Stale
	switch {
	case st.Stale:
		return f.broken("The ruleset on disk can't be used. The last good one, "+kb.ShortDigest(st.Digest)+
			", goes on; so it is since "+f.clock(st.Since)+".", st.Why)
	case was && st.Digest == f.rs.Digest:
		return f.note("The ruleset on disk can be used again.")
	}
	return nil
}

// How long a file must stay the same before it counts: a save may pass through a file that is half written, and for
// longer through one that is empty or not there.
const (
	rest      = 300 * time.Millisecond
	emptyRest = 2 * time.Second
)

// look reads the case's file, and judges it when what is new has come to rest.
func (f *following) look(at time.Time) error {
	text, err := intake.ReadFile(f.file, syntax.MaxBytes)
	switch {
	case err == nil && bytes.Equal(text, f.text):
		f.seen, f.since, f.told = nil, time.Time{}, false
		return nil
	case f.since.IsZero() || !bytes.Equal(text, f.seen):
		f.seen, f.since, f.told = text, at, false
	}
	need := rest
	if len(text) == 0 {
		need = emptyRest
	}
	if f.told || at.Sub(f.since) < need {
		return nil
	}
	f.told = true
	if err != nil {
		return f.note("The case can't be read; its last verdict stays.", err.Error())
	}
	f.text = text
	c, found := f.read(text)
	if c == nil {
		return f.broken("The case can't be read; its last verdict stays.", found)
	}
	if err := f.note("The case changed.", caseChanges(f.last.Case, c)...); err != nil {
		return err
	}
	return f.again(c)
}

// again judges the case, and tells what became of the verdict.
func (f *following) again(c *casefile.Case) error {
	before := f.last
	var err error
	if f.last, err = f.judge(c); err != nil {
		return err
	}
	if f.json() {
		return f.tellAll()
	}
	f.out.Change(before, f.last)
	f.out.Blank()
	if diff.SameOutput(before.Output, f.last.Output) {
		return write(f.out)
	}
	return f.tellAll()
}

// tellAll writes the verdict whole.
func (f *following) tellAll() error {
	return f.tell(f.last.Output, func() {
		f.out.Verdict(f.last)
		f.out.Blank()
		f.out.Closing(f.rs)
		f.out.Blank()
	})
}

// notes go beside the verdicts: with them as text, to standard error when they are JSON.
func (f *following) notes() *terminal.Printer {
	if f.json() {
		return f.err
	}
	return f.out
}

func (f *following) clock(t time.Time) string { return t.In(f.rs.Policy.Zone).Format(time.TimeOnly) }

func (f *following) note(says string, details ...string) error {
	f.notes().Event(f.clock(f.now()), says, details...)
	return write(f.notes())
}

func (f *following) broken(says string, found diag.List) error {
	f.notes().Event(f.clock(f.now()), says)
	f.notes().Diagnostics(found)
	f.notes().Blank()
	return write(f.notes())
}
