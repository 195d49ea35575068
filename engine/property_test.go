package engine_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
)

// Properties that hold for every ruleset and every case, on random ones.

var moment = engine.Moment{On: judgedOn, DatedBy: "taken"}

// eachDrawn goes through random rulesets, each with the texts of some cases.
func eachDrawn(t *testing.T, draw func(seed uint64, leaves int) *drawn, rulesets int,
	f func(t *testing.T, d *drawn, rs *kb.Ruleset, cases []string)) {
	t.Helper()
	if testing.Short() {
		rulesets = max(rulesets/5, 4)
	}
	for seed := range uint64(rulesets) {
		d := draw(7000+seed, 3+int(seed%9))
		rs := build(t, fmt.Sprint("seed ", seed), d.text.String())
		var cases []string
		for len(cases) < 8 {
			if text := d.drawCase(fmt.Sprintf("%d-%d", seed, len(cases))); readCase(rs, text) != nil {
				cases = append(cases, text)
			}
		}
		if f(t, d, rs, cases); t.Failed() {
			t.Fatalf("with the ruleset of seed %d", seed)
		}
	}
}

func encoded(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// judged is the output of one case by a fresh judge.
func judged(rs *kb.Ruleset, text string) *engine.Explained {
	return engine.Prepare(rs).NewJudge().Explain(readCase(rs, text), moment)
}

// The order of files, of sheets within them, of readings and of repeats changes no byte of the output.
func TestOrderChangesNothing(t *testing.T) {
	eachDrawn(t, drawRuleset, 40, func(t *testing.T, d *drawn, rs *kb.Ruleset, cases []string) {
		other, l := load.Build(scattered(d))
		if other == nil {
			t.Fatalf("the scattered ruleset does not load: %v", l)
		}
		if other.Digest != rs.Digest {
			t.Errorf("the digest is %s, and %s of the same sheets in another order", rs.Digest, other.Digest)
		}
		for _, text := range cases {
			want, mixed := encoded(t, judged(rs, text).Output), mixedUp(d.Rand, text)
			if got := encoded(t, judged(other, mixed).Output); got != want {
				t.Errorf("in another order\n%s\nis\n%s\nnot\n%s", mixed, got, want)
			}
		}
	})
}

// scattered writes the sheets of a drawn ruleset into several files, in any order.
func scattered(d *drawn) []kb.File {
	items := map[string][]string{} // by top-level key: each sheet's lines
	top := ""
	for _, line := range strings.SplitAfter(d.text.String(), "\n") {
		list := items[top]
		switch {
		case line == "" || strings.HasPrefix(line, "format"):
		case !strings.HasPrefix(line, " "):
			top = line
		case strings.HasPrefix(line, "  - ") || len(list) == 0:
			items[top] = append(list, line)
		default:
			list[len(list)-1] += line
		}
	}
	texts := make([]string, 3)
	for _, top := range slices.Sorted(maps.Keys(items)) {
		sheets := items[top]
		d.Shuffle(len(sheets), func(i, j int) { sheets[i], sheets[j] = sheets[j], sheets[i] })
		cut := len(sheets) / 2
		for _, part := range [][]string{sheets[:cut], sheets[cut:]} {
			if len(part) > 0 {
				texts = append(texts, top+strings.Join(part, ""))
			}
		}
	}
	d.Shuffle(len(texts), func(i, j int) { texts[i], texts[j] = texts[j], texts[i] })
	var files []kb.File
	for i, text := range texts {
		name := fmt.Sprintf("part-%d.yaml", i)
		files = append(files, kb.File{Layer: "drawn", Path: name, Source: diag.NewSource("drawn/"+name,
			[]byte("format: 1\n"+text))})
	}
	return files
}

// mixedUp puts the readings of a case into another order, and the repeats or places of each.
func mixedUp(rng *rand.Rand, text string) string {
	head, readings, _ := strings.Cut(text, "readings:\n")
	lines := strings.Split(strings.TrimSuffix(readings, "\n"), "\n")
	for i, line := range lines {
		if name, list, ok := strings.Cut(line, ": [{"); ok && rng.IntN(2) == 0 {
			a, b, _ := strings.Cut(strings.TrimSuffix(list, "}]"), "}, {")
			lines[i] = fmt.Sprintf("%s: [{%s}, {%s}]", name, b, a)
		}
	}
	rng.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
	return head + "readings:\n" + strings.Join(lines, "\n") + "\n"
}

// What is decided does not depend on whether anybody looks on.
func TestObservedAndUnobservedAgree(t *testing.T) {
	eachDrawn(t, drawRuleset, 60, func(t *testing.T, _ *drawn, rs *kb.Ruleset, cases []string) {
		j := engine.Prepare(rs).NewJudge()
		for _, text := range cases {
			c := readCase(rs, text)
			var d engine.Decision
			j.Decide(c, judgedOn, &d)
			out := j.Explain(c, moment)
			var nodes []string
			for _, m := range d.Nodes {
				nodes = append(nodes, m.ID)
			}
			named := "nil"
			if d.Named != nil {
				named = d.Named.ID
			}
			share := "nil"
			if out.Share != nil {
				share = fmt.Sprint(*out.Share)
			}
			var rests []string
			for _, m := range d.RestsOnPriors {
				rests = append(rests, m.ID)
			}
			unobserved := fmt.Sprint(d.Class, orWord(d.NotListed.String()), named, nodes, rests, d.Doubt, d.Unlisted,
				d.Required, d.DoubtLimit)
			observed := fmt.Sprint(out.Verdict, orNil(out.NotListed), orNil(out.Named), out.Nodes, out.RestsOnPriors,
				out.Doubt, out.Unlisted, out.Required, out.DoubtLimit)
			if unobserved != observed || (share == "nil") != math.IsNaN(d.Share) || share != "nil" &&
				share != fmt.Sprint(d.Share) {
				t.Errorf("unobserved %s %v, observed %s %s\n%s", unobserved, d.Share, observed, share, text)
			}
			if c.Claim != "" && (d.Claim.Answer.String() != out.Claim.Answer || out.Claim.GroupAnswer != nil &&
				d.Claim.GroupAnswer.String() != *out.Claim.GroupAnswer) {
				t.Errorf("unobserved the claim is %s and %s, observed %s and %s\n%s", d.Claim.Answer,
					d.Claim.GroupAnswer, out.Claim.Answer, orNil(out.Claim.GroupAnswer), text)
			}
		}
	})
}

// A judge keeps nothing of earlier cases: any order of cases, and a case twice over, give the same bytes, chain
// included.
func TestNothingIsKeptBetweenCases(t *testing.T) {
	eachDrawn(t, drawRuleset, 60, func(t *testing.T, d *drawn, rs *kb.Ruleset, cases []string) {
		e := engine.Prepare(rs)
		want := map[string]string{}
		for _, text := range cases {
			want[text] = encoded(t, e.NewJudge().Explain(readCase(rs, text), moment))
		}
		j := e.NewJudge()
		again := slices.Concat(cases, cases, cases)
		d.Shuffle(len(again), func(i, k int) { again[i], again[k] = again[k], again[i] })
		for _, text := range again {
			if got := encoded(t, j.Explain(readCase(rs, text), moment)); got != want[text] {
				t.Errorf("after other cases\n%s\nis\n%s\nnot\n%s", text, got, want[text])
				return
			}
		}
	})
}
