package next

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/next/feasible"
	"whystone/kb/casefile"
	"whystone/kb/kbtest"
	"whystone/kb/vocab"
)

// TestPlaysAgainstPlay plays all that tests can show on the demo cases and on those of assembled stones and of what
// sends a stone on, many at a time, and holds each to the case judged by itself, to the last bit.
func TestPlaysAgainstPlay(t *testing.T) {
	e := engine.Prepare(loaded(t))
	cases := demoCases(t, e.Ruleset)
	for _, name := range []string{"assembled", "referral", "wording"} {
		file := filepath.Join(kbtest.Root(t), "testdata", "coverage", name+".yaml")
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range enginetest.Cases(t, e.Ruleset, file, string(text)) {
			cases[c.ID] = c
		}
	}
	a, played := New(e), 0
	for name, c := range cases {
		b := a.lay(c, noon, Options{Workers: 1})
		p := a.players[0]
		for _, test := range b.able {
			var all []*casefile.Reading
			for _, l := range looks(e.Ruleset, b.c, test) {
				all = append(all, shown(&l)...)
			}
			var got []state
			p.plays(true, len(all), func(i int) (*casefile.Case, *casefile.Reading) { return b.c, all[i] },
				func(_ int, s *state) { got = append(got, *s) })
			for i, r := range all {
				if testing.Short() && i%4 > 0 {
					continue
				}
				want := p.play(feasible.With(b.c, r))
				plain(&want)
				if plain(&got[i]); !reflect.DeepEqual(want, got[i]) {
					t.Errorf("%s, %s: %+v\nby itself %+v\namong many %+v", name, test.ID, *r, want, got[i])
					break
				}
				played++
			}
		}
	}
	if played < 10_000 {
		t.Errorf("only %d were played", played)
	}
}

// plain makes a state comparable: a share that is no number is the same as another.
func plain(s *state) {
	if math.IsNaN(s.decision.Share) {
		s.decision.Share = -1
	}
	if len(s.cautions) == 0 {
		s.cautions = nil
	}
}

// shown are the readings that a look can come to, values by their figures, and that it stays inconclusive.
func shown(l *look) (out []*casefile.Reading) {
	switch s := l.source; s.Observable.Kind {
	case vocab.Quantity:
		figures := scale{min(3, l.figure())}
		for k := figures.up(s.Limits[0]); k <= figures.down(s.Limits[1]) && len(out) < 700; k++ {
			out = append(out, s.Value(figures.at(k)))
		}
		if s.Limits[1] < s.Observable.Span[1] {
			out = append(out, s.Above())
		}
	case vocab.Features:
		out = append(out, s.Feature(l.feature, true), s.Feature(l.feature, false))
	default:
		for i := range s.Observable.Outcomes {
			out = append(out, s.Choice(i))
		}
	}
	return append(out, l.source.Unclear(unclearReason))
}
