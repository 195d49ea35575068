package replay

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"whystone/engine/archive"
	"whystone/kb/diag"
)

// TestCheckpointGoesOn kills a run after its first checkpoint, reads that from disk, and compares with a run in one go.
func TestCheckpointGoesOn(t *testing.T) {
	e := loaded(t, nil)
	c := Config{Engine: e, Input: archive.Input{Paths: []string{sample(t, e, 1600, 7)}}, AsOf: asOf, Workers: 2}
	whole, err := Run(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	want := text(t, NewPart(&c, whole, false))

	file := filepath.Join(t.TempDir(), "checkpoint.json")
	ctx, cancel := context.WithCancel(context.Background())
	first := c
	first.Follow(file, 0, time.Now, nil)
	save := first.Save
	first.Save = func(t *Tally) error {
		err := save(t)
		cancel()
		return err
	}
	partial, err := Run(ctx, first)
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("err %v", err)
	}
	if partial.Records == 0 {
		t.Error("the partial report is empty")
	}
	p, err := LoadPart(file)
	if err != nil {
		t.Fatal(err)
	}
	if !p.Partial || !strings.Contains(p.Summary(), "interrupted") {
		t.Error("the checkpoint does not say that it is partial")
	}
	second := c
	if err := p.Resume(&second); err != nil {
		t.Fatal(err)
	}
	rest, err := Run(context.Background(), second)
	if err != nil {
		t.Fatal(err)
	}
	p.Tally.Add(rest)
	if got := text(t, NewPart(&c, p.Tally, false)); !bytes.Equal(got, want) {
		t.Error("resumed it gives other bytes")
	}

	other := c
	other.Threshold = 0.5
	if err := p.Resume(&other); err == nil {
		t.Error("a checkpoint of another replay was taken")
	}
}

// TestCheckpointOfAnotherArchive: one of the same name and size is another if it begins or ends in another way.
func TestCheckpointOfAnotherArchive(t *testing.T) {
	e := loaded(t, nil)
	path := filepath.Join(t.TempDir(), "a.jsonl")
	put := func(text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	c := Config{Engine: e, Input: archive.Input{Paths: []string{path}}, AsOf: asOf}
	middle := strings.Repeat(" ", 200<<10)
	put("{\"case\":\"1\"}" + middle + "{\"case\":\"2\"}")
	p := NewPart(&c, newTally(false), true)
	if err := p.Resume(&c); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"{\"case\":\"3\"}" + middle + "{\"case\":\"2\"}", "{\"case\":\"1\"}" + middle + "{\"case\":\"3\"}"} {
		put(text)
		if err := p.Resume(&c); err == nil {
			t.Error("a checkpoint of another archive was taken")
		}
	}
	if err := os.Remove(path); err != nil || p.Resume(&c) == nil {
		t.Errorf("a checkpoint of an archive that is gone was taken; %v", err)
	}
}

// TestMergedParts: two archives replayed apart and merged are both replayed together.
func TestMergedParts(t *testing.T) {
	e, other := loaded(t, nil), loaded(t, lessSure)
	a, b := sample(t, e, 700, 8), sample(t, e, 500, 9)
	part := func(paths ...string) *Part {
		c := Config{Engine: e, Against: other, Input: archive.Input{Paths: paths}, AsOf: asOf, Threshold: 0.01}
		tally, err := Run(context.Background(), c)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := json.Marshal(NewPart(&c, tally, false))
		if err != nil {
			t.Fatal(err)
		}
		p, err := ReadPart(raw)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	merged, err := Merge([]*Part{part(a), part(b)})
	if err != nil {
		t.Fatal(err)
	}
	whole := part(a, b)
	if !bytes.Equal(text(t, merged.Tally), text(t, whole.Tally)) {
		t.Error("merged parts give other bytes")
	}
	stranger := part(a)
	stranger.Against = "sha256:other"
	if _, err := Merge([]*Part{part(b), stranger}); err == nil {
		t.Error("unlike rulesets were merged")
	}
	if _, err := Merge(nil); err == nil {
		t.Error("nothing was merged")
	}
}

func TestPartsThatCantBeRead(t *testing.T) {
	for _, raw := range []string{"", "{}", `{"format":2,"kind":"replay","tally":{}}`, `{"format":1,"kind":"other","tally":{}}`} {
		if _, err := ReadPart([]byte(raw)); err == nil {
			t.Errorf("%q was read", raw)
		}
	}
	if err := (&Part{Tally: newTally(false)}).Save(filepath.Join(t.TempDir(), "none", "x")); err == nil {
		t.Error("saved into a folder that isn't there")
	}
	dir := t.TempDir()
	if err := (&Part{Tally: newTally(false)}).Save(filepath.Join(dir, "x")); err != nil {
		t.Error(err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestGate(t *testing.T) {
	tally := newTally(true)
	tally.Judged = 200
	tally.Pair.Changed, tally.Pair.RightToWrong = 3, 1
	tally.Pair.Answers = map[string]map[string]int64{"open": {"open": 40, "falls": 2}, "falls": {"open": 6, "falls": 52}, "no claim": {"no claim": 100}}
	tally.Pinned = map[string]*Pin{"P-1": {Seen: 1, Changed: 1}, "P-2": {Seen: 1}}
	for text, want := range map[string]bool{
		"no new false acceptance": true, "no pinned case changed": false, "nothing not replayable": true,
		"open rate may rise by at most 4 percentage points": true, "open rate may rise by at most 3.9 percentage points": false,
		"at most 1 right to wrong": true, "At most 0  right to wrong": false, "at most 1.5 percent changed": true, "at most 1.4 percent changed": false,
	} {
		var l diag.List
		gate := Gate([]string{text}, &l)
		if len(gate) != 1 {
			t.Errorf("%q: %v", text, l)
			continue
		}
		if ok, says := gate[0].Check(tally); ok != want {
			t.Errorf("%q: %v (%s)", text, ok, says)
		}
	}
	var l diag.List
	if gate := Gate([]string{"no new false acceptence"}, &l); len(gate) != 0 || !l.HasErrors() || l[0].Nearest != "no new false acceptance" {
		t.Errorf("%v, %v", gate, l)
	}
}

func TestComparisonSaysWhenThereAreTooFew(t *testing.T) {
	if s := (&Pair{RightToWrong: 1, WrongToRight: 4}).Comparison(); !strings.Contains(s, "too few to tell") {
		t.Error(s)
	}
	if s := (&Pair{RightToWrong: 1, WrongToRight: 7}).Comparison(); strings.Contains(s, "too few") || !strings.Contains(s, "0.0391") {
		t.Error(s)
	}
	if s := (&Pair{}).Comparison(); !strings.Contains(s, "no case") {
		t.Error(s)
	}
}

func TestHashesAddUpInAnyOrder(t *testing.T) {
	var a, b List
	for i, s := range []string{"x", "y", "z"} {
		a.add(Entry{Number: int64(i), Case: s})
	}
	for i, s := range []string{"z", "x", "y"} {
		b.add(Entry{Number: int64(i), Case: s})
	}
	if a.Hash != b.Hash || a.Hash == "" {
		t.Errorf("%s, %s", a.Hash, b.Hash)
	}
}
