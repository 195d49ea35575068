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

// leafNames names leaves of the tree.
func leafNames(rs *kb.Ruleset, leaves []int) []string {
	return english.Each(leaves, func(i int) string { return rs.Leaves[i].Name })
}

// materialOf names a node in a comparison. A group whose leaves were not told apart is named by the words of its sheet,
// so that the bare name of a species never stands for a stone whose growth nobody tested.
func materialOf(rs *kb.Ruleset, id string) string {
	m := phrase.NodeOf(rs, id)
	if m == nil {
		return "anything that is not listed"
	}
	return phrase.Node(m, 0)
}
