package engine_test

import (
	"fmt"
	"regexp"
	"slices"
	"testing"

	"whystone/engine"
	"whystone/kb"
)

var drawnID = regexp.MustCompile(`\b([gm])(\d+)\b`)

// Other names for the materials change nothing but the names. Where the new ones sort as the old ones did, no byte;
// else ties aside, and the last figures of sums, which are taken in the order of the ids.
func TestNamesChangeNothingButNames(t *testing.T) {
	same := func(text string) string { return drawnID.ReplaceAllString(text, "x-$1$2") }
	back := func(text string) string { return regexp.MustCompile(`\bx-([gm]\d+)`).ReplaceAllString(text, "$1") }
	turned := func(text string) string {
		return drawnID.ReplaceAllStringFunc(text, func(id string) string {
			var n int
			if _, err := fmt.Sscan(id[1:], &n); err != nil {
				t.Fatal(err)
			}
			return map[byte]string{'g': "y", 'm': "h"}[id[0]] + fmt.Sprint(900-n)
		})
	}
	digest := regexp.MustCompile(`sha256:[0-9a-f]+`)
	compared := 0
	eachDrawn(t, drawRuleset, 40, func(t *testing.T, d *drawn, rs *kb.Ruleset, cases []string) {
		renamed, reversed := build(t, "renamed", same(d.text.String())), build(t, "reversed", turned(d.text.String()))
		n := readNaive(d.text.String())
		for _, text := range cases {
			plain := judged(rs, text)
			want := digest.ReplaceAllString(encoded(t, plain.Output), "")
			if got := digest.ReplaceAllString(back(encoded(t, judged(renamed, same(text)).Output)), ""); got != want {
				t.Errorf("renamed\n%s\nis\n%s\nnot\n%s", text, got, want)
			}
			opinion := n.judge(n.readCase(text), judgedOn)
			if opinion.close || opinion.unsure || opinion.tied() {
				continue
			}
			compared++
			if diffs := alikeBut(turned, plain, judged(reversed, turned(text))); diffs != "" {
				t.Errorf("with names in another order: %s\n%s", diffs, text)
			}
		}
	})
	if compared < 60 && !testing.Short() {
		t.Errorf("only %d cases had no tie", compared)
	}
}

// tied tells whether names had to break a tie between nodes.
func (v *opinion) tied() bool {
	equal := v.equalShares()
	nodes := v.join()
	for k, a := range nodes {
		for _, b := range nodes[:k] {
			for _, shares := range [][]number{v.shares, equal} {
				of := func(m *naiveNode) float64 {
					return float(among(shares, func(i int) bool { return slices.Contains(m.under, i) }))
				}
				if near(of(a), of(b)) {
					return true
				}
			}
		}
	}
	return false
}

// alikeBut compares two outputs whose names differ.
func alikeBut(turned func(string) string, a, b *engine.Explained) string {
	sorted := func(list []string) []string { return slices.Sorted(slices.Values(list)) }
	turnedAll := func(list []string) (out []string) {
		for _, s := range list {
			out = append(out, turned(s))
		}
		return out
	}
	one := fmt.Sprint(a.Verdict, turned(orNil(a.Named)), sorted(turnedAll(a.Nodes)), a.Repeat, len(a.Excluded))
	two := fmt.Sprint(b.Verdict, orNil(b.Named), sorted(b.Nodes), b.Repeat, len(b.Excluded))
	if one != two {
		return one + " becomes " + two
	}
	if !near(a.Doubt, b.Doubt) || !near(a.Unlisted, b.Unlisted) {
		return fmt.Sprintf("doubt %g becomes %g, unlisted %g becomes %g", a.Doubt, b.Doubt, a.Unlisted, b.Unlisted)
	}
	before, after := figures{}, figures{}
	for _, c := range a.Candidates {
		before.add(turned(c.Material), c.Share)
	}
	for _, c := range b.Candidates {
		after.add(c.Material, c.Share)
	}
	if diffs := after.differ("share", before, near); len(diffs) > 0 {
		return diffs[0]
	}
	if a.Claim != nil && (a.Claim.Answer != b.Claim.Answer ||
		orNil(a.Claim.GroupAnswer) != orNil(b.Claim.GroupAnswer)) {
		return fmt.Sprintf("the claim is %s, and becomes %s", a.Claim.Answer, b.Claim.Answer)
	}
	return ""
}
