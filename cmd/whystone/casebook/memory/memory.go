// Package memory keeps a casebook in memory. It is the twin of the store that keeps one in a file: it passes the same
// suite, in the plainest way.
package memory

import (
	"bytes"
	"cmp"
	"context"
	"iter"
	"maps"
	"slices"
	"sync"

	"whystone/cmd/whystone/casebook"
)

// Store is a casebook in memory.
type Store struct {
	mu sync.RWMutex
	at content
}

// content is all that is kept. A write makes another, so that one that fails leaves nothing behind.
type content struct {
	records     []casebook.Record
	particulars map[string]casebook.Particular
	blobs       map[string][]byte
	entries     map[int64]casebook.Entry
	terms       map[string]map[int64]bool
}

// New makes an empty one.
func New() *Store {
	return &Store{at: content{particulars: map[string]casebook.Particular{}, blobs: map[string][]byte{},
		entries: map[int64]casebook.Entry{}, terms: map[string]map[int64]bool{}}}
}

// Close does nothing.
func (s *Store) Close() error { return nil }

// Read implements casebook.Store.
func (s *Store) Read(ctx context.Context, do func(casebook.View) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	s.mu.RLock()
	c := s.at.clone()
	s.mu.RUnlock()
	return do(&view{c})
}

// Write implements casebook.Store.
func (s *Store) Write(ctx context.Context, do func(casebook.Tx) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	v := &view{s.at.clone()}
	if err := do(v); err != nil {
		return err
	}
	s.at = v.content
	return nil
}

func (c content) clone() content {
	out := content{records: slices.Clip(c.records), particulars: maps.Clone(c.particulars), blobs: maps.Clone(c.blobs),
		entries: maps.Clone(c.entries), terms: map[string]map[int64]bool{}}
	for t, cases := range c.terms {
		out.terms[t] = maps.Clone(cases)
	}
	return out
}

type view struct{ content }

func (v *view) Head() (casebook.Head, error) {
	if len(v.records) == 0 {
		return casebook.Head{}, nil
	}
	last := v.records[len(v.records)-1]
	return casebook.Head{Seq: last.Seq, Hash: last.Hash}, nil
}

func (v *view) CaseHead(number string) (casebook.Head, error) {
	for _, r := range slices.Backward(v.records) {
		if r.Case == number {
			return casebook.Head{Seq: r.Seq, Hash: r.Hash}, nil
		}
	}
	return casebook.Head{}, nil
}

func (v *view) Events(from int64) iter.Seq2[casebook.Record, error] {
	return func(yield func(casebook.Record, error) bool) {
		for _, r := range v.records {
			if r.Seq >= from && !yield(r, nil) {
				return
			}
		}
	}
}

func (v *view) Case(number string) ([]casebook.Record, error) {
	var out []casebook.Record
	for _, r := range v.records {
		if r.Case == number {
			out = append(out, r)
		}
	}
	return out, nil
}

func (v *view) Particular(id string) (*casebook.Particular, error) {
	if p, ok := v.particulars[id]; ok {
		return &p, nil
	}
	return nil, nil
}

func (v *view) Particulars(number string) ([]casebook.Particular, error) {
	var out []casebook.Particular
	for _, id := range slices.Sorted(maps.Keys(v.particulars)) {
		if p := v.particulars[id]; p.Case == number {
			out = append(out, p)
		}
	}
	return out, nil
}

func (v *view) ParticularIDs() ([]string, error) { return slices.Sorted(maps.Keys(v.particulars)), nil }

func (v *view) Blob(hash string) ([]byte, error) { return bytes.Clone(v.blobs[hash]), nil }

func (v *view) Blobs() ([]string, error) { return slices.Sorted(maps.Keys(v.blobs)), nil }

func (v *view) Find(q casebook.Terms) iter.Seq2[casebook.Entry, error] {
	var hits []casebook.Entry
	for opened, e := range v.entries {
		if !slices.ContainsFunc(q.All, func(t string) bool { return !v.terms[t][opened] }) && e.Day >= q.From &&
			(q.To == "" || e.Day <= q.To) {
			hits = append(hits, e)
		}
	}
	slices.SortFunc(hits, func(a, b casebook.Entry) int { return cmp.Compare(b.Opened, a.Opened) })
	return func(yield func(casebook.Entry, error) bool) {
		for _, e := range hits {
			if !yield(e, nil) {
				return
			}
		}
	}
}

func (v *view) Last(year int) (int, error) {
	var last casebook.Entry
	for _, e := range v.entries {
		if e.Year == year && e.Opened > last.Opened {
			last = e
		}
	}
	return last.Running, nil
}

func (v *view) Index() iter.Seq2[casebook.Indexed, error] {
	return func(yield func(casebook.Indexed, error) bool) {
		for _, opened := range slices.Sorted(maps.Keys(v.entries)) {
			if !yield(casebook.Indexed{Entry: v.entries[opened]}, nil) {
				return
			}
		}
		for t, cases := range v.terms {
			for opened := range cases {
				if !yield(casebook.Indexed{Term: t, Entry: casebook.Entry{Opened: opened}}, nil) {
					return
				}
			}
		}
	}
}

func (v *view) Put(c casebook.Change) error {
	v.records = append(v.records, c.Records...)
	for _, p := range c.Particulars {
		v.particulars[p.ID] = p
	}
	for _, id := range c.Erase {
		delete(v.particulars, id)
	}
	for _, b := range c.Blobs {
		v.blobs[casebook.Hash(b)] = bytes.Clone(b)
	}
	if c.Reindex {
		v.entries, v.terms = map[int64]casebook.Entry{}, map[string]map[int64]bool{}
	}
	for _, ix := range c.Index {
		v.entries[ix.Opened] = ix.Entry
		for _, t := range ix.Drop {
			delete(v.terms[t], ix.Opened)
		}
		for _, t := range ix.Add {
			if v.terms[t] == nil {
				v.terms[t] = map[int64]bool{}
			}
			v.terms[t][ix.Opened] = true
		}
	}
	return nil
}
