package engine_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// The engine against the second implementation, on random rulesets that go through the real loader and random cases
// that go through the real reader. What the two reach is compared exactly where it is a choice and to 1e-9 where it is
// a number. A case in which some quantity lies within 1e-9 of a threshold is left out, as there rounding decides; these
// are counted, and must be few.

const naiveCases = 14 // a ruleset

// naiveRulesets is how many rulesets are drawn.
func naiveRulesets() int {
	switch {
	case testing.Short():
		return 40
	case os.Getenv("WHYSTONE_REQUIRE_ALL") == "1":
		return 500
	}
	return 260
}

var judgedOn = time.Date(2031, 4, 12, 10, 0, 0, 0, time.UTC)

func TestNaive(t *testing.T) {
	const shards = 4
	rulesets := naiveRulesets()
	var seen [shards]sightings
	t.Run("drawn", func(t *testing.T) {
		for k := range shards {
			seen[k] = sightings{}
			t.Run(fmt.Sprint(k), func(t *testing.T) {
				t.Parallel()
				compareDrawn(t, uint64(k*rulesets/shards), uint64((k+1)*rulesets/shards), seen[k])
			})
		}
	})
	all := sightings{}
	for _, s := range seen {
		for what, n := range s {
			all[what] += n
		}
	}
	if all.log(t); !testing.Short() {
		all.check(t)
	}
}

func compareDrawn(t *testing.T, from, to uint64, seen sightings) {
	for seed := from; seed < to; seed++ {
		leaves := 3 + int(seed%8)
		if seed%40 == 39 {
			leaves = 67 + int(seed%5) // more than fit into one machine word
		}
		d := drawRuleset(seed, leaves)
		rs := build(t, fmt.Sprint("seed ", seed), d.text.String())
		n := readNaive(d.text.String())
		j := engine.Prepare(rs).NewJudge()
		for k := range naiveCases {
			text := d.drawCase(fmt.Sprintf("%d-%d", seed, k))
			c := readCase(rs, text)
			if c == nil {
				seen["refused"]++ // a bound that leaves nothing of the span, say
				continue
			}
			seen["cases"]++
			want := n.judge(n.readCase(text), judgedOn)
			got := j.Explain(c, engine.Moment{On: judgedOn, DatedBy: "taken"})
			diffs := want.differences(got)
			seen.note(want, got)
			if want.close || want.unsure {
				seen["close"]++
			}
			if len(diffs) > 0 {
				t.Fatalf("ruleset %d:\n%s\n%s", seed, strings.Join(diffs, "\n"), text)
			}
		}
	}
}

// build loads a ruleset from one text.
func build(t testing.TB, name, text string) *kb.Ruleset {
	t.Helper()
	rs, l := load.Build([]kb.File{{Layer: "drawn", Path: name + ".yaml",
		Source: diag.NewSource("drawn/"+name+".yaml", []byte(text))}})
	if rs == nil {
		var b strings.Builder
		if err := diag.WriteText(&b, l, diag.TextOptions{Width: 100}); err != nil {
			t.Fatal(err)
		}
		t.Fatal(b.String())
	}
	return rs
}

// readCase reads a case, or gives nil.
func readCase(rs *kb.Ruleset, text string) *casefile.Case {
	var out diag.List
	roots := syntax.ParseYAML(diag.NewSource("case.yaml", []byte(text)), &out)
	if out.HasErrors() || len(roots) != 1 {
		return nil
	}
	return eval.CaseReader(rs).Read(roots[0], &out)
}
