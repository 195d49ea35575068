package engine_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/load"
)

// What a good gemologist expects of the shipped ruleset. Every expectation here is common practice: that the thermal
// probe takes moissanite for diamond, that boron-bearing diamonds conduct, that one test never settles a case.

func shipped(t testing.TB) *kb.Ruleset {
	t.Helper()
	rs, l := load.Load(t.Context(), []load.Layer{{Name: "diamond-desk", FS: os.DirFS("../rulesets/diamond-desk")}})
	if rs == nil {
		t.Fatal(l[0].Error())
	}
	return rs
}

// expected is what is wanted of a verdict; what is empty is not asked for.
type expected struct {
	verdict  []string // any of
	named    string
	nodes    []string // each node is one of these or lies under it, and each of these is told
	claim    string
	setAside []string
	repeat   [][]string
	open     []string // materials that stay candidates
	missing  []string // words of what it asks for
}

func TestCommonPractice(t *testing.T) {
	rs := shipped(t)
	e := engine.Prepare(rs)
	heavy := "specific_gravity: {value: 5.80, uncertainty: 0.03}"
	for _, c := range []struct {
		name     string
		claim    string
		stone    string
		readings []string
		want     expected
	}{
		{"a thermal probe alone narrows to diamond and moissanite", "diamond", "",
			[]string{"thermal_probe: diamond range"}, expected{verdict: []string{"narrowed"},
				nodes: []string{"diamond", "synthetic-moissanite"}, claim: "open"}},
		{"conduction leaves diamond open, as type IIb conducts", "diamond", "",
			[]string{"thermal_probe: diamond range", "electrical_conduction: conducts"},
			expected{verdict: []string{"narrowed", "identified", "inconclusive"}, claim: "open",
				open: []string{"natural-diamond", "synthetic-moissanite"}}},
		{"strong doubling fells diamond", "diamond", "", []string{"thermal_probe: diamond range",
			"electrical_conduction: conducts", "facet_doubling: strong"},
			expected{claim: "falls"}},
		{"a specific gravity of 5.8 alone leaves the claim open", "diamond", "mounted: false", []string{heavy},
			expected{verdict: []string{"narrowed", "inconclusive"}, claim: "open",
				missing: []string{"second reading"}}},
		{"5.8, over the limit and a low thermal reading are cubic zirconia", "diamond", "mounted: false",
			[]string{heavy, "ri: {above: 1.81}", "thermal_probe: below diamond range"},
			expected{verdict: []string{"identified"}, named: "cubic-zirconia", claim: "falls"}},
		{"both rays of quartz alone narrow", "diamond", "", []string{"ri: [1.544, 1.553]"},
			expected{verdict: []string{"narrowed"}, open: []string{"natural-quartz"}}},
		{"four household tests decide nothing", "diamond", "mounted: false, cut: round brilliant",
			[]string{"sinks_in_water: sinks", "breath_fog: clears at once", "read_through: print not visible",
				"flame_and_quench: unharmed"},
			expected{verdict: []string{"inconclusive"}, claim: "open",
				setAside: []string{"flame_and_quench", "sinks_in_water"}}},
		{"an index of quartz and a weight of diamond contradict each other", "diamond", "mounted: false",
			[]string{"ri: [1.544, 1.553]", "specific_gravity: {value: 3.52, uncertainty: 0.02}"},
			expected{verdict: []string{"contradictory"}, claim: "open",
				repeat: [][]string{{"ri"}, {"specific_gravity"}}, missing: []string{"repeat"}}},
		{"no reading fells nothing", "diamond", "", nil, expected{verdict: []string{"inconclusive", "narrowed"},
			claim: "open"}},
	} {
		t.Run("common practice: "+c.name, func(t *testing.T) {
			text := fmt.Sprintf("format: 1\ncase: practice\nclaim: %s\nstone: {%s}\nreadings: {%s}\n", c.claim, c.stone,
				strings.Join(c.readings, ", "))
			read := readCase(rs, text)
			if read == nil {
				t.Fatalf("not a case:\n%s", text)
			}
			got := e.NewJudge().Explain(read, moment)
			for _, problem := range c.want.missed(rs, got) {
				t.Errorf("%s\n%s", problem, weightsOf(got))
			}
		})
	}
}

// missed lists what is otherwise.
func (want *expected) missed(rs *kb.Ruleset, got *engine.Explained) (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if len(want.verdict) > 0 && !slices.Contains(want.verdict, got.Verdict) {
		say("the verdict is %s (%s), not %s", got.Verdict, got.Says, strings.Join(want.verdict, " or "))
	}
	if want.named != "" && orNil(got.Named) != want.named {
		say("%s is named, not %s", orNil(got.Named), want.named)
	}
	under := func(id, group string) bool { return rs.Node(id).Under(rs.Node(group)) }
	for _, id := range got.Nodes {
		if want.nodes != nil && !slices.ContainsFunc(want.nodes, func(w string) bool { return under(id, w) }) {
			say("it is narrowed to %s among others", id)
		}
	}
	for _, w := range want.nodes {
		if !slices.ContainsFunc(got.Nodes, func(id string) bool { return under(id, w) }) {
			say("it is narrowed without %s", w)
		}
	}
	if want.claim != "" && got.Claim.Answer != want.claim {
		say("the claim is answered %s, not %s", got.Claim.Answer, want.claim)
	}
	var aside []string
	for _, a := range got.SetAside {
		aside = append(aside, a.Observable)
	}
	for _, w := range want.setAside {
		if !slices.Contains(aside, w) {
			say("%s is not among what is set aside: %v", w, aside)
		}
	}
	for _, w := range want.repeat {
		if !slices.ContainsFunc(got.Repeat, func(set []string) bool { return slices.Equal(set, w) }) {
			say("%v is not among what is to be repeated: %v", w, got.Repeat)
		}
	}
	for _, w := range want.missing {
		if !slices.ContainsFunc(got.Missing, func(n engine.Note) bool { return strings.Contains(n.Says, w) }) {
			say("nothing that is missing speaks of a %s: %v", w, got.Missing)
		}
	}
	if got.Verdict == "inconclusive" && len(got.Missing) == 0 {
		say("it does not say what is missing")
	}
	for _, w := range want.open {
		if !slices.ContainsFunc(got.Candidates, func(c engine.Candidate) bool { return c.Material == w }) {
			say("%s is no candidate", w)
		}
	}
	return out
}

// weightsOf shows what a verdict came from: the evidence for the materials that matter.
func weightsOf(got *engine.Explained) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s doubt %.3g unlisted %.3g nodes %v\n", got.Says, got.Doubt, got.Unlisted, got.Nodes)
	for i, c := range got.Candidates {
		if i < 8 {
			fmt.Fprintf(&b, "  %-30s %.4g", c.Material, c.Share)
			for _, s := range got.Chain {
				for _, g := range s.Weights {
					if s.Kind == "evidence" && g.Material == c.Material {
						fmt.Fprintf(&b, "  %s%s %+.2f (%+.2f)", s.Observable, s.Rule, g.C, g.Counts)
					}
				}
			}
			b.WriteString("\n")
		}
	}
	for _, s := range got.Chain {
		if s.Kind == "check" || s.Kind == "claim" {
			fmt.Fprintf(&b, "  %s: %s\n", s.Kind, s.Says)
		}
	}
	return b.String()
}

// The second implementation on the shipped ruleset and the cases that come with it.
func TestNaiveOnTheShippedCases(t *testing.T) {
	rs := shipped(t)
	var texts []string
	for _, f := range rs.Files {
		texts = append(texts, string(f.Source.Text))
	}
	n := readNaive(texts...)
	j := engine.Prepare(rs).NewJudge()
	files, err := filepath.Glob("../testdata/*/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no cases", err)
	}
	compared := 0
	expects := regexp.MustCompile(`(?m)^expects: .*$`)
	for _, file := range files {
		all, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range strings.Split(string(all), "\n---\n") {
			text = expects.ReplaceAllString(text, "")
			c := readCase(rs, text)
			if c == nil {
				continue // another kind of file
			}
			on := time.Date(2031, 6, 1, 0, 0, 0, 0, time.UTC)
			if c.HasTaken {
				on = c.Taken
			}
			want := n.judge(n.readCase(text), on)
			if want.close || want.unsure {
				continue
			}
			compared++
			for _, d := range want.differences(j.Explain(c, engine.Moment{On: on, DatedBy: "taken"})) {
				t.Errorf("%s, %s: %s", file, c.ID, d)
			}
		}
	}
	if t.Logf("%d cases", compared); compared < 100 {
		t.Errorf("only %d cases were compared", compared)
	}
}
