package engine_test

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb"
)

// logWeights are those of the leaves as the chain keeps them, with what the evidence counts for each.
func logWeights(x *engine.Explained) (logs, counted map[string]float64) {
	logs, counted = map[string]float64{}, map[string]float64{}
	for _, s := range x.Chain {
		for _, g := range s.Weights {
			switch s.Kind {
			case "share":
				logs[g.Material] = g.C
			case "evidence":
				counted[g.Material] += g.Counts
			}
		}
	}
	return logs, counted
}

// What the chain says each piece of evidence counts adds up: with the logarithm of the prior it is the log-weight.
func TestTheChainAddsUp(t *testing.T) {
	leaves := 0
	eachDrawn(t, drawRuleset, 80, func(t *testing.T, _ *drawn, rs *kb.Ruleset, cases []string) {
		priors := rs.Priors()
		for _, text := range cases {
			logs, counted := logWeights(judged(rs, text))
			for i, m := range rs.Leaves {
				want, alive := logs[m.ID]
				if !alive {
					continue
				}
				leaves++
				if got := math.Log(priors[i]) + counted[m.ID]; math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
					t.Errorf("%s: prior and evidence add up to %.12g, the log-weight is %.12g\n%s", m.ID, got, want,
						text)
				}
			}
		}
	})
	if leaves < 500 && !testing.Short() {
		t.Errorf("only %d leaves were added up", leaves)
	}
}

// Without readings the shares are the priors, nothing is excluded, nothing is named on less than its prior, and no
// claim falls.
func TestWithoutReadingsThePriorsStay(t *testing.T) {
	eachDrawn(t, drawSheets, 40, func(t *testing.T, d *drawn, rs *kb.Ruleset, cases []string) {
		n := readNaive(d.text.String())
		priors := figures{}
		for i, p := range n.shareOut() {
			priors.add(append(slices.Clone(n.leaves), &naiveNode{told: "unlisted"})[i].told, float(p))
		}
		for _, text := range cases {
			head, _, _ := strings.Cut(text, "stone:") // from which a density might follow
			got := judged(rs, head)
			if math.Abs(got.Unlisted-rs.Policy.Unlisted) > 1e-12 || got.Doubt != 0 {
				t.Errorf("unlisted is %g, the doubt %g", got.Unlisted, got.Doubt)
			}
			shares := figures{}
			for _, c := range got.Candidates {
				shares.add(c.Material, c.Share)
			}
			for _, diff := range shares.differ("without readings the share", priors, near) {
				t.Error(diff)
			}
			if got.Named != nil || got.Verdict == "contradictory" || got.Claim != nil && got.Claim.Answer != "open" {
				t.Errorf("without readings: %s, named %s, claim %+v", got.Verdict, orNil(got.Named), got.Claim)
			}
		}
	})
}

// A second reading of the same physics that says what the first said moves the odds of no two materials by more than
// the further weight times what the first moved them.
func TestDuplicateCountsAtFurtherWeight(t *testing.T) {
	moved := 0
	eachDrawn(t, doubled, 60, func(t *testing.T, _ *drawn, rs *kb.Ruleset, cases []string) {
		for _, text := range cases {
			for _, word := range []string{"high", "low", "unsteady"} {
				before := strings.TrimRight(withoutReading(text, "thermal"), "\n") + "\n"
				once := before + "  thermal: " + word + "\n"
				twice := once + "  thermal_again: " + word + "\n"
				first := judged(rs, once)
				// what the first says; it may besides change the order in another family, by an exclusion
				c := map[string]float64{}
				for _, s := range first.Chain {
					for _, g := range s.Weights {
						if s.Kind == "evidence" && s.Observable == "thermal" {
							c[g.Material] = g.C
						}
					}
				}
				l1, _ := logWeights(first)
				l2, _ := logWeights(judged(rs, twice))
				for a := range l2 {
					for b := range l2 {
						first, second := c[a]-c[b], (l2[a]-l1[a])-(l2[b]-l1[b])
						if math.Abs(second) > rs.Policy.FurtherWeight*math.Abs(first)+1e-9 {
							t.Errorf("the first reading moves %s against %s by %g, the same again by %g, weight %g\n%s",
								a, b, first, second, rs.Policy.FurtherWeight, twice)
						}
						if second != 0 {
							moved++
						}
					}
				}
			}
		}
	})
	if moved == 0 {
		t.Error("no duplicate moved anything")
	}
}

var thermalLine = regexp.MustCompile(`(?m)^( +)thermal: (.*)$`)

// doubled is a drawn ruleset in which a second observable of the thermal family says the same as the first.
func doubled(seed uint64, leaves int) *drawn {
	d := drawSheets(seed, leaves)
	text := thermalLine.ReplaceAllString(d.text.String(), "${0}\n${1}thermal_again: ${2}")
	d.text.Reset()
	d.text.WriteString(text)
	return d
}

func withoutReading(text, name string) string {
	return regexp.MustCompile(`(?m)^  `+name+`: .*\n`).ReplaceAllString(text, "")
}

// Evidence that says the same of every material moves no odds between materials, and where it says that a reading is as
// likely as on any stone it moves no share at all.
func TestEqualContributionsChangeNothing(t *testing.T) {
	alike := func(ratio string) func(seed uint64, leaves int) *drawn {
		return func(seed uint64, leaves int) *drawn {
			d := drawSheets(seed, leaves)
			text := strings.Replace(d.text.String(), "tests:\n", `tests:
  - test: toss
    name: toss
    harm: none
    source: drawn
    yields:
      coin: {kind: choice, family: luck, blunder: 0.1, choices: [heads, tails]}
      die: {kind: choice, family: chance, blunder: 0.1, choices: [one, more]}
`, 1)
			text = strings.Replace(text, "origin: natural}",
				"origin: natural, outcomes: {coin: {seen: {heads: often, tails: often}, source: drawn}}}", 1)
			text += "rules:\n  - {rule: all, says: drawn., source: drawn, if: die == 'one', " + ratio + "}\n"
			d.text.Reset()
			d.text.WriteString(text)
			return d
		}
	}
	for _, ratio := range []string{"supports: {materials: [everything], ratio: 4.1}",
		"weakens: {materials: [everything], strength: strong}"} {
		eachDrawn(t, alike(ratio), 25, func(t *testing.T, _ *drawn, rs *kb.Ruleset, cases []string) {
			for _, text := range cases {
				before, coin, die := judged(rs, text), judged(rs, text+"  coin: heads\n"),
					judged(rs, text+"  die: one\n")
				if coin.Verdict != before.Verdict || fmt.Sprint(coin.Nodes) != fmt.Sprint(before.Nodes) ||
					math.Abs(coin.Doubt-before.Doubt) > 1e-12 {
					t.Errorf("a coin changes %s %v to %s %v\n%s", before.Verdict, before.Nodes, coin.Verdict,
						coin.Nodes, text)
				}
				for i, c := range before.Candidates {
					if x := coin.Candidates[i]; x.Material != c.Material || math.Abs(x.Share-c.Share) > 1e-12 {
						t.Errorf("a coin changes the share of %s from %g to that of %s, %g\n%s", c.Material, c.Share,
							x.Material, x.Share, text)
					}
				}
				left, after := listed(before.Candidates), listed(die.Candidates)
				for i, c := range left {
					if !near(after[i].Share*left[0].Share, c.Share*after[0].Share) {
						t.Errorf("what says the same of all changes %s against %s\n%s", c.Material, left[0].Material,
							text)
					}
				}
			}
		})
	}
}

// listed are the candidates that are materials.
func listed(candidates []engine.Candidate) []engine.Candidate {
	return slices.DeleteFunc(slices.Clone(candidates),
		func(c engine.Candidate) bool { return c.Material == "unlisted" })
}

// A reading counts once: where three observables measure one property, no value goes into two contributions.
func TestNoReadingCountsTwice(t *testing.T) {
	third := regexp.MustCompile(`(?m)^( +)size_density: (.*)$`)
	thrice := func(seed uint64, leaves int) *drawn {
		d := drawSheets(seed, leaves)
		text := third.ReplaceAllString(d.text.String(), "${0}\n${1}float_density: ${2}")
		d.text.Reset()
		d.text.WriteString(text)
		return d
	}
	joined := 0
	eachDrawn(t, thrice, 20, func(t *testing.T, d *drawn, rs *kb.Ruleset, _ []string) {
		for range 10 {
			text := "format: 1\ncase: three\nreadings:\n"
			for _, name := range []string{"float_density", "size_density", "specific_gravity"} {
				text += fmt.Sprintf("  %s: {value: %g, uncertainty: %g}\n", name, d.between(3.4, 3.6),
					d.between(0.01, 0.05))
			}
			used := map[int]int{}
			for _, s := range judged(rs, text).Chain {
				if s.Kind == "evidence" {
					for _, reading := range s.Inputs {
						used[reading]++
					}
					joined += len(s.Inputs) - 1
				}
			}
			for _, n := range used {
				if n != 1 {
					t.Errorf("a reading goes into %d contributions\n%s", n, text)
				}
			}
		}
	})
	if joined == 0 {
		t.Error("no two were combined")
	}
}
