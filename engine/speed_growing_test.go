package engine

import (
	"fmt"
	"slices"
	"syscall"
	"testing"
	"time"

	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/eval"
)

// The cost of a case of a replay as the ruleset grows: cases whose readings were met before are put into blocks, their
// rules run together, and each is decided, as replaying does.

// grown is a model of some size, with its cases laid out for replaying.
type grown struct {
	materials, rules int
	block            *eval.Block
	judge            *Judge
	cases            []*casefile.Case
	spent, running   time.Duration
	alive, evidence  int
}

// grow makes a model and goes through its cases once, so that all is remembered.
func grow(b *testing.B, materials, rules int) *grown {
	rs := loadSpeed(b, speedModel(drawSpeedRules(rules), materials))
	g := &grown{materials: materials, rules: rules, block: eval.NewBlock(rs), judge: Prepare(rs).NewJudge()}
	g.judge.Remember()
	known := map[string]int{} // readings that say the same have one number
	for _, c := range drawSpeedCases(rs, speedCases) {
		for _, r := range c.Readings {
			says := fmt.Sprint(r.Observable.Index, r.Form, r.Outcome, r.Value)
			if known[says] == 0 {
				known[says] = len(known) + 1
			}
			r.Known = known[says]
		}
		g.cases = append(g.cases, c)
	}
	g.replay()
	g.spent, g.running, g.alive, g.evidence = 0, 0, 0, 0
	return g
}

// replay judges all cases.
func (g *grown) replay() {
	var d Decision
	for chunk := range slices.Chunk(g.cases, condition.Lanes) {
		g.running += processorTime(func() {
			g.block.Clear()
			for _, c := range chunk {
				g.block.Add(c, speedDate)
			}
			g.block.Run()
		})
		g.spent += processorTime(func() {
			for lane := range chunk {
				g.judge.DecideLane(g.block, lane, &d)
				g.alive, g.evidence = g.alive+len(g.judge.w.alive), g.evidence+len(g.judge.items)
			}
		})
	}
}

func processorTime(work func()) time.Duration {
	var before, after syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &before)
	work()
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &after)
	return time.Duration(after.Utime.Nano() + after.Stime.Nano() - before.Utime.Nano() - before.Stime.Nano())
}

// BenchmarkAsTheRulesetGrows tells of models of several sizes, in turns, the processors' time of a case against the
// first of them: "rules" is laying out and running the rules, "decide" the rest, "case" both. "alive" is how many
// materials have weight left in a case, "evidence" how many pieces of evidence it has.
func BenchmarkAsTheRulesetGrows(b *testing.B) {
	type size struct{ materials, rules int }
	for name, sizes := range map[string][]size{
		"materials": {{50, speedRules}, {100, speedRules}, {200, speedRules}, {350, speedRules}, {500, speedRules}},
		"rules":     {{speedMaterials, 100}, {speedMaterials, 300}, {speedMaterials, 1000}, {speedMaterials, 3000}},
	} {
		b.Run(name, func(b *testing.B) {
			var all []*grown
			for _, s := range sizes {
				all = append(all, grow(b, s.materials, s.rules))
			}
			for b.Loop() {
				for _, g := range all {
					g.replay()
				}
			}
			b.ReportMetric(0, "ns/op")
			first := all[0]
			for _, g := range all {
				n := g.materials
				if name == "rules" {
					n = g.rules
				}
				tell := func(what string, is float64) { b.ReportMetric(is, fmt.Sprintf("%d-%s", n, what)) }
				tell("case", float64(g.spent+g.running)/float64(first.spent+first.running))
				tell("decide", float64(g.spent)/float64(first.spent))
				tell("rules", float64(g.running)/float64(first.running))
				tell("alive", float64(g.alive)/float64(b.N*len(g.cases)))
				tell("evidence", float64(g.evidence)/float64(b.N*len(g.cases)))
			}
		})
	}
}
