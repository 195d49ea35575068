package drafts

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"whystone/engine"
	"whystone/engine/diff"
	"whystone/kb"
)

const moissanite = `
case: D-1
claim: diamond
readings: {thermal_probe: diamond range, facet_doubling: strong, ri: {above: 1.81}, electrical_conduction: conducts, specific_gravity: 3.21}
`

// TestTry: which drafts are told, and the one thing that each would change.
func TestTry(t *testing.T) {
	for _, tt := range []struct{ name, rule, told, more string }{
		{"excludes", "if: 'facet_doubling == \"strong\"', excludes: [synthetic-moissanite]", "contradictory",
			"excluded +[synthetic-moissanite]"},
		{"cautions", "if: ri > 1.81, cautions: Look again.", "identified", "cautions +[Look again.]"},
		{"sends on", "if: ri > 1.81, sends_on: For a laboratory.", "identified", "sent on +[For a laboratory.]"},
		{"calls for", "if: ri > 1.81, calls_for: [polariscope]", "identified", "calls for +[polariscope]"},
		{"forbids", "if: ri > 1.81, forbids: [hydrostatic-weighing]", "identified", "forbids +[hydrostatic-weighing]"},
		{"sets aside", "if: ri > 1.81, sets_aside: [specific_gravity]", "identified", "set aside +[specific_gravity]"},
		{"weighs", "if: 'facet_doubling == \"strong\"', supports: {materials: [diamond-topped-doublet], strength: " +
			"moderate}", "identified", "toward [diamond-topped-doublet]"},
		{"made already", "if: ri > 1.81, calls_for: [loupe-doubling]", "nothing", ""},
		{"always", "cautions: Said of every stone.", "identified", "cautions +[Said of every stone.]"},
		{"fails", "if: 'facet_doubling == \"none\"', cautions: Look again.", "not told", ""},
		{"not read", "if: 'polariscope == \"stays dark\"', cautions: Look again.", "not told", ""},
		{"undecided, and would change nothing", "if: specific_gravity > 3.21, cautions: Look again.", "not told", ""},
		{"can't be evaluated, and only cautions", "if: specific_gravity / (ri - ri) > 1, cautions: Look again.",
			"identified", "faults +[The rule draft could not be evaluated"},
		{"can't be evaluated", "if: specific_gravity / (ri - ri) > 1, family: density, weakens: {materials: " +
			"[quartz], ratio: 2}", "inconclusive", "faults +[The rule draft could not be evaluated"},
		{"waits for its exception", "if: ri > 1.81, unless: specific_gravity > 3.21, cautions: Look again.",
			"identified", "waiting +[The rule draft would apply"},
		{"ended", "if: ri > 1.81, cautions: Look again., until: 2031-03-01", "not told", ""},
		{"begins later", "if: ri > 1.81, cautions: Look again., since: 2031-05-01", "identified",
			"cautions +[Look again.]"},
	} {
		rs := loaded(t, "  - {rule: draft, says: A draft., status: draft, source: invented, "+tt.rule+"}\n")
		out := tried(t, rs, moissanite)
		if tt.told == "not told" {
			if len(out.Drafts) > 0 {
				t.Errorf("%s: it is told: %+v", tt.name, out.Drafts[0])
			}
			continue
		}
		if len(out.Drafts) != 1 || out.DraftsTogether != nil || out.Verdict != "identified" {
			t.Errorf("%s: %+v", tt.name, out.Drafts)
			continue
		}
		w := out.Drafts[0].Would
		if w == nil {
			if tt.told != "nothing" {
				t.Errorf("%s: nothing would change", tt.name)
			}
			continue
		}
		if w.Verdict != tt.told || !strings.Contains(gains(w), tt.more) {
			t.Errorf("%s: %s; %s", tt.name, w.Verdict, gains(w))
		}
	}
}

func gains(w *engine.Would) string {
	says := fmt.Sprintf("toward %v; ", w.Toward)
	for _, x := range []struct {
		name string
		engine.Gain
	}{{"excluded", w.Excluded}, {"set aside", w.SetAside}, {"cautions", w.Cautions}, {"sent on", w.SentOn},
		{"calls for", w.CallsFor},
		{"forbids", w.Forbids}, {"waiting", w.Waiting}, {"faults", w.Faults}} {
		if len(x.Added) > 0 {
			says += fmt.Sprintf("%s +%v; ", x.name, x.Added)
		}
		if len(x.Removed) > 0 {
			says += fmt.Sprintf("%s -%v; ", x.name, x.Removed)
		}
	}
	return says
}

// TestTogether: drafts that stand on each other change more together than each by itself, and may be at odds.
func TestTogether(t *testing.T) {
	chain := `
  - {rule: first, says: x, if: ri > 1.81, establishes: {seen_dark: true}, status: draft, source: invented}
  - {rule: second, says: x, if: seen_dark, cautions: Dark to its end., status: draft, source: invented}
`
	out := tried(t, loaded(t, chain), moissanite)
	if len(out.Drafts) != 1 || *out.Drafts[0].Rule != "first" || out.Drafts[0].Would != nil {
		t.Errorf("alone: %+v", out.Drafts)
	}
	if all := out.DraftsTogether; all == nil || !slices.Equal(all.Rules, []string{"first", "second"}) ||
		all.Would == nil ||
		!slices.Equal(all.Would.Cautions.Added, []string{"Dark to its end."}) {
		t.Errorf("together: %+v", all)
	}

	circle := chain + "  - {rule: third, says: x, if: seen_dark, sets_aside: [ri], status: draft, source: invented}\n"
	out = tried(t, loaded(t, circle), moissanite)
	if all := out.DraftsTogether; all == nil || all.Would != nil || len(all.Error) == 0 ||
		all.Error[0].Code != "circle-of-facts" {
		t.Errorf("in a circle: %+v", all)
	}
	if out.Verdict != "identified" || len(out.Drafts) != 1 {
		t.Error("the judging failed with them")
	}

	same := tried(t, loaded(t, chain+"  - {rule: no-matter, says: x, if: ri < 1.5, cautions: x, status: draft, "+
		"source: invented}\n"), "case: D-2\nreadings: {ri: 1.45}\n")
	if same.DraftsTogether != nil || len(same.Drafts) != 1 {
		t.Errorf("all would change what the one told would: %+v", same.DraftsTogether)
	}
}

// TestCannotBeActive: what keeps a draft from being active is told beside the verdict.
func TestCannotBeActive(t *testing.T) {
	out := tried(t, loaded(t, `
  - {rule: asks, says: x, if: grey_area, sets_aside: [ri], source: invented}
  - {rule: answers, says: x, if: specific_gravity > 4, establishes: {grey_area: true}, source: invented}
  - {rule: draft, says: x, if: ri > 1.81, establishes: {grey_area: true}, status: draft, source: invented}
`), moissanite)
	if len(out.Drafts) != 1 || out.Drafts[0].Would != nil || len(out.Drafts[0].Error) == 0 ||
		out.Drafts[0].Error[0].Code != "circle-of-facts" {
		t.Fatalf("%+v", out.Drafts)
	}
	if out.Verdict == "" || len(out.Faults) > 0 {
		t.Error("the judging failed with it")
	}
}

// TestBasisThroughDraft: a draft that fails can change the weight of evidence that rests on its fact, and is told then.
func TestBasisThroughDraft(t *testing.T) {
	rules := `
  - {rule: says-so, says: x, if: ri > 1.81, establishes: {grey_area: true}, source: invented}
  - {rule: weighs, says: x, if: grey_area, supports: {materials: [diamond-topped-doublet], strength: moderate}, family: refraction, source: invented}
  - {rule: draft, says: x, if: 'facet_doubling == "none"', establishes: {grey_area: true}, status: draft, source: invented}
`
	out := tried(t, loaded(t, rules), moissanite)
	c := read(t, loaded(t, strings.Replace(rules, "status: draft", "status: active", 1)), moissanite)
	active := engine.Prepare(loaded(t, strings.Replace(rules, "status: draft", "status: active",
		1))).NewJudge().Judge(c, noon)
	if told, changes := len(out.Drafts) == 1, diff.Outputs(out, active) != nil; !told || !changes {
		t.Errorf("told: %t, and it changes something: %t", told, changes)
	}
}

// TestAsWritten: what a draft would change is what it does change once the files say that it is active: over all demo
// cases, for a draft of every kind, each judged by a ruleset that was loaded from such files and a case that was read
// by it.
func TestAsWritten(t *testing.T) {
	rules := []string{
		"  - {rule: d-excludes, says: x, if: ri > 1.81 and specific_gravity > 3, excludes: [natural-diamond, " +
			"cubic-zirconia], family: density, STATUS, source: invented}\n",
		"  - {rule: d-sets-aside, says: x, if: not stone.mounted, sets_aside: [thermal_probe, breath_fog], STATUS, " +
			"source: invented}\n",
		"  - {rule: d-supports, says: x, if: 'colour == \"colourless\"', supports: {materials: [glass], strength: " +
			"moderate}, STATUS, source: invented}\n",
		"  - {rule: d-weakens, says: x, if: 'thermal_probe == \"diamond range\"', weakens: {materials: [diamond], " +
			"strength: strong}, STATUS, source: invented}\n",
		"  - {rule: d-cautions, says: x, if: claim == \"diamond\", cautions: x, forbids: [polariscope], calls_for: " +
			"[polariscope, loupe-doubling], STATUS, source: invented}\n",
		"  - {rule: d-sends-on, says: x, if: stake > 1000, sends_on: x, STATUS, source: invented}\n",
	}
	written := func(active int) string {
		var b strings.Builder
		for i, r := range rules {
			b.WriteString(strings.Replace(r, "STATUS", "status: "+map[bool]string{true: "active",
				false: "draft"}[i == active || active == len(rules)], 1))
		}
		return b.String()
	}
	base := loaded(t, written(-1))
	d, e := New(base), engine.Prepare(base)
	var others []*engine.Engine
	for i := 0; i <= len(rules); i++ {
		others = append(others, engine.Prepare(loaded(t, written(i))))
	}
	changed := map[string]int{}
	for _, text := range demoCases(t) {
		c := read(t, base, text)
		out := e.NewJudge().Judge(c, noon)
		d.Try(c, noon, out)
		for i, other := range others {
			is := other.NewJudge().Judge(read(t, other.Ruleset, text), noon)
			want := diff.Outputs(out, is)
			got, told := wouldOf(out, base, i)
			if !told {
				got = nil
			}
			if told && !reflect.DeepEqual(got, want) || !told && want != nil {
				t.Errorf("%s, rule %d: told %t\n%+v, want\n%+v", c.ID, i, told, got, want)
			}
			if want != nil {
				changed[fmt.Sprint(i)]++
				if want.Verdict != is.Verdict || want.Says != is.Says {
					t.Errorf("%s: another verdict is told than is reached", c.ID)
				}
			}
		}
	}
	for i := range others {
		if changed[fmt.Sprint(i)] == 0 {
			t.Errorf("the rule %d changes no demo case, so nothing was tried by it", i)
		}
	}
}

// wouldOf is what is told of the i-th draft by id as it stands in the files, or of all.
func wouldOf(out *engine.Output, rs *kb.Ruleset, i int) (*engine.Would, bool) {
	ids := []string{"d-excludes", "d-sets-aside", "d-supports", "d-weakens", "d-cautions", "d-sends-on"}
	if i == len(ids) {
		if out.DraftsTogether == nil {
			if len(out.Drafts) == 1 {
				return out.Drafts[0].Would, true
			}
			return nil, false
		}
		return out.DraftsTogether.Would, true
	}
	for _, n := range out.Drafts {
		if *n.Rule == ids[i] {
			return n.Would, true
		}
	}
	return nil, false
}

func demoCases(t *testing.T) []string {
	files, err := filepath.Glob("../../testdata/demo/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no demo cases", err)
	}
	var out []string
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, string(text))
	}
	return out
}

// TestMadeOnce: a ruleset with a draft active is made when it is needed first, once, whoever asks at the same time;
// without drafts nothing is made.
func TestMadeOnce(t *testing.T) {
	rs := loaded(t, `
  - {rule: holds, says: x, if: ri > 1.81, cautions: Look again., status: draft, source: invented}
  - {rule: fails, says: x, if: ri < 1.5, cautions: Look again., status: draft, source: invented}
`)
	d, e := New(rs), engine.Prepare(rs)
	c := read(t, rs, moissanite)
	first := d.trial([]string{"holds"})
	if first.engine != nil {
		t.Error("it was made before anybody asked")
	}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			out := e.NewJudge().Judge(c, noon)
			d.Try(c, noon, out)
			if len(out.Drafts) != 1 || out.Drafts[0].Would == nil {
				t.Errorf("%+v", out.Drafts)
			}
		})
	}
	all.Wait()
	made := first.engine
	d.Try(c, noon, e.NewJudge().Judge(c, noon))
	if made == nil || d.trial([]string{"holds"}).engine != made {
		t.Error("it was made again")
	}
	if d.trial([]string{"fails"}).engine != nil {
		t.Error("one was made for a draft that fails")
	}
	none := loaded(t, "")
	if n := New(none); testing.AllocsPerRun(10, func() { n.Try(c, noon, &engine.Output{}) }) > 1 {
		t.Error("a ruleset without drafts costs something")
	}
}

// TestUnder: a case is read by the other ruleset's own observables, its correlations too.
func TestUnder(t *testing.T) {
	a, b := loaded(t, ""), loaded(t, "")
	c := read(t, a, "case: U-1\nreadings: {ri: [1.544, 1.553], specific_gravity: 2.65}\ncorrelations: [{of: [ri, "+
		"specific_gravity], r: 0.3}]\n")
	x := Under(b, c)
	for i, r := range x.Readings {
		if r.Observable != b.Vocabulary.Observables[c.Readings[i].Observable.Index] ||
			c.Readings[i].Observable != a.Vocabulary.Observables[r.Observable.Index] {
			t.Errorf("%s is of the wrong vocabulary", r.Name())
		}
	}
	if k := x.Correlations[0]; k.A != b.Vocabulary.Observable(k.A.Name) || k.B != b.Vocabulary.Observable(k.B.Name) ||
		k.R != 0.3 {
		t.Error("the correlation is of the wrong vocabulary")
	}
	if c.Correlations[0].A != a.Vocabulary.Observable("ri") {
		t.Error("the case itself was changed")
	}
}

// TestWaitingForReading: a draft that waits for a reading nobody took is not told, though its fact would no longer
// fail.
func TestWaitingForReading(t *testing.T) {
	rules := `
  - {rule: without, says: x, if: not looked_flawed, cautions: Look for flaws., source: invented}
  - {rule: draft, says: x, if: '"feather" in inclusions', establishes: {looked_flawed: true}, status: draft, source: invented}
`
	if out := tried(t, loaded(t, rules), moissanite); len(out.Drafts) != 0 {
		t.Errorf("%+v", out.Drafts)
	}
	inconclusive := strings.Replace(moissanite, "{thermal", "{inclusions: {inconclusive: dirty}, thermal", 1)
	out := tried(t, loaded(t, rules), inconclusive)
	if len(out.Drafts) != 1 || out.Drafts[0].Would == nil || !slices.Contains(out.Drafts[0].Would.Cautions.Removed,
		"Look for flaws.") {
		t.Errorf("that stayed inconclusive: %+v", out.Drafts)
	}
}

// TestFewAreKept: rulesets with drafts active are large, so that few of them are kept, and one let go of is made anew.
func TestFewAreKept(t *testing.T) {
	d := New(&kb.Ruleset{})
	first := d.trial([]string{"0"})
	for i := range 3 * mostKept {
		d.trial([]string{strconv.Itoa(i)})
		if len(d.trials) > mostKept || len(d.trials) != len(d.kept) {
			t.Fatalf("%d trials are kept under %d keys", len(d.trials), len(d.kept))
		}
	}
	if d.trial([]string{"0"}) == first {
		t.Error("the oldest was kept")
	}
	if again := d.trial([]string{"0"}); again != d.trial([]string{"0"}) {
		t.Error("a trial is made twice")
	}
}
