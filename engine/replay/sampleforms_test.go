package replay

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/eval"
)

// TestAllFormsAreJudgedAsAlone: an archive in all forms has each of them, and every case of it comes to the same
// verdict and, bit by bit, the same shares, whether it is judged in its block with what is remembered, or read and
// judged alone. The second half of it says nothing new, so that it comes from memory.
func TestAllFormsAreJudgedAsAlone(t *testing.T) {
	e := loaded(t, func(files []kb.File) []kb.File { // a house with instruments of its own
		return replaced(files, "policy.yaml", "instruments: []",
			"instruments: [{instrument: balance-a, test: hydrostatic-weighing, repeats_to_ct: 0.0005}, {instrument: "+
				"refractometer-a, test: refractometer, uncertainty: 0.002}]")
	})
	path := filepath.Join(t.TempDir(), "forms.jsonl")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := Sample(context.Background(), e, 1500, 3, true, f); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	c := Config{Engine: e, AsOf: asOf}
	w, alone, reader := newWorker(&c, c.memories()), e.NewJudge(), archive.Decoder{Reader: eval.CaseReader(e.Ruleset)}
	var raws []*archive.Raw
	if err := archive.Each(context.Background(), archive.Input{Paths: []string{path}}, func(r *archive.Raw) bool {
		raws = append(raws, r)
		return true
	}); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		for n, r := range raws {
			w.Record(r, int64(n+1))
			want, found := reader.Decode(r)
			if want == nil {
				t.Fatalf("%s: %v", r.Place(), found)
			}
			note(seen, want)
			if len(w.pending) == 0 {
				continue
			}
			lane := w.old.block.Len() - 1
			if got, _ := w.old.block.Case(lane); len(got.Readings) != len(want.Readings) {
				t.Fatalf("%s: %d readings in the block, %d alone", r.Place(), len(got.Readings), len(want.Readings))
			}
		}
		w.old.block.Run()
		for i := range w.pending {
			p := &w.pending[i]
			var got, is engine.Decision
			w.old.judge.DecideLane(w.old.block, p.lane[0], &got)
			c, _ := reader.Decode(p.raw)
			alone.Decide(c, c.Taken, &is)
			if a, b := verdictText(&got)+shares(&got), verdictText(&is)+shares(&is); a != b {
				t.Fatalf("%s: %s in its block, %s alone", p.raw.Place(), a, b)
			}
			for leaf := range e.Ruleset.Leaves {
				if a, b := w.old.judge.Weight(leaf), alone.Weight(leaf); a != b {
					t.Fatalf("%s: %s weighs %g in its block, %g alone", p.raw.Place(), e.Ruleset.Leaves[leaf].ID, a, b)
				}
			}
		}
		w.finish()
	}
	tally := newTally(false)
	tally.add(w.Take(), e.Ruleset.Order)
	if t.Logf("%v", seen); tally.Unusual > 0 {
		t.Errorf("%d of %d are read or judged the general way", tally.Unusual, tally.Records)
	}
	for _, form := range []string{"rays", "repeats", "place", "bounds", "instrument", "derived", "spoilt", "features",
		"choice", "value"} {
		if seen[form] == 0 {
			t.Errorf("no reading is a %s", form)
		}
	}
}

func shares(d *engine.Decision) string { return fmt.Sprint(d.Share, d.Doubt, d.Unlisted) }

// note counts the forms of a case's readings.
func note(seen map[string]int, c *casefile.Case) {
	for _, r := range c.Readings {
		for form, is := range map[string]bool{"rays": r.Form == casefile.Pair, "repeats": r.Repeats > 1,
			"place": r.Where != "", "bounds": r.Form == casefile.Interval, "instrument": r.Instrument != "",
			"derived": r.Derived, "spoilt": r.Spoilt != "", "features": r.Form == casefile.Features,
			"choice": r.Form == casefile.Choice, "value": r.Form == casefile.Value} {
			if is {
				seen[form]++
			}
		}
	}
}
