package rulesets_test

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"whystone/engine/phrase"
	"whystone/engine/separation"
	"whystone/kb"
	"whystone/kb/english"
)

const gemFigures = "gem-figures.md"

const gemFiguresHead = `# Figures of the gem desk

This page is written by ` + "`WHYSTONE_UPDATE=1 go test ./rulesets`" + `; a test fails when it is stale. It is of the gem desk with the diamond desk below it.

`

// The page beside the gem desk is that of the ruleset as it is, and every set that no harmless test separates is there
// with what a laboratory would use (testdata/laboratory.csv).
func TestGeneratedFiguresOfTheGemDeskAreFresh(t *testing.T) {
	rs := gemDesk(t)
	var b strings.Builder
	b.WriteString(gemFiguresHead)
	sourcesTable(t, &b, rs)
	apartList(t, &b, rs)
	fresh(t, gemFigures, b.String())
}

// apartList writes the sets that no harmless test of the desk separates.
func apartList(t *testing.T, b *strings.Builder, rs *kb.Ruleset) {
	table, err := separation.Build(context.Background(), gemPrepared(), judgedOn)
	if err != nil {
		t.Fatal(err)
	}
	ways := map[string]map[string]string{}
	for _, row := range readCSV(t, "testdata/laboratory.csv") {
		ways[row["set"]] = row
	}
	used := map[string]bool{}
	n := len(rs.Leaves)
	fmt.Fprintf(b, "%d materials make %d pairs. The sets below are of materials that no harmless test tells apart by "+
		"itself: what a test usually reads\n"+
		"on one of them excludes none of the others, and is less than %g times likelier on it. Several tests "+
		"together, or a sign that is seen\n"+
		"sometimes, part some of them; the last column says what a laboratory would use.\n\n", n, n*(n-1)/2,
		rs.Policy.Rival)
	b.WriteString("| not told apart by one harmless test | told together as | what a laboratory would use | source " +
		"|\n|---|---|---|---|\n")
	for _, g := range table.Findings(nil) {
		set, together := key(g), "-"
		if g.Within != nil {
			together = phrase.Node(g.Within, 0)
		}
		row := ways[set]
		if row == nil {
			t.Errorf("testdata/laboratory.csv has no row for the set %q (%s)", set,
				english.List(phrase.Nodes(g.Materials, 0), "and"))
			continue
		}
		used[set] = true
		fmt.Fprintf(b, "| %s | %s | %s | %s |\n", english.List(phrase.Nodes(g.Materials, 0), "and"), together,
			row["laboratory"], row["source"])
	}
	for set := range ways {
		if !used[set] {
			t.Errorf("testdata/laboratory.csv has a row for %q, and that is no such set", set)
		}
	}
}

// key names a set: the lowest group that holds it, or its materials by id.
func key(g separation.Group) string {
	if g.Within != nil {
		return g.Within.ID
	}
	var ids []string
	for _, m := range g.Materials {
		ids = append(ids, m.ID)
	}
	slices.SortFunc(ids, cmp.Compare[string])
	return strings.Join(ids, " ")
}
