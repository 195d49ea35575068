package engine_test

import (
	"cmp"
	"os"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb"
)

func counter(t *testing.T) *kb.Ruleset {
	t.Helper()
	text, err := os.ReadFile("testdata/counter.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return build(t, "counter", string(text))
}

// What is named, kept back and answered, on cases of a small counter, reasoned by hand.
func TestWhatIsNamed(t *testing.T) {
	rs := counter(t)
	for _, c := range []struct {
		name, claim, stone, readings        string
		verdict, named, says, listing       string
		nodes                               string
		answer, why, group                  string
		rests, missing, setAside, candidate string
	}{
		{name: "nothing excludes a grown stone, so the species is named", claim: "sapphire",
			readings: "ri: [1.762, 1.770], specific_gravity: 4.00, colour: blue", verdict: "identified",
			named: "corundum", says: "corundum of a sapphire's colour", answer: "open", why: "origin-open",
			group: "stands"},
		{name: "a name that demands a colour is not used for another",
			readings: "ri: [1.762, 1.770], specific_gravity: 4.00, colour: colourless", verdict: "identified",
			named: "corundum", says: "Identified: corundum."},
		{name: "frequencies don't decide growth", claim: "sapphire",
			readings: "ri: [1.762, 1.770], specific_gravity: 4.00, inclusions: {looked_for: [curved striae], " +
				"features: [feather]}",
			verdict: "identified", named: "corundum", answer: "open", why: "origin-open"},
		{name: "one excluded origin, and the natural claim falls", claim: "sapphire",
			readings: "ri: [1.762, 1.770], specific_gravity: 4.00, inclusions: [curved striae]", verdict: "identified",
			named: "flame-fusion-corundum", answer: "falls", why: "named-other", group: "stands"},
		{name: "two exclusions by two tests, and the natural stone is named and stands", claim: "sapphire",
			readings: "ri: [1.762, 1.770], specific_gravity: 4.00, inclusions: [feather], zoning: straight",
			verdict:  "identified", named: "corundum", answer: "open", why: "origin-open"},
		{name: "the colour is another", claim: "ruby",
			readings: "ri: [1.762, 1.770], specific_gravity: 4.00, colour: blue",
			verdict:  "identified", named: "corundum", answer: "falls", why: "other-colour", group: "stands"},
		{name: "named as something else", claim: "sapphire",
			readings: "ri: 1.55, specific_gravity: 2.55, birefringence: 0",
			verdict:  "identified", named: "glass", answer: "falls", why: "named-other", group: "falls"},
		{name: "kept back until the density is read, beside garnet", claim: "sapphire",
			readings: "ri: [1.762, 1.770], birefringence: {inconclusive: the stone is small}, zoning: not seen",
			verdict:  "narrowed", missing: "An index near 1.76 alone", answer: "open"},
		{name: "nothing below a species whose grown stones are not listed", claim: "topaz",
			readings: "ri: [1.620, 1.628], specific_gravity: 3.53", verdict: "identified", named: "topaz",
			answer: "open", why: "grown-not-listed", group: ""},
		{name: "the only listed leaf of a group stands for it", claim: "precious topaz",
			readings: "ri: [1.620, 1.628], specific_gravity: 3.53", verdict: "identified", named: "topaz",
			answer: "open", group: "stands"},
		{name: "a species that is never grown is named and stands", claim: "danburite",
			readings: "ri: [1.630, 1.636], specific_gravity: 3.00", verdict: "identified", named: "danburite",
			answer: "stands", why: "named"},
		{name: "a garnet without a sheet of its own is garnet", claim: "garnet",
			readings: "ri: 1.80, birefringence: 0, specific_gravity: 4.20, assembly: {looked_for: [join plane]}",
			verdict:  "identified", named: "garnet", answer: "stands", why: "named", candidate: "garnet"},
		{name: "no doublet without its join", readings: "ri: 1.80, birefringence: 0, specific_gravity: 2.60",
			verdict: "inconclusive", missing: "only when its join was seen"},
		{name: "a doublet by its join", readings: "ri: 1.80, birefringence: 0, specific_gravity: 2.60, assembly: " +
			"[join plane]",
			verdict: "identified", named: "doublet"},
		{name: "a cloudy stone is likely not on the list", claim: "danburite",
			readings: "form: cloudy, ri: 1.66, specific_gravity: 3.33, birefringence: 0.02", verdict: "contradictory",
			listing: "likely", says: "no listed stone fits", answer: "falls", why: "not-listed", candidate: "unlisted"},
		{name: "an odd one out is possible", claim: "danburite", readings: "ri: [1.630, 1.636], specific_gravity: 3.30",
			verdict: "contradictory", listing: "possible", answer: "open", why: "contradiction"},
		{name: "a mounted stone was not weighed", stone: "mounted: true",
			readings: "ri: [1.630, 1.636], specific_gravity: 3.30", verdict: "narrowed", nodes: "danburite",
			setAside: "a loose stone"},
		{name: "a wet one was, and that is flagged", stone: "mounted: false, wet: true",
			readings: "ri: [1.630, 1.636], specific_gravity: 3.00", verdict: "identified", named: "danburite"},
		{name: "a glance is no second test", claim: "danburite", readings: "ri: [1.630, 1.636], colour: colourless",
			verdict: "narrowed", nodes: "danburite", answer: "open", missing: "two tests are needed"},
		{name: "no claim falls at a glance", claim: "ruby", readings: "colour: colourless, form: clear",
			verdict: "inconclusive", answer: "open"},
		{name: "where it goes keeps no name back", claim: "danburite",
			readings: "ri: [1.630, 1.636], specific_gravity: 3.00, colour: yellow", verdict: "identified",
			named: "danburite", answer: "open", why: "sent-on", group: ""},
		{name: "a caution that can't be evaluated is a fault and no more", claim: "danburite",
			readings: "ri: [1.630, 1.636], specific_gravity: {value: 3.0, uncertainty: 0.01}", verdict: "identified",
			named: "danburite", answer: "stands"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := "format: 1\ncase: A-1\ntaken: 2031-04-12\nclaim: " + cmp.Or(c.claim, "\"\"") + "\nstone: {" +
				c.stone + "}\nreadings: {" + c.readings + "}\n"
			cf := readCase(rs, text)
			if cf == nil {
				t.Fatal("the case can't be read")
			}
			got := engine.Prepare(rs).NewJudge().Explain(cf, moment).Output
			check := func(what, have, want string) {
				t.Helper()
				if want != "" && !strings.Contains(have, want) {
					t.Errorf("%s: %q, wanted %q\n%s\n%+v", what, have, want, got.Says, got.Claim)
				}
			}
			check("verdict", got.Verdict, c.verdict)
			check("named", deref(got.Named), c.named)
			check("says", got.Says, c.says)
			check("nodes", strings.Join(got.Nodes, ","), c.nodes)
			if listing := deref(got.NotListed); listing != c.listing {
				t.Errorf("not_listed %q, wanted %q (share %v)", listing, c.listing, got.Unlisted)
			}
			if got.Claim != nil {
				check("answer", got.Claim.Answer, c.answer)
				check("why", string(got.Claim.Why.Code), c.why)
				check("group", deref(got.Claim.GroupAnswer), c.group)
			}
			check("rests on priors", strings.Join(got.RestsOnPriors, ","), c.rests)
			check("missing", texts(got.Missing), c.missing)
			var aside []string
			for _, a := range got.SetAside {
				aside = append(aside, a.Says)
			}
			check("set aside", strings.Join(aside, "\n"), c.setAside)
			if c.candidate != "" && !slices.ContainsFunc(got.Candidates,
				func(x engine.Candidate) bool { return x.Material == c.candidate }) {
				t.Errorf("%s is no candidate: %+v", c.candidate, got.Candidates)
			}
		})
	}
}

func texts(notes []engine.Note) string {
	var out []string
	for _, n := range notes {
		out = append(out, n.Says)
	}
	return strings.Join(out, "\n")
}

func deref(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
