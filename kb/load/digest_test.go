package load_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/internal/emit"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
	"whystone/kb/syntax"
)

// dump is all of a ruleset that anyone can see from outside, but for places.
func dump(t interface{ Fatal(...any) }, rs *kb.Ruleset) string {
	var order []string
	for _, r := range rs.Order {
		order = append(order, r.ID)
	}
	type selection struct {
		ID, Says, Family string
		Leaves           []int
		Basis            []string
	}
	var rules []selection
	for _, r := range rs.Rules {
		s := selection{ID: r.ID, Says: r.Says, Family: r.Family}
		if r.Excludes != nil {
			s.Leaves = r.Excludes.Leaves
		}
		for _, a := range r.Basis {
			s.Basis = append(s.Basis, a.String())
		}
		rules = append(rules, s)
	}
	policy := *rs.Policy
	policy.Zone, policy.GateSpans = nil, nil
	for i := range policy.Claims {
		policy.Claims[i].Span = diag.Span{}
	}
	text, err := json.MarshalIndent([]any{rs.Digest, order, rules, rs.NodeIDs(), rs.TestIDs(), rs.Vocabulary, policy,
		rs.Priors(), rs.ClaimWords(), rs.Program.Len(), rs.Program.Leaves(), rs.Scope.Names()}, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// retold is the small ruleset told anew: its sheets shared out among files of other names, in any order, with the keys
// of every mapping in any order, in quotes or not, among comments.
func retold(t *rapid.T, files fstest.MapFS) []kb.File {
	told := func(n *syntax.Node) string {
		n = emit.Reordered(n, func(e []syntax.Entry) []syntax.Entry { return shuffle(t, e) })
		if rapid.Bool().Draw(t, "in quotes") {
			return emit.JSON(n)
		}
		return syntax.WriteLine(n)
	}
	var sheets []string
	for _, name := range slices.Sorted(maps.Keys(files)) {
		var out diag.List
		root := syntax.ParseYAML(diag.NewSource(name, files[name].Data), &out)[0]
		for _, entry := range root.Entries {
			switch {
			case entry.Value.Kind == syntax.List:
				for _, sheet := range entry.Value.Items {
					sheets = append(sheets, entry.Key.Text+": [ # "+rapid.StringMatching(`[a-z# ]*`).Draw(t, "comment")+
						"\n  "+told(sheet)+"]\n")
				}
			case entry.Key.Text == "policy":
				for _, p := range entry.Value.Entries {
					sheets = append(sheets, "policy: {"+p.Key.Text+": "+told(p.Value)+"}\n\n# and so on\n")
				}
			}
		}
	}
	var out []kb.File
	for i, s := range shuffle(t, sheets) {
		text := "format: 1 # here too\n" + s
		if n := len(out); n > 0 && rapid.Bool().Draw(t, "in the same file") {
			out[n-1].Source = diag.NewSource(out[n-1].Source.Name, append(append([]byte(nil), out[n-1].Source.Text...),
				"---\n"+text...))
			continue
		}
		name := fmt.Sprintf("%s-%d.yaml", rapid.StringMatching(`[a-z]{1,5}`).Draw(t, "name"), i)
		out = append(out, kb.File{Layer: "small", Path: name, Source: diag.NewSource("small/"+name, []byte(text))})
	}
	return out
}

func shuffle[T any](t *rapid.T, list []T) []T {
	if len(list) < 2 {
		return list
	}
	return rapid.Permutation(list).Draw(t, "order")
}

// TestRetold: how a ruleset is written changes nothing of it, the digest included, save the order in which forms ask.
func TestRetold(t *testing.T) {
	want := dump(t, loadtest.Must(t, nil))
	files := loadtest.Small(t, nil)
	rapid.Check(t, func(t *rapid.T) {
		told := retold(t, files)
		rs, out := load.Build(told)
		if rs == nil || len(out) > 0 {
			t.Fatalf("%v\n%s", out, told[0].Source.Text)
		}
		if d := cmp.Diff(want, dump(t, rs)); d != "" {
			t.Fatal(d)
		}
	})
}

// TestDigestChanges: whatever says something else, be it a word of a source, makes another ruleset.
func TestDigestChanges(t *testing.T) {
	seen := map[string]string{loadtest.Must(t, nil).Digest: "nothing"}
	if d := loadtest.Must(t, nil).Digest; !regexp.MustCompile(`^sha256:[0-9a-f]{64}$`).MatchString(d) {
		t.Errorf("the digest is %q", d)
	}
	for _, change := range []struct{ file, old, new string }{
		{"rules.yaml", "Doubled facet edges need two rays.", "Doubled facet edges want two rays."},
		{"rules.yaml", "ri > 1.81", "ri > 1.80"},
		{"rules.yaml", "ri > 1.81", "ri  > 1.81"},
		{"rules.yaml", "ratio: 4", "ratio: 5"},
		{"rules.yaml", "source: invented for tests", "source: invented for tests\n    note: more"},
		{"rules.yaml", "rule: wet-stone", "rule: wet-stones"},
		{"rules.yaml", "source: invented for tests", "source: invented for a test"},
		{"rules.yaml", "facet_doubling: strong}, is: holds", "facet_doubling: slight}, is: holds"},
		{"materials.yaml", "range: [2.417, 2.419]", "range: [2.4169, 2.419]"},
		{"materials.yaml", "tolerance: 0.01", "tolerance: 0.02"},
		{"materials.yaml", "also: [created diamond]", "also: [created  diamond]"},
		{"tests.yaml", "minutes: 4", "minutes: 5"},
		{"tests.yaml", "harm: none", "harm: contact"},
		{"tests.yaml", "slight: {also: [weak]}", "slight: {also: [faint]}"},
		{"policy.yaml", "currency: EUR", "currency: GBP"},
		{"policy.yaml", "usually: 0.85", "usually: 0.86"},
		{"policy.yaml", "priors: {}", "priors: {glass: 30}"},
		{"policy.yaml", "instruments: []", "instruments: [{instrument: balance-a, test: weighing}]"},
		{"policy.yaml", "priors: {}", "every_sheet_says: [colour]"},
		{"policy.yaml", "priors: {}", "every_sheet_says: [ri]"},
		{"rules.yaml", "sets_aside: breath_fog", "withholds: {names: [quartz]}"},
		{"rules.yaml", "sets_aside: breath_fog", "withholds: {names: [quartz], until: seen(ri)}"},
		{"rules.yaml", "sets_aside: breath_fog", "withholds: {names: [quartz], beside: [glass]}"},
		{"rules.yaml", "weakens: {materials: [quartz], ratio: 4}",
			"weakens: {materials: [quartz, unlisted], ratio: 4}"},
		{"materials.yaml", "name: quartz\n", "name: quartz\n    grown: listed\n"},
		{"materials.yaml", "name: quartz\n", "name: quartz\n    others: [{origin: natural}]\n"},
		{"materials.yaml", "name: quartz\n", "name: quartz\n    others: [{origin: natural, seen_at_counter: rare}]\n"},
		{"materials.yaml", "name: quartz\n", "name: quartz\n    in_verdicts: [{colour: [blue], says: blue quartz}]\n"},
		{"materials.yaml", "name: quartz\n", "name: quartz\n    in_verdicts: [{colour: [red], says: blue quartz}]\n"},
		{"tests.yaml", "says: A dry stone.", "says: A dry stone., spoils: true"},
		{"tests.yaml", "uncertainty: 0.02", "uncertainty: \"value * drift\", otherwise: 0.02, figures: {drift: 0.01}"},
		{"tests.yaml", "uncertainty: 0.02", "uncertainty: \"value * drift\", otherwise: 0.02, figures: {drift: 0.02}"},
	} {
		text, err := os.ReadFile("testdata/small/" + change.file)
		if err != nil {
			t.Fatal(err)
		}
		changed := strings.Replace(string(text), change.old, change.new, 1)
		if changed == string(text) {
			t.Fatalf("%q is not in %s", change.old, change.file)
		}
		rs, out := load.Load(t.Context(), loadtest.Stack(loadtest.Small(t, map[string]string{change.file: changed}),
			nil))
		if rs == nil {
			t.Fatal(loadtest.Render(t, out))
		}
		if what, same := seen[rs.Digest]; same {
			t.Errorf("%q makes the ruleset of %q", change.new, what)
		}
		seen[rs.Digest] = change.new
	}
}

// TestDigestOfSpellings: numbers are numbers however they are written; a number in quotes is a text.
func TestDigestOfSpellings(t *testing.T) {
	digest := func(ratio string) string {
		return loadtest.WithRules(t, "  - {rule: r, says: x, if: ri > 1, supports: {materials: [glass], ratio: "+ratio+
			"}}\n").Digest
	}
	for _, same := range []string{"4.0", "4e0", "0.4e1"} {
		if digest(same) != digest("4") {
			t.Errorf("%s is another ruleset than 4", same)
		}
	}
	said := func(note string) string {
		return loadtest.WithRules(t, "  - {rule: r, says: x, cautions: x, note: "+note+"}\n").Digest
	}
	if said(`"true"`) == said("yes it is") || said(`"4"`) == said(`"4.0"`) {
		t.Error("texts that differ are one")
	}
}

// TestLayersAreNotInTheDigest: what counts is what is left after layering, not which layer it comes from.
func TestLayersAreNotInTheDigest(t *testing.T) {
	rule := "format: 1\nrules: [{rule: r, says: x, cautions: x}]\n"
	above := loadtest.Must(t, map[string]string{"r.yaml": rule})
	beside, out := load.Load(t.Context(), loadtest.Stack(loadtest.Small(t, map[string]string{"r.yaml": rule}), nil))
	if beside == nil || above.Digest != beside.Digest {
		t.Errorf("%v", out)
	}
	retired := loadtest.Must(t, map[string]string{"r.yaml": "format: 1\nretires: [{rule: wet-stone, because: x}]\n"})
	if retired.Digest == loadtest.Must(t, nil).Digest {
		t.Error("retiring a rule changes nothing")
	}
}

// writtenRule is what the topmost layer's sheet of a rule says.
func writtenRule(rs *kb.Ruleset, id string) (written string) {
	for _, s := range rs.Sheets {
		if s.Kind == kb.RuleSheet && s.ID == id {
			written = s.Written
		}
	}
	return written
}
