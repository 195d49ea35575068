package main

import (
	"bytes"
	"context"
	"time"

	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/proofread"
	"whystone/kb/reload"
	"whystone/kb/syntax"
)

// lookEvery is how often the case's file is looked at. It is one small file, so that it is read whenever it is looked
// at: nothing that an editor or a network drive does to it goes unseen.
const lookEvery = 200 * time.Millisecond

// following is one case that is judged again whenever its file or the ruleset changes.
type following struct {
	*session
	file   string
	asOf   string
	rules  chan [2]*reload.Snapshot[*proofread.Report]
	health chan reload.Status
	stale  bool

	rs      *kb.Ruleset      // by which the case was judged last
	judging *judging.Judging // by that ruleset
	last    terminal.Told

	text  []byte    // of the case's file, as it was judged or refused last
	seen  []byte    // something newer, not yet at rest
	since time.Time // when that was seen first; zero when there is nothing newer
	told  bool      // that it can't be read
}

// watch judges one case, and again after every change, until the context ends.
func (s *session) watch(ctx context.Context, files []string, asOf string) error {
	if len(files) != 1 || files[0] == intake.Stdin || isCaseName(files[0]) {
		return usageError("--watch follows one case file")
	}
	if layers, err := s.layers(); err == nil {
		s.tellLinks(layers)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	f := &following{session: s, file: files[0], asOf: asOf, rules: make(chan [2]*reload.Snapshot[*proofread.Report]),
		health: make(chan reload.Status)}
	l, found := reload.Start(ctx, reload.Options[*proofread.Report]{Layers: s.layers, Folders: s.config.Layers,
		Now: s.now,
		// What proofreading finds is told; it does not keep a ruleset that loads from being used.
		Prepare: func(rs *kb.Ruleset) (*proofread.Report, diag.List) {
			report, _ := proofread.Run(ctx, rs, proofread.Options{On: s.now()}) // it fails only when following ends
			return report, nil
		},
		OnChange: func(old, new *reload.Snapshot[*proofread.Report]) {
			send(ctx, f.rules, [2]*reload.Snapshot[*proofread.Report]{old, new})
		},
		OnStatus: func(st reload.Status) { send(ctx, f.health, st) }})
	if l == nil {
		return s.noRuleset(found)
	}
	defer func() {
		cancel() // first, so that nobody waits to be heard
		_ = l.Close()
	}()
	f.rs = l.Current().Ruleset
	if err := f.first(); err != nil {
		return err
	}
	return f.follow(ctx)
}

// send hands something on, unless the context ends before it is taken.
func send[T any](ctx context.Context, to chan<- T, x T) {
	select {
	case to <- x:
	case <-ctx.Done():
	}
}

// first judges the case as it stands; one that can't be read ends it.
func (f *following) first() error {
	text, err := intake.ReadFile(f.file, syntax.MaxBytes)
	if err != nil {
		return usageError("the case can't be read: %s", err)
	}
	c, found := f.read(text)
	if c == nil {
		return &ended{status: unusable, says: "the case can't be read", list: found}
	}
	f.text = text
	if f.last, err = f.judge(c); err != nil {
		return err
	}
	return f.tellAll()
}

// read reads the one case of the file.
func (f *following) read(text []byte) (*casefile.Case, diag.List) {
	var cases []*casefile.Case
	var found diag.List
	for it := range intake.Read(bytes.NewReader(text), f.file, eval.CaseReader(f.rs)) {
		cases = append(cases, it.Case)
		found = append(found, it.Found...)
	}
	if len(cases) > 1 {
		found.Errorf(diag.NotAllowed, diag.Span{}, "%s holds %d cases; --watch follows one", f.file, len(cases))
	}
	if found.HasErrors() || len(cases) != 1 {
		return nil, found
	}
	return cases[0], found
}

// judge judges the case by the ruleset that is followed.
func (f *following) judge(c *casefile.Case) (terminal.Told, error) {
	// else the rulesets of the drafts would be built anew for each edit of the case
	if f.judging == nil || f.judging.Ruleset != f.rs {
		j, err := f.judgingBy(f.rs, f.asOf)
		if err != nil {
			return terminal.Told{}, err
		}
		f.judging = j
	}
	return f.judging.Of(c), nil
}
