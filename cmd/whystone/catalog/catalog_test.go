package catalog

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"whystone/kb"
	"whystone/kb/load"
)

func desk(t *testing.T) *kb.Ruleset {
	t.Helper()
	rs, found := load.Load(context.Background(), []load.Layer{{Name: "desk",
		FS: os.DirFS(filepath.Join("..", "testdata", "desk"))}})
	if rs == nil {
		t.Fatal(found)
	}
	return rs
}

func TestFindMaterial(t *testing.T) {
	rs := desk(t)
	for name, want := range map[string]string{
		"cubic-zirconia":    "cubic-zirconia",
		"Cubic  Zirconia":   "cubic-zirconia",
		"cz":                "cubic-zirconia",
		"vapour-diamond":    "cvd-diamond",     // a former id
		"diamond":           "diamond",         // an id comes before the policy's word for a claim
		"colourless quartz": "rock-crystal",    // another name
		"natural diamond":   "natural-diamond", // its name
		"paste":             "ordinary-glass",
	} {
		m, err := FindMaterial(rs, name)
		if err != nil || m.ID != want {
			t.Errorf("%q: %v %v, want %s", name, m, err, want)
		}
	}
}

// TestEveryNameFindsItsSheet: whatever a sheet calls itself leads back to it, unless another sheet says the same.
func TestEveryNameFindsItsSheet(t *testing.T) {
	rs := desk(t)
	for _, m := range rs.Nodes {
		for _, name := range slices.Concat([]string{m.ID, m.Name}, m.Also, m.Was) {
			if got, err := FindMaterial(rs, name); err != nil || got != m {
				t.Errorf("%q does not lead to %s: %v", name, m.ID, err)
			}
		}
	}
	for _, x := range rs.Tests {
		for _, name := range slices.Concat([]string{x.ID, x.Name}, x.Also, x.Was) {
			if got, err := FindTest(rs, name); err != nil || got != x {
				t.Errorf("%q does not lead to %s: %v", name, x.ID, err)
			}
		}
		for _, y := range x.Yields {
			if got, err := FindTest(rs, y.Observable.Name); err != nil || got.ID != y.Observable.Test {
				t.Errorf("%q does not lead to %s: %v", y.Observable.Name, y.Observable.Test, err)
			}
		}
	}
	for _, r := range rs.Rules {
		if got, err := FindRuleOrTable(rs, r.ID); err != nil || got.Rule != r {
			t.Errorf("%q does not lead to its rule: %v", r.ID, err)
		}
	}
}

func TestMissing(t *testing.T) {
	rs := desk(t)
	_, err := FindMaterial(rs, "Moisanite")
	if got, want := err.Error(), `no material or group has the name "moisanite"; did you mean "moissanite"?`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	_, err = FindRuleOrTable(rs, "xyzzy")
	if got, want := err.Error(), `no rule has the name "xyzzy"`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	_, err = find(rs, materialOrGroup, "stone", []named{{"a", []string{"Stone"}}, {"b", []string{"stone"}}})
	if got, want := err.Error(), `several have the name "stone": a, b; give an id`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// TestJSONHasLists: what there is none of is [] or left out, never null, for those who read it by machine.
func TestJSONHasLists(t *testing.T) {
	rs := desk(t)
	var all []any
	for _, m := range rs.Nodes {
		all = append(all, OfMaterial(rs, m))
	}
	for _, x := range rs.Tests {
		all = append(all, OfTest(x))
	}
	for _, r := range rs.Rules {
		all = append(all, OfRule(rs, r))
	}
	for _, object := range all {
		text, err := json.Marshal(object)
		if err != nil {
			t.Fatal(err)
		}
		var back map[string]any
		if err := json.Unmarshal(text, &back); err != nil {
			t.Fatal(err)
		}
		for key, value := range back {
			if value == nil {
				t.Errorf("%s: %s is null", back["id"], key)
			}
		}
		if back["format"] != 1.0 || back["id"] == "" || back["file"] == "" || back["line"] == 0.0 {
			t.Errorf("format, id or place is missing: %s", text)
		}
	}
}
