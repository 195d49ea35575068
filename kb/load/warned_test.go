package load_test

import (
	"cmp"
	"strings"
	"testing"

	"whystone/kb/load/loadtest"
)

// TestWarned: what a house may write, and hardly means; and what is like it and sound.
func TestWarned(t *testing.T) {
	yields := func(family string) string {
		return "tests: [{test: t, name: t, harm: none, source: x, yields: {q: {kind: choice, family: " + family +
			", blunder: 0.1, choices: [a, b]}}}]"
	}
	measures := func(u string) string {
		return "tests: [{test: t, name: t, harm: none, source: x, yields: {q: {kind: quantity, family: density, " +
			"unit: \"1\", span: [1, 8], uncertainty: " + u + ", blunder: 0.1}}}]"
	}
	also := func(u string) string {
		return "tests: [{test: t, name: t, harm: none, source: x, yields: {ri: {uncertainty: " + u +
			", blunder: 0.1}}}]"
	}
	own := func(u string) string {
		return "policy: {instruments: [{instrument: i, test: weighing, uncertainty: " + u + "}]}"
	}
	priors := func(p string) string { return "policy: {priors: {" + p + "}}" }
	under := func(leaf, group string) string {
		return "materials: [{group: g, under: stones, name: g, note: y, " + cmp.Or(group, "formula: C") +
			"}, {material: m, under: g, name: m, origin: natural, " + leaf + "}]\n"
	}
	for text, code := range map[string]string{
		yields("absorpsion"): "near-family", yields("thermol"): "near-family", yields("densitty"): "near-family",
		yields("refrction"): "near-family", yields("doubel refraction"): "near-family", yields("luminescence"): "",
		yields("absorption"): "", yields("magnetic"): "", yields("tenacity"): "", yields("hardness"): "",

		measures("10"): "bad-policy", measures("2"): "bad-policy", also("2"): "bad-policy", own("10"): "bad-policy",
		own("3"): "bad-policy", measures("1"): "", measures("0.001"): "", also("0.01"): "", own("0.5"): "",
		own("0.01"): "",

		under("seen_at_counter: rare", "") + priors("g: 0.001"):                                "idle-prior",
		under("seen_at_counter: common", "seen_at_counter: rare") + priors("g: 50"):            "idle-prior",
		under("seen_at_counter: everyday", "") + priors("g: 1, lead-glass: 2"):                 "idle-prior",
		under("seen_at_counter: rare", "") + priors("g: 3, m: 4"):                              "idle-prior",
		under("seen_at_counter: rare", "seen_at_counter: common") + priors("quartz: 20, g: 7"): "idle-prior",
		under("note: x", "seen_at_counter: rare") + priors("g: 5"):                             "",
		priors("quartz: 0.01"): "", priors("glass: 5"): "", priors("rock-crystal: 0.01"): "",
		priors("lead-glass: 100"): "", priors("grown-diamond: 1"): "", priors("rock-crystal: 1e9"): "bad-policy",
		priors("rock-crystal: 1e-9"): "bad-policy", priors("glass: 1000000"): "bad-policy",
		priors("lead-glass: 500000"): "bad-policy", priors("natural-diamond: 0.0001"): "bad-policy",
	} {
		rs, out := loadtest.House(t, map[string]string{"h.yaml": "format: 1\n" + text + "\n"})
		switch {
		case rs == nil:
			t.Errorf("%s\n%s", text, loadtest.Render(t, out))
		case code == "" && len(out) > 0:
			t.Errorf("%s is sound\n%s", text, loadtest.Render(t, out))
		case code != "" && (len(out) != 1 || string(out[0].Code) != code || out[0].Detail == "" ||
			!strings.HasPrefix(out[0].Span.Source.Name, "house/")):
			t.Errorf("%s: want %s\n%s", text, code, loadtest.Render(t, out))
		}
	}
}
