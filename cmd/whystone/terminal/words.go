package terminal

import (
	"slices"
	"strconv"
	"strings"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
)

// inWords calls observables by words.
func inWords(names []string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = engine.InWords(n)
	}
	return out
}

// join joins words as a sentence does.
func join(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

// some joins at most so many words and counts the rest.
func some(words []string, most int) string {
	between := ", "
	if slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, between) }) {
		between = "; " // "synthetic ruby, flame-fusion or pulled" is one name
	}
	if len(words) <= most+1 {
		return strings.Join(words, between)
	}
	return strings.Join(words[:most], between) + " and " + strconv.Itoa(len(words)-most) + " more"
}

// times writes a ratio of likelihoods: two figures are all that it is good for.
func times(x float64) string {
	switch {
	case x >= 1e9:
		return "over 1,000,000,000 times"
	case x >= 9.95:
		return "about " + thousands(twoFigures(x)) + " times"
	}
	return "about " + strconv.FormatFloat(twoFigures(x), 'g', -1, 64) + " times"
}

func twoFigures(x float64) float64 { return figures(x, 2) }

// figures rounds to so many significant figures.
func figures(x float64, n int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	if err != nil {
		return x
	}
	return r
}

func thousands(x float64) string {
	s := strconv.FormatFloat(x, 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// number writes a figure of a sheet in full.
func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// enfsi are the bands of the verbal scale that the shipped policy takes over (from memory; see there).
var enfsi = []kb.Band{{From: 1, Says: "weak"}, {From: 10, Says: "moderate"}, {From: 100, Says: "moderately strong"},
	{From: 1000, Says: "strong"}, {From: 10000, Says: "very strong"}, {From: 1000000, Says: "extremely strong"}}

// scaleName says whose words tell how strong support is.
func scaleName(p *kb.Policy) string {
	if slices.Equal(p.Scale, enfsi) {
		return "policy of this house, ENFSI 2015 bands"
	}
	return "policy of this house, bands of its own"
}

// nodeOf is a material or group by its id, or a leaf without a sheet by its own.
func nodeOf(rs *kb.Ruleset, id string) *kb.Material {
	if m := rs.Node(id); m != nil {
		return m
	}
	if i := slices.IndexFunc(rs.Leaves, func(m *kb.Material) bool { return m.ID == id }); i >= 0 {
		return rs.Leaves[i]
	}
	return nil
}

// nameOf is a material's or group's name, or the id when the ruleset doesn't know it.
func nameOf(rs *kb.Ruleset, id string) string {
	if m := nodeOf(rs, id); m != nil {
		return m.Name
	}
	return id
}

// materialOf names a node in a comparison. A group whose leaves were not told apart is named by the words of its sheet, so
// that the bare name of a species never stands for a stone whose growth nobody tested.
func materialOf(rs *kb.Ruleset, id string) string {
	m := nodeOf(rs, id)
	if m == nil {
		return "anything that is not listed"
	}
	return wording.Node(m)
}

// testNames names tests by their sheets.
func testNames(rs *kb.Ruleset, ids []string) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id
		if t := rs.Test(id); t != nil {
			out[i] = t.Name
		}
	}
	return out
}

func short(digest string) string {
	digest = strings.TrimPrefix(digest, "sha256:")
	return digest[:min(12, len(digest))]
}
