package replay

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine/archive"
)

func folder(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(filepath.Join(dir, p))
		out[p] = string(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestListsAreWhole: every list has as many lines as the tally counts, beyond its sample too; more workers, and a run
// that was killed after a checkpoint and goes on, write the same bytes.
func TestListsAreWhole(t *testing.T) {
	e, other := loaded(t, nil), loaded(t, lessSure)
	path := withNonsense(t, sample(t, e, 1500, 3))
	base := Config{Engine: e, Against: other, Input: archive.Input{Paths: []string{path}}, AsOf: asOf, Threshold: 0.01}
	whole := func(workers int) (string, *Tally) {
		dir, c := t.TempDir(), base
		c.Workers = workers
		lists, err := OpenLists(dir, true, nil)
		if err != nil {
			t.Fatal(err)
		}
		c.Lists = lists
		p, err := Run(context.Background(), c)
		if err := errors.Join(err, lists.Close()); err != nil {
			t.Fatal(err)
		}
		return dir, p.Tally
	}
	dir, tally := whole(1)
	want := folder(t, dir)
	if len(want) != len(singleLists)+len(pairLists) {
		t.Errorf("%d files", len(want))
	}
	for name, l := range tally.Lists {
		lines := strings.Split(strings.TrimSuffix(want[ListFile(name)], "\n"), "\n")
		if int64(len(lines)) != l.Count {
			t.Errorf("%s: %d lines, %d counted", name, len(lines), l.Count)
		}
		last := int64(0)
		for _, line := range lines {
			var x Line
			if err := json.Unmarshal([]byte(line), &x); err != nil {
				t.Fatal(err)
			}
			if x.Number <= last {
				t.Errorf("%s: record %d after %d", name, x.Number, last)
			}
			if last = x.Number; name == NotReplayable {
				if x.Text != "nonsense" || x.Says == "" {
					t.Errorf("%s: %s", name, line)
				}
				continue
			}
			if len(x.Record) == 0 || !bytes.Contains(x.Record, []byte(`"case":"`+x.Case+`"`)) {
				t.Errorf("%s: the record of %s is %s", name, x.Case, x.Record)
			}
		}
	}
	if tally.listed(Changed) < 20 || tally.listed(NotReplayable) <= sampleSize {
		t.Fatal("the lists are too short for this test")
	}
	four, _ := whole(4)
	if !equal(folder(t, four), want) {
		t.Error("four workers write other bytes")
	}

	// Killed: after the checkpoint more was written, which must not stay.
	killed := t.TempDir()
	lists, err := OpenLists(killed, true, nil)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	first := base
	first.Lists = lists
	var kept bytes.Buffer
	first.Follow(0, time.Now, func(p *Part) error {
		if kept.Len() > 0 {
			cancel()
			return nil
		}
		return p.Write(&kept)
	})
	if _, err := Run(ctx, first); !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	for _, f := range lists.files { // a kill flushes nothing, and what was written after the checkpoint stays
		if _, err := f.WriteString("half a li"); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	p, err := ReadPart(kept.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	second := base
	if err := p.Resume(&second); err != nil {
		t.Fatal(err)
	}
	if second.Lists, err = OpenLists(killed, true, p.Tally); err != nil {
		t.Fatal(err)
	}
	if _, err := Run(context.Background(), second); err != nil {
		t.Fatal(err)
	}
	if err := second.Lists.Close(); err != nil {
		t.Fatal(err)
	}
	if !equal(folder(t, killed), want) {
		t.Error("resumed it writes other bytes")
	}
}

// withNonsense puts a line that is no case after every fifth.
func withNonsense(t *testing.T, path string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	for i, line := range bytes.SplitAfter(raw, []byte("\n")) {
		b.Write(line)
		if i%5 == 4 {
			b.WriteString("nonsense\n")
		}
	}
	path = filepath.Join(t.TempDir(), "mixed.jsonl")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func equal(a, b map[string]string) bool {
	for k := range a {
		if a[k] != b[k] {
			return false
		}
	}
	return len(a) == len(b)
}

// TestCheckpointThatCantBeSaved: it is an error, not an interrupted run, and nobody waits for ever.
func TestCheckpointThatCantBeSaved(t *testing.T) {
	e := loaded(t, nil)
	full := errors.New("the disk is full")
	c := Config{Engine: e, Input: archive.Input{Paths: []string{sample(t, e, 6000, 4)}}, AsOf: asOf, Workers: 2,
		Save: func(*Part) error { return full }}
	p, err := Run(context.Background(), c)
	if !errors.Is(err, full) || errors.Is(err, context.Canceled) {
		t.Errorf("err %v", err)
	}
	if p.Tally.Records == 0 || p.Tally.Records > chunkSize {
		t.Errorf("%d records counted after the error", p.Tally.Records)
	}
}

// TestFaultIsTold: a mistake of the program in a worker ends neither the program nor the count silently: it comes back
// with the record's place, and nothing is counted of its chunk or after it.
func TestFaultIsTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.jsonl")
	if err := os.WriteFile(path, []byte("\n\n\n\n\n\n"+`{"case":"1"}`+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	total := &Part{Tally: newTally(false)}
	defer func() {
		if fault, _ := recover().(string); !strings.HasPrefix(fault, path+":7: ") || total.Tally.Records != 0 {
			t.Errorf("fault %q, %d records", fault, total.Tally.Records)
		}
	}()
	broken := func() archive.Worker[*result] { // without a decoder, which is a fault
		return &worker{config: &Config{}, res: newResult(0)}
	}
	err := archive.Share(context.Background(), archive.Input{Paths: []string{path}}, archive.Sharing{Chunk: chunkSize},
		broken, func(res *result) error { return (&Config{}).add(total, res) })
	t.Errorf("no fault, and err %v", err)
}

// TestIdsThatOneRulesetLacks settle nothing: neither right to wrong nor the reverse.
func TestIdsThatOneRulesetLacks(t *testing.T) {
	w := &worker{config: &Config{}, old: &side{}, new: &side{}}
	pair := newTally(true).Pair
	k := both{was: outcome{Answers: Answers{Known: 1, NamedWrongly: 1}}}
	for _, want := range [][]string{nil, {WrongToRight}} {
		k.lists = w.changes(&k.was, &k.is)
		pair.count(&k)
		if pair.WrongToRight != int64(len(want)) || !slices.Equal(k.lists, want) {
			t.Errorf("on the lists %v, and %d from wrong to right; want %v", k.lists, pair.WrongToRight, want)
		}
		k.is.Known = 1
	}
}
