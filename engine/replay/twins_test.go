package replay

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"testing"
	"testing/fstest"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/load"
)

// without is the shipped ruleset less a rule.
func without(t *testing.T, id string) *engine.Engine {
	t.Helper()
	house := fmt.Sprintf("format: 1\nretires:\n  - {rule: %s, because: a trial}\n", id)
	rs, l := load.Build(load.ReadFiles(context.Background(), []load.Layer{{Name: "diamond-desk", FS: os.DirFS(desk)},
		{Name: "house", FS: fstest.MapFS{"house.yaml": {Data: []byte(house)}}}}, nil))
	if rs == nil {
		t.Fatal(l)
	}
	return engine.Prepare(rs)
}

// TestTwinsAreJudgedAsApart: what two rulesets that differ in rules alone come to, against each judging every case by
// itself; with each of some rules taken away, and with edits of one. At least one of them must change verdicts, and
// every one be a twin.
func TestTwinsAreJudgedAsApart(t *testing.T) {
	e := loaded(t, nil)
	edits := map[string]*engine.Engine{"another bound": loaded(t, oneRule),
		"another ratio": loaded(t, func(files []kb.File) []kb.File {
			return replaced(files, "rules/separations.yaml", "birefringence.high < 0.001, ratio: 100",
				"birefringence.high < 0.001, ratio: 2")
		})}
	step, most := 15, 4
	if testing.Short() {
		step, most = 50, 1
	}
	aside, withheld := 0, 0
	for i, r := range e.Ruleset.Order {
		if len(r.SetsAside) > 0 && r.If != nil {
			aside++
		}
		if r.Withholds != nil {
			withheld++
		}
		if len(r.Establishes) > 0 {
			continue // others name the fact
		}
		if i%step == 0 || len(r.SetsAside) > 0 && r.If != nil && aside <= most || r.Withholds != nil &&
			withheld <= most {
			edits["without "+r.ID] = without(t, r.ID)
		}
	}
	path := sample(t, e, 700, 5)
	changed, alike := int64(0), 0
	for name, other := range edits {
		c := Config{Engine: e, Against: other, Input: archive.Input{Paths: []string{path}}, AsOf: asOf,
			Threshold: 0.0001}
		together, apart := newWorker(&c, c.memories()), newWorker(&c, c.memories())
		if together.twins == nil {
			t.Errorf("%s: taken for rulesets that differ in more than rules", name)
			continue
		}
		apart.twins = nil
		n := int64(0)
		err := archive.Each(context.Background(), c.Input, func(r *archive.Raw) bool {
			n++
			together.Record(r, n)
			apart.Record(r, n)
			if len(together.pending) == 0 {
				alike += together.alike.Count()
			}
			return true
		})
		if err != nil {
			t.Fatal(err)
		}
		got, want := newTally(true), newTally(true)
		got.add(together.Take(), e.Ruleset.Order)
		want.add(apart.Take(), e.Ruleset.Order)
		if !bytes.Equal(text(t, got), text(t, want)) {
			t.Errorf("%s: together other bytes come out than apart", name)
		}
		changed += want.Pair.Changed + want.Pair.Moved
		alike += together.alike.Count()
	}
	if t.Logf("%d edits, %d changed or moved, %d not judged again", len(edits), changed, alike); changed == 0 ||
		alike < 300*len(edits) {
		t.Errorf("%d changed, and %d were not judged again: too little was tried", changed, alike)
	}
}

// TestNoTwins: what else differs is judged apart.
func TestNoTwins(t *testing.T) {
	e := loaded(t, nil)
	if engine.NewTwins(e, e) == nil {
		t.Error("a ruleset is no twin of itself")
	}
	if engine.NewTwins(e, loaded(t, lessSure)) != nil {
		t.Error("another policy was taken for another rule")
	}
}
