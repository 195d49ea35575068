package rulesets_test

import (
	"cmp"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"whystone/kb"
)

// figures is the page that holds what is generated here, beside the ruleset.
const figures = "figures.md"

const figuresHead = `# Figures of the shipped ruleset

This page is written by ` + "`WHYSTONE_UPDATE=1 go test ./rulesets`" + `; a test fails when it is stale.

`

// The figures on the page are those of the ruleset as it is. WHYSTONE_UPDATE=1 writes them anew.
func TestGeneratedFiguresAreFresh(t *testing.T) { fresh(t, figures, figuresHead+generated(t)) }

// fresh holds a generated page against what it should be, or writes it.
func fresh(t *testing.T, page, want string) {
	t.Helper()
	text, err := os.ReadFile(page)
	switch {
	case err == nil && string(text) == want:
	case os.Getenv("WHYSTONE_UPDATE") == "1":
		if err := os.WriteFile(page, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	default:
		t.Errorf("rulesets/%s is stale (%v); run this test with WHYSTONE_UPDATE=1. It should be:\n%s", page, err, want)
	}
}

func generated(t *testing.T) string {
	rs := desk(t)
	var b strings.Builder
	sourcesTable(t, &b, rs)
	pairsList(&b, rs)
	return b.String()
}

// standing is what a figure rests on, the weakest word of its source deciding.
type standing int

const (
	publishedOnly standing = iota
	practiceAndPublished
	practice
	house
	memory
)

// read finds what a source names that somebody read a figure in: a year, a maker's data sheet, a page.
var read = regexp.MustCompile(`\b(?:18|19|20)\d\d\b|data sheet|\bpages?\b`)

func standingOf(source string) standing {
	cites := read.MatchString(source)
	switch {
	case strings.Contains(source, "from memory"):
		return memory
	case strings.Contains(source, "choice of this house"):
		return house
	case strings.Contains(source, "common practice") && cites:
		return practiceAndPublished
	case strings.Contains(source, "common practice"):
		return practice
	}
	return publishedOnly
}

func sourcesTable(t *testing.T, b *strings.Builder, rs *kb.Ruleset) {
	properties, outcomes := map[string]*[memory + 1]int{}, map[string]*[memory + 1]int{}
	count := func(in map[string]*[memory + 1]int, what, source string, m *kb.Material) {
		if in[what] == nil {
			in[what] = &[memory + 1]int{}
		}
		s := standingOf(source)
		in[what][s]++
		if s == publishedOnly && !read.MatchString(source) {
			t.Errorf("%s: the source of %s names no year, no data sheet and no page, and is not called common "+
				"practice, choice of this house or from memory: %q", m.ID, what, source)
		}
	}
	for _, m := range rs.Nodes {
		for _, property := range slices.Sorted(maps.Keys(m.Ranges)) {
			if r := m.Ranges[property]; r.SaidBy == m && r.Derived == "" {
				count(properties, property, r.Source, m)
			}
		}
		for _, kind := range []map[string]*kb.Frequencies{m.Choices, m.Features} {
			for _, name := range slices.Sorted(maps.Keys(kind)) {
				if f := kind[name]; f.SaidBy == m {
					count(outcomes, rs.Vocabulary.Observable(name).Family, f.Source, m)
				}
			}
		}
	}
	fmt.Fprintf(b, "What the figures on the material sheets rest on, each counted where it is written and by the "+
		"weakest word of its source:\n\n")
	rows(b, "property", properties)
	fmt.Fprintf(b, "How often outcomes and features are seen, by family:\n\n")
	rows(b, "family", outcomes)
}

func rows(b *strings.Builder, what string, counts map[string]*[memory + 1]int) {
	fmt.Fprintf(b, "| %s | figures | published | common practice, with a published figure | common practice | choice "+
		"of this house | from memory |\n|---|---|---|---|---|---|---|\n", what)
	line := func(name string, n [memory + 1]int) {
		fmt.Fprintf(b, "| %s | %d | %d | %d | %d | %d | %d |\n", name,
			n[publishedOnly]+n[practiceAndPublished]+n[practice]+n[house]+n[memory], n[publishedOnly],
			n[practiceAndPublished], n[practice], n[house], n[memory])
	}
	var total [memory + 1]int
	for _, name := range slices.Sorted(maps.Keys(counts)) {
		line(name, *counts[name])
		for i, n := range counts[name] {
			total[i] += n
		}
	}
	line("all", total)
	b.WriteString("\n")
}

// pairsList tells how many pairs of materials a harmless test tells apart, and lists those that none does.
func pairsList(b *strings.Builder, rs *kb.Ruleset) {
	sep := separated()
	alike := map[string][]string{}
	pairs, open := 0, 0
	for i, m := range rs.Leaves {
		for k := i + 1; k < len(rs.Leaves); k++ {
			pairs++
			if len(sep.by(i, k)) == 0 {
				open++
				alike[m.ID] = append(alike[m.ID], rs.Leaves[k].ID+sep.signs(m, rs.Leaves[k]))
			}
		}
	}
	fmt.Fprintf(b, "%d materials make %d pairs. %d of them are told apart by one harmless test alone: a reading that "+
		"one of the two usually gives\n"+
		"excludes the other, or is at least ten times likelier under it (a reading without error, on a clean loose "+
		"round brilliant of one\n"+
		"carat; usually means an outcome with that word or \"always\", or four of five values spread over a range). "+
		"The other %d need\n"+
		"several tests together, or a laboratory. In brackets stands what parts some of them sometimes: an outcome "+
		"that a sheet\n"+
		"has as often, sometimes or rarely, which excludes the other or is as much likelier:\n\n", len(rs.Leaves),
		pairs, pairs-open, open)
	for _, m := range slices.SortedFunc(maps.Keys(alike), cmp.Compare[string]) {
		fmt.Fprintf(b, "- %s: %s\n", m, strings.Join(alike[m], ", "))
	}
}
