package load_test

import (
	"slices"
	"strings"
	"testing"
	"whystone/kb"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"

	"pgregory.net/rapid"
)

// TestOrder: each rule comes after all that it depends on; where the order is free it follows the ids.
func TestOrder(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: a-reads-fact, says: x, if: late_fact, cautions: x}
  - {rule: b-reads-aside, says: x, if: colour == "red", cautions: x}
  - {rule: c-reads-through-unless, says: x, unless: late_fact, cautions: x}
  - {rule: d-derives, says: x, if: ri > 1, establishes: {derived: {is: specific_gravity * 2}}}
  - {rule: y-sets-aside, says: x, if: stone.coated, sets_aside: [colour, specific_gravity]}
  - {rule: z-draft-too, says: x, if: stone.warm, sets_aside: [colour], status: draft}
  - {rule: z-establishes, says: x, if: ri > 1.5, establishes: {late_fact: true}}
`)
	place := map[string]int{}
	for i, r := range rs.Order {
		place[r.ID] = i
		if r.Turn != i {
			t.Errorf("%s says it is number %d, and is %d", r.ID, r.Turn, i)
		}
	}
	for _, pair := range [][2]string{{"z-establishes", "a-reads-fact"}, {"y-sets-aside", "b-reads-aside"},
		{"z-draft-too", "b-reads-aside"},
		{"z-establishes", "c-reads-through-unless"}, {"y-sets-aside", "d-derives"},
		{"over-the-limit", "dense-for-its-index"}, {"y-sets-aside", "dense-for-its-index"}} {
		if place[pair[0]] > place[pair[1]] {
			t.Errorf("%s comes after %s, which depends on it", pair[0], pair[1])
		}
	}
	if rs.Order[0].ID != "z-establishes" || rs.Order[1].ID != "a-reads-fact" {
		t.Errorf("it begins with %s, %s", rs.Order[0].ID, rs.Order[1].ID)
	}
}

// TestOrderOfRandomRules: random rules without a circle are put in an order that respects every dependence; with an
// edge that closes a circle they are refused, and the circle that is printed is one.
func TestOrderOfRandomRules(t *testing.T) {
	base := loadtest.Small(t, nil)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "rules")
		names := rapid.Permutation(strings.Fields("ash bay cedar dale elm fir gorse hazel")[:n]).Draw(t, "names")
		reads := map[string][]string{}
		for i := 1; i < n; i++ {
			for j := range i {
				if rapid.IntRange(0, 2).Draw(t, "reads") == 0 {
					reads[names[i]] = append(reads[names[i]], names[j])
				}
			}
		}
		built := func() (*kb.Ruleset, []string) {
			text := "format: 1\nrules:\n"
			for _, name := range names {
				cond := "ri > 1"
				for _, r := range reads[name] {
					cond += " and fact_" + r
				}
				text += "  - {rule: " + name + ", says: x, if: " + cond + ", establishes: {fact_" + name + ": true}}\n"
			}
			rs, out := load.Load(t.Context(), loadtest.Stack(base, map[string]string{"r.yaml": text}))
			if rs != nil {
				return rs, nil
			}
			if len(out) != 1 || out[0].Code != "circle-of-facts" {
				t.Fatal(out)
			}
			var circle []string
			for _, line := range strings.Split(strings.TrimSuffix(out[0].Detail, "."), ";\n") {
				from, rest, _ := strings.Cut(line, " reads fact_")
				by, _, _ := strings.Cut(rest, ",")
				if !slices.Contains(reads[from], by) || !strings.HasSuffix(rest, "established by "+by) {
					t.Fatalf("%s does not read %s: %s", from, by, out[0].Detail)
				}
				circle = append(circle, from, by)
			}
			if circle[0] != circle[len(circle)-1] {
				t.Fatalf("that is no circle: %s", out[0].Detail)
			}
			return nil, circle
		}
		rs, _ := built()
		if rs == nil {
			t.Fatal("rules without a circle were refused")
		}
		for name, list := range reads {
			for _, r := range list {
				if rs.Rule(r).Turn > rs.Rule(name).Turn {
					t.Fatalf("%s comes after %s", r, name)
				}
			}
		}
		if i := rapid.IntRange(1, n-1).Draw(t, "closes"); len(reads[names[i]]) > 0 {
			back := reads[names[i]][0]
			reads[back] = append(reads[back], names[i])
			if rs, circle := built(); rs != nil || len(circle) < 4 {
				t.Fatal("a circle was let through")
			}
		}
	})
}
