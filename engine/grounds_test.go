package engine_test

import (
	"fmt"
	"slices"
	"testing"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb/casefile"
	"whystone/kb/eval"
)

// TestGroundsAgainstJudge judges cases of one stone whose readings differ, side by side: each as it is, without one of
// its readings, and with a reading of another drawn case beside or in the place of its own; values come a little apart,
// too, where two often come to the same. Each is judged by itself or taken from the grounds of the case before it or of the
// first, and must be what judging it by itself says.
func TestGroundsAgainstJudge(t *testing.T) {
	taken, judged := 0, 0
	for seed := range uint64(blockCases() / blockCasesEach / 2) {
		d := drawRuleset(seed, 3+int(seed%8))
		rs := build(t, fmt.Sprint("seed ", seed), d.text.String())
		e, rd := engine.Prepare(rs), archive.Decoder{Reader: eval.CaseReader(rs)}
		alone, beside := e.NewJudge(), e.NewJudge()
		block := eval.NewBlock(rs)
		var cases []*casefile.Case
		for k := range blockCasesEach / 3 {
			text, ok := asJSON(d.drawCase(fmt.Sprintf("%d-%d", seed, k)))
			if !ok {
				continue
			}
			if c, _ := rd.Decode(&archive.Raw{File: "drawn", Line: 1, Text: text}); c != nil {
				cases = append(cases, c)
			}
		}
		for k, c := range cases {
			t, j := againstGrounds(t, rs.Digest, alone, beside, block, variants(c, cases[(k+1)%len(cases)]))
			taken, judged = taken+t, judged+j
		}
	}
	if t.Logf("%d taken, %d judged", taken, judged); taken < judged/20 || judged < taken/20 {
		t.Errorf("%d were taken from grounds and %d judged: too few of a kind", taken, judged)
	}
}

// variants are cases of a stone with other readings.
func variants(c, other *casefile.Case) []*casefile.Case {
	with := func(readings []*casefile.Reading) *casefile.Case {
		out := *c
		out.Readings = readings
		return &out
	}
	out := []*casefile.Case{c}
	for i, r := range c.Readings {
		rest := append(append([]*casefile.Reading(nil), c.Readings[:i]...), c.Readings[i+1:]...)
		out = append(out, with(rest))
		if r.Form != casefile.Value {
			continue
		}
		for _, far := range []float64{0, 0.1, 1, 30, 30.5, 31} {
			again := *r
			again.Value += far * r.U
			moved := append([]*casefile.Reading(nil), c.Readings...)
			moved[i] = &again
			out = append(out, with(moved))
		}
	}
	for _, r := range other.Readings {
		more := with(append([]*casefile.Reading(nil), c.Readings...))
		if i := slices.IndexFunc(c.Readings, func(own *casefile.Reading) bool {
			return own.Observable == r.Observable
		}); i < 0 {
			more.Add(r)
		} else {
			more.Readings[i] = r
		}
		out = append(out, more, c)
	}
	return out
}

func againstGrounds(t *testing.T, name string, alone, beside *engine.Judge, block *eval.Block,
	cases []*casefile.Case) (taken, judged int) {
	t.Helper()
	type noted struct {
		engine.Grounds
		is engine.Decision
	}
	var first, last noted
	var known []*engine.Grounds
	block.Clear()
	for _, c := range cases[:min(len(cases), 100)] {
		block.Add(c, judgedOn)
	}
	block.Run()
	for lane := range block.Len() {
		var want, got engine.Decision
		alone.Decide(cases[lane], judgedOn, &want)
		switch on := beside.DecideLaneUnless(block, lane, &got, known...); {
		case on == nil && block.Odd(lane):
		case on == nil:
			judged++
			into := &last
			if len(known) == 0 {
				into = &first
			}
			beside.Note(block, lane, &into.Grounds)
			if into.is = got; len(known) < 2 {
				known = append(known, &into.Grounds)
			}
		default:
			taken++
			if got = last.is; on == &first.Grounds {
				got = first.is
			}
		}
		sameDecision(t, name, cases[lane], &want, &got)
	}
	return taken, judged
}
