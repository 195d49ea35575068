package terminal

import (
	"slices"
	"strconv"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
)

// Joined joins the words that there are.
func Joined(between string, words ...string) string {
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), between)
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

// figures rounds to so many significant figures.
func figures(x float64, n int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	if err != nil {
		return x
	}
	return r
}

// number writes a figure of a sheet in full.
func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// enfsi are the bands of the verbal scale that the shipped policy takes over (from memory; see there).
var enfsi = []kb.Band{{From: 1, Says: "weak"}, {From: 10, Says: "moderate"}, {From: 100, Says: "moderately strong"},
	{From: 1000, Says: "strong"}, {From: 10000, Says: "very strong"}, {From: 1000000, Says: "extremely strong"}}

// scaleOf tells whose words say how strong support is.
func scaleOf(p *kb.Policy) phrase.Code {
	if slices.Equal(p.Scale, enfsi) {
		return phrase.InWordsOfScale
	}
	return phrase.InWordsOfOwn
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

// NameOf is a material's or group's name, or the id when the ruleset doesn't know it.
func NameOf(rs *kb.Ruleset, id string) string {
	if m := nodeOf(rs, id); m != nil {
		return m.Name
	}
	return id
}

// leafNames names leaves of the tree.
func leafNames(rs *kb.Ruleset, leaves []int) []string {
	return english.Each(leaves, func(i int) string { return rs.Leaves[i].Name })
}

// materialOf names a node in a comparison. A group whose leaves were not told apart is named by the words of its sheet,
// so that the bare name of a species never stands for a stone whose growth nobody tested.
func materialOf(rs *kb.Ruleset, id string) string {
	m := nodeOf(rs, id)
	if m == nil {
		return "anything that is not listed"
	}
	return phrase.Node(m, 0)
}

// testNames names tests by their sheets.
func testNames(rs *kb.Ruleset, ids []string) []string {
	return english.Each(ids, func(id string) string {
		if t := rs.Test(id); t != nil {
			return t.Name
		}
		return id
	})
}
