package reload

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"hash"
	"runtime/debug"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/load"
)

// reading is all files of the stack as they were read at one time, or what kept them from being read.
type reading struct {
	at    time.Time // when it was complete
	files []kb.File
	out   diag.List
	sum   string          // equal for equal layers, paths and bytes, or equal failures
	empty map[string]bool // files without a byte, by layer and path
}

// read reads all files.
func (l *Live[T]) read(ctx context.Context) *reading {
	r := &reading{empty: map[string]bool{}}
	l.guard(&r.out, func() {
		layers, err := l.o.Layers()
		if err != nil {
			r.out.Errorf(diag.FileUnreadable, diag.Span{}, "the ruleset's layers can't be found: %s", err)
			return
		}
		r.files = load.ReadFiles(ctx, layers, &r.out)
	})
	r.at = time.Now()
	h := sha256.New()
	for _, f := range r.files {
		add(h, f.Layer, f.Path, string(f.Source.Text))
		if len(f.Source.Text) == 0 {
			r.empty[f.Source.Name] = true
		}
	}
	for _, d := range r.out {
		add(h, d.Error())
	}
	r.sum = string(h.Sum(nil))
	return r
}

// add hashes texts so that no two different lists of them give the same bytes.
func add(h hash.Hash, texts ...string) {
	for _, t := range texts {
		h.Write(binary.BigEndian.AppendUint64(nil, uint64(len(t))))
		h.Write([]byte(t))
	}
}

func (r *reading) unreadable() bool { return r.out.HasErrors() }

// emptied tells whether a file is empty that wasn't in an earlier reading.
func (r *reading) emptied(earlier *reading) bool {
	for name := range r.empty {
		if !earlier.empty[name] {
			return true
		}
	}
	return false
}

// refuseEmptied refuses files that hold nothing and held something in the ruleset that runs: nobody empties a file to
// take its sheets away, and a save that broke off does.
func (r *reading) refuseEmptied(good *reading) {
	for _, f := range r.files {
		if !blank(f) {
			continue
		}
		if i := slices.IndexFunc(good.files, func(o kb.File) bool { return o.Source.Name == f.Source.Name }); i >= 0 &&
			!blank(good.files[i]) {
			r.out.Errorf(diag.EmptyFile, diag.Span{Source: f.Source},
				"the file holds nothing, and held sheets until now").
				Detail = "Save it whole. If its sheets are to go, take the file away."
		}
	}
}

func blank(f kb.File) bool { return len(bytes.TrimSpace(f.Source.Text)) == 0 }

// gone warns of files that are there no more, where something that they said stands nowhere else.
func gone(good, r *reading, before, after *kb.Ruleset) (out diag.List) {
	for _, f := range good.files {
		if slices.ContainsFunc(r.files, func(o kb.File) bool { return o.Source.Name == f.Source.Name }) {
			continue
		}
		var lost []string
		for _, s := range before.Sheets {
			same := func(o kb.Sheet) bool {
				return o.Kind == s.Kind && o.ID == s.ID && o.Layer == s.Layer && o.Retires == s.Retires
			}
			if s.Span.Source == f.Source && !slices.ContainsFunc(after.Sheets, same) {
				lost = append(lost, string(s.Kind)+" "+s.ID)
			}
		}
		if len(lost) > 0 {
			out.Warnf(diag.GoneFile, diag.Span{}, "the file %s is gone, and with it %s", f.Source.Name,
				english.List(english.Few(lost, 5), "and")).
				Detail = "If that is not meant, put it back."
		}
	}
	return out
}

// build makes a snapshot of a reading, without a number yet. With an error in the list there is none.
func (l *Live[T]) build(r *reading) (*Snapshot[T], diag.List) {
	out := slices.Clone(r.out)
	if out.HasErrors() {
		return nil, out
	}
	s := &Snapshot[T]{}
	l.guard(&out, func() {
		rs, found := load.Build(r.files)
		out = append(out, found...)
		if out.HasErrors() {
			return
		}
		prepared, found := l.o.Prepare(rs)
		out = append(out, found...)
		s.Ruleset, s.Prepared = rs, prepared
	})
	out.Sort()
	s.Loaded, s.Findings = l.o.Now(), out
	return s, out
}

// guard keeps a fault of the program, met while loading, from taking down whoever judges by the last good ruleset.
func (l *Live[T]) guard(out *diag.List, do func()) {
	defer func() {
		if fault := recover(); fault != nil {
			l.o.Log.Error("internal fault while loading a ruleset", "fault", fault, "stack", string(debug.Stack()))
			out.Errorf("", diag.Span{}, "the program met a fault of its own while loading these files: %v", fault)
		}
	}()
	do()
}

// load builds a reading and swaps the result in, or tells why the last good one goes on.
func (l *Live[T]) load(r *reading) {
	old := l.state.Load()
	r.refuseEmptied(l.turn.good)
	next, out := l.build(r)
	if out.HasErrors() {
		l.failed(old, out)
		return
	}
	next.Seq = old.snapshot.Seq + 1
	next.Findings = append(gone(l.turn.good, r, old.snapshot.Ruleset, next.Ruleset), next.Findings...)
	next.Findings.Sort()
	status := fresh(next)
	l.turn.running, l.turn.good = r.sum, r
	l.state.Store(&state[T]{next, status})
	l.o.Log.Info("ruleset loaded", "seq", next.Seq, "digest", next.Ruleset.Digest, "same_digest",
		next.Ruleset.Digest == old.snapshot.Ruleset.Digest)
	l.o.OnChange(old.snapshot, next)
	l.o.OnStatus(status)
}

// mostLogged bounds how many findings of one load go to the log.
const mostLogged = 20

// failed keeps the last good snapshot and says why. A failure that follows another began with the first.
func (l *Live[T]) failed(old *state[T], out diag.List) {
	status := old.status
	if !status.Stale {
		status.Stale, status.Since = true, l.o.Now()
	}
	status.Why = out
	l.state.Store(&state[T]{old.snapshot, status})
	l.o.Log.Error("the ruleset on disk can't be used; the last good one goes on", "seq", status.Seq, "digest",
		status.Digest, "since", status.Since, "findings", len(out))
	for _, d := range out[:min(len(out), mostLogged)] {
		l.o.Log.Error("ruleset finding", "at", d.Span.String(), "code", d.Code, "finding", d.Error())
	}
	l.o.OnStatus(status)
}

// mended ends a stale state when the files are again what runs.
func (l *Live[T]) mended() {
	old := l.state.Load()
	if !old.status.Stale {
		return
	}
	status := fresh(old.snapshot)
	l.state.Store(&state[T]{old.snapshot, status})
	l.o.Log.Info("the ruleset on disk is again what runs", "seq", status.Seq, "digest", status.Digest)
	l.o.OnStatus(status)
}
