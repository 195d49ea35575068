package rulesets_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"

	"whystone/engine"
	"whystone/kb"
)

// expectation is the key "expects" of a document under testdata/expected; the README there says what each word means.
type expectation struct {
	Why       string   `yaml:"why"`
	Is        string   `yaml:"is"`
	Source    string   `yaml:"source"` // of the separations of the gem desk
	Claimed   string   `yaml:"claimed"`
	Verdict   []string `yaml:"verdict"`
	Named     []string `yaml:"named"`
	Among     []string `yaml:"among"`
	NotAmong  []string `yaml:"not_among"`
	Claim     []string `yaml:"claim"`
	Group     []string `yaml:"group"`
	NotListed []string `yaml:"not_listed"`
	SetAside  []string `yaml:"set_aside"`
	Says      []string `yaml:"says"`
	NeverSays []string `yaml:"never_says"`
}

// expectedCase is a document: what is expected, and the case, which is everything else.
type expectedCase struct {
	Expects *expectation   `yaml:"expects"`
	Case    map[string]any `yaml:",inline"`
}

func expectedCases(t testing.TB, path string) []expectedCase {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var out []expectedCase
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	for {
		var c expectedCase
		switch err := d.Decode(&c); {
		case errors.Is(err, io.EOF):
			return out
		case err != nil:
			t.Fatalf("%s: %v", path, err)
		case c.Expects == nil && c.Case == nil: // comments before the first case
		case c.Expects == nil || c.Expects.Why == "":
			t.Fatalf("%s: %v expects nothing, or says not why", path, c.Case["case"])
		default:
			out = append(out, c)
		}
	}
}

// sound tells whether an expectation is written in words that mean something: one that is misspelt would hold of
// everything.
func (x *expectation) sound(t testing.TB, rs *kb.Ruleset) {
	t.Helper()
	for _, w := range []struct {
		key   string
		words []string
		of    []string
	}{
		{"claimed", []string{x.Claimed}, []string{"", "truly", "falsely"}},
		{"verdict", x.Verdict, []string{"identified", "narrowed", "inconclusive", "contradictory"}},
		{"claim", x.Claim, []string{"stands", "falls", "open"}},
		{"group", x.Group, []string{"stands", "falls", "open"}},
		{"not_listed", x.NotListed, []string{"likely", "possible", "no"}},
	} {
		for _, word := range w.words {
			if !slices.Contains(w.of, word) {
				t.Errorf("%s: %q is none of %q", w.key, word, w.of)
			}
		}
	}
	for _, observable := range x.SetAside {
		if rs.Vocabulary.Observable(observable) == nil {
			t.Errorf("set_aside: no observable %q", observable)
		}
	}
	for _, ids := range [][]string{x.Named, x.NotAmong} {
		if len(ids) > 0 && !slices.ContainsFunc(ids, func(id string) bool { return rs.NodeOrWas(id) != nil }) {
			t.Errorf("the ruleset has none of %q", ids)
		}
	}
	for _, id := range x.Among {
		if rs.NodeOrWas(id) == nil {
			t.Errorf("among: the ruleset has no %q", id)
		}
	}
}

// judged is what a case comes to, as people and programs get it.
type judged struct {
	*engine.Output
	notListed string // likely, possible or no
	told      []string
}

func judgeExpected(t testing.TB, rs *kb.Ruleset, j *engine.Judge, c expectedCase) judged {
	t.Helper()
	o := told(j, caseOf(t, rs, c.Case))
	text, err := json.Marshal(o)
	if err != nil {
		t.Fatal(err)
	}
	var more struct {
		NotListed *string `json:"not_listed"`
	}
	if err := json.Unmarshal(text, &more); err != nil {
		t.Fatal(err)
	}
	out := judged{Output: o, notListed: "no", told: []string{o.Says}}
	if more.NotListed != nil {
		out.notListed = *more.NotListed
	}
	for _, notes := range [][]engine.Note{o.Missing, o.SentOn, o.Cautions, o.CallsFor, o.Forbids, o.Flags, o.Faults} {
		for _, n := range notes {
			out.told = append(out.told, n.Says)
			if n.Rule != nil {
				out.told = append(out.told, *n.Rule)
			}
		}
	}
	for _, n := range o.CallsFor {
		out.told = append(out.told, "calls for "+*n.Test)
	}
	for _, n := range o.Forbids {
		out.told = append(out.told, "forbids "+*n.Test)
	}
	for _, a := range o.SetAside {
		out.told = append(out.told, a.Says)
		if a.Rule != nil {
			out.told = append(out.told, *a.Rule)
		}
	}
	return out
}

// heard tells whether a rule or some words are among what is told.
func (o judged) heard(words string) bool {
	return slices.ContainsFunc(o.told, func(s string) bool {
		return strings.Contains(strings.ToLower(s),
			strings.ToLower(words))
	})
}

// below tells whether a node is another, or lies below it.
func below(rs *kb.Ruleset, node, other string) bool {
	n, m := rs.NodeOrWas(node), rs.NodeOrWas(other)
	return n != nil && m != nil && n.Under(m)
}

// misnamed is the name that was given and must not be, or nothing.
func (c expectedCase) misnamed(rs *kb.Ruleset, o judged) string {
	if o.Named == nil || slices.ContainsFunc(c.Expects.Named,
		func(id string) bool { return rs.NodeOrWas(id) == rs.Node(*o.Named) }) {
		return ""
	}
	return *o.Named
}

// check tells how a verdict differs from what is expected, the name aside.
func (c expectedCase) check(t testing.TB, rs *kb.Ruleset, o judged) {
	t.Helper()
	x := c.Expects
	x.sound(t, rs)
	oneOf := func(what, got string, of []string) {
		t.Helper()
		if of != nil && !slices.Contains(of, got) {
			t.Errorf("%s %s, and it should be one of %v", what, got, of)
		}
	}
	oneOf("the verdict is", o.Verdict, x.Verdict)
	oneOf("not listed:", o.notListed, x.NotListed)
	answer, group := "", ""
	if o.Claim != nil {
		answer = o.Claim.Answer
		if o.Claim.GroupAnswer != nil {
			group = *o.Claim.GroupAnswer
		}
	}
	oneOf("the claim:", answer, x.Claim)
	oneOf("the group of the claim:", group, x.Group)
	switch {
	case x.Claimed == "truly" && answer == "falls":
		t.Errorf("a true claim falls")
	case x.Claimed == "falsely" && answer == "stands":
		t.Errorf("a false claim stands")
	case x.Claimed != "" && answer == "":
		t.Errorf("nothing is claimed, and it expects that it is %s", x.Claimed)
	}
	for _, id := range x.Among {
		if !slices.ContainsFunc(o.Candidates, func(m engine.Candidate) bool { return below(rs, m.Material, id) }) {
			t.Errorf("%s is not open any more", id)
		}
	}
	for _, id := range x.NotAmong {
		if slices.ContainsFunc(o.Nodes, func(n string) bool { return below(rs, n, id) }) {
			t.Errorf("narrowed to %v, and %s must not be among them", o.Nodes, id)
		}
	}
	for _, observable := range x.SetAside {
		if !slices.ContainsFunc(o.SetAside, func(a engine.SetAside) bool { return a.Observable == observable }) {
			t.Errorf("%s counts, and should be set aside", observable)
		}
	}
	for _, words := range x.Says {
		if !o.heard(words) {
			t.Errorf("%q is not told", words)
		}
	}
	for _, words := range x.NeverSays {
		if o.heard(words) {
			t.Errorf("%q is told: %q", words, o.told)
		}
	}
}

// lines is a verdict in short, for someone who must find out why it is not what was expected.
func (o judged) lines() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %v", o.Verdict, o.Nodes)
	if o.Named != nil {
		fmt.Fprintf(&b, " %s", *o.Named)
	}
	if o.Claim != nil {
		group := ""
		if o.Claim.GroupAnswer != nil {
			group = *o.Claim.GroupAnswer
		}
		fmt.Fprintf(&b, "; claim %s, group %s", o.Claim.Answer, group)
	}
	fmt.Fprintf(&b, "; not listed: %s, unlisted %.3f, doubt %.3f; open:", o.notListed, o.Unlisted, o.Doubt)
	for i, m := range o.Candidates {
		if i < 6 {
			fmt.Fprintf(&b, " %s %.3f", m.Material, m.Share)
		}
	}
	fmt.Fprintf(&b, "; missing %q", says(o.Missing))
	return b.String()
}

// A case under testdata/expected comes out as its expectation says.
func TestCasesComeOutAsExpected(t *testing.T) {
	rs := desk(t)
	paths, err := filepath.Glob("../testdata/expected/*.yaml")
	if err != nil || len(paths) < 8 {
		t.Fatalf("%d files of expected cases (%v)", len(paths), err)
	}
	total := 0
	for _, path := range paths {
		if filepath.Base(path) == unlistedFile {
			continue
		}
		for _, c := range expectedCases(t, path) {
			total++
			t.Run(strings.TrimSuffix(filepath.Base(path), ".yaml")+"/"+fmt.Sprint(c.Case["case"]), func(t *testing.T) {
				o := judgeExpected(t, rs, judge(t), c)
				if wrong := c.misnamed(rs, o); wrong != "" {
					t.Errorf("it is named %s, and may only be named %v", wrong, c.Expects.Named)
				}
				c.check(t, rs, o)
				if t.Failed() {
					t.Logf("%s\n%s", c.Expects.Why, o.lines())
				}
			})
		}
	}
	t.Logf("%d cases", total)
	if total < 150 {
		t.Errorf("only %d cases", total)
	}
}
