package rulesets_test

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"whystone/kb"
)

// Source: dispersion_formulas.csv (95 published formulas), reflectance.csv (tabulated indices), unit_cells.csv (cells
// and molar volumes). Every row is either held against a sheet or says why not.
func TestPublishedFiguresLieInTheSheets(t *testing.T) {
	rs, use := desk(t), uses(t)
	checked, fromMemory := 0, 0
	for _, e := range entries(t) {
		key := [2]string{e.table, e.row}
		u, listed := use[key]
		delete(use, key)
		if !listed {
			t.Errorf("%s %s (%s) is neither used nor excused: add it to sheets.csv", e.table, e.row, e.material)
			continue
		}
		for _, what := range u.notUsed {
			if what != "all" && !slices.ContainsFunc(e.figures, func(f figure) bool { return f.what == what }) {
				t.Errorf("sheets.csv: %s %s has no %q to leave out", e.table, e.row, what)
			}
		}
		if u.reason == "extrapolated" && !e.extrapolated {
			t.Errorf("sheets.csv: no line of %s is extrapolated", e.row)
		}
		for _, id := range u.materials {
			m := rs.Node(id)
			if m == nil {
				t.Errorf("sheets.csv: the ruleset has no %q", id)
				continue
			}
			for _, f := range e.figures {
				if slices.Contains(u.notUsed, f.what) {
					continue
				}
				checked++
				if f.memory {
					fromMemory++
				}
				holdAgainst(t, m, f)
			}
		}
	}
	for key := range use {
		t.Errorf("sheets.csv: the table %s has no row %q", key[0], key[1])
	}
	t.Logf("%d published figures held against sheets, %d of them from cells that were recalled and not opened", checked,
		fromMemory)
	if checked < 150 {
		t.Errorf("only %d figures checked", checked)
	}
}

func holdAgainst(t *testing.T, m *kb.Material, f figure) {
	t.Helper()
	if f.what == "optic_sign" {
		if sign := m.Choices["optic_sign"]; sign == nil || sign.Words[f.word] == "" || sign.Words[f.word] == "never" {
			t.Errorf("%s: published optic sign %s (%s) is not on its sheet", m.ID, f.word, f.row)
		}
		return
	}
	r := m.Ranges[f.property()]
	if r == nil {
		t.Errorf("%s: its sheet gives no %s; %s has %g", m.ID, f.property(), f.row, f.value)
		return
	}
	if slack := r.Tolerance + f.last/2; f.value < r.Low-slack || f.value > r.High+slack {
		t.Errorf("%s: %s of %s %s is %g, outside the sheet's %g to %g (%s)", m.ID, f.what, f.table, f.row, f.value,
			r.Low, r.High, r.Span)
	}
}

// A row that bears the name or the formula of a material must check it, or say what sets them apart. And where the
// tables have such rows, at least one of them is held against the material or its nearest kin.
func TestEveryMaterialThatTheTablesCoverIsChecked(t *testing.T) {
	rs, use, used := desk(t), uses(t), usedFor(t)
	uncovered := 0
	for _, leaf := range rs.Leaves {
		var named []entry
		for _, e := range entries(t) {
			if !bears(e, leaf) {
				continue
			}
			u := use[[2]string{e.table, e.row}]
			if u.reason == "not on this desk" {
				t.Errorf("%s %s (%s) is called not on this desk, but %s has its name or formula", e.table, e.row,
					e.material, leaf.ID)
			}
			if u.reason != "bad oracle" && u.reason != "end member" && u.reason != "other crystal" {
				named = append(named, e)
			}
		}
		covered := slices.ContainsFunc(rs.Nodes, func(n *kb.Material) bool {
			return len(used[n.ID]) > 0 &&
				kin(n, leaf)
		})
		switch {
		case !covered && len(named) > 0:
			t.Errorf("%s has the name or formula of %s, and no row of the tables is held against it", leaf.ID,
				named[0].row)
		case !covered:
			uncovered++
			t.Logf("no published table covers %s", leaf.ID)
		}
	}
	t.Logf("%d of %d materials are covered by published tables", len(rs.Leaves)-uncovered, len(rs.Leaves))
	if uncovered*2 > len(rs.Leaves) {
		t.Errorf("%d of %d materials are covered by no published table", uncovered, len(rs.Leaves))
	}
}

// kin tells whether two nodes lie under one topmost nameable node.
func kin(a, b *kb.Material) bool {
	p, q := a.Path(), b.Path()
	return len(p) > 0 && len(q) > 0 && p[0] == q[0]
}

// bears tells whether an entry has the formula of a leaf or its name: all plain words of one of the leaf's names stand
// in the entry's, or they are those of a nameable group above it.
func bears(e entry, leaf *kb.Material) bool {
	own := words(e.material)
	for n := leaf; n != nil && n.Nameable; n = n.Parent {
		if n.Formula != "" && n.Formula == e.formula {
			return true
		}
		for _, name := range append([]string{n.Name, strings.ReplaceAll(n.ID, "-", " ")}, n.Also...) {
			theirs := words(name)
			if len(theirs) > 0 && subset(theirs, own) && (n == leaf || subset(own, theirs)) {
				return true
			}
		}
	}
	return false
}

// words are the plain words of a name, what stands in brackets and formulas left out.
func words(name string) []string {
	if i := strings.IndexAny(name, "(,"); i > 0 {
		name = name[:i]
	}
	return slices.DeleteFunc(strings.FieldsFunc(strings.ToLower(name),
		func(r rune) bool { return r == ' ' || r == '-' }), func(w string) bool {
		return strings.ContainsFunc(w, unicode.IsDigit) || len(w) < 3 || slices.Contains(ordinary, w)
	})
}

// ordinary words of names tell no material from another.
var ordinary = []string{"synthetic", "natural", "optical", "type", "clear", "colourless", "white", "grown",
	"laboratory"}

func subset(a, b []string) bool {
	return !slices.ContainsFunc(a, func(w string) bool { return !slices.Contains(b, w) })
}

var (
	year   = regexp.MustCompile(`\b(?:18|19|20)\d\d\b`)
	author = regexp.MustCompile(`(?:[A-Z]\.[- ]?)+ ?(?:de |van |von )?(\p{Lu}[\p{L}-]+)`)
)

// A paper that a property's source names must be one that the tables name too: its first author's surname, with the
// year where the table gives one. So that no citation is made up.
func TestCitedPapersAreInTheTables(t *testing.T) {
	var cited []string
	for _, e := range entries(t) {
		cited = append(cited, e.cites)
	}
	cited = append(cited, molarVolumes)
	for _, table := range []string{"opened_ranges.csv", "opened_facts.csv"} {
		for _, row := range published(t, table) {
			cited = append(cited, row["source"])
		}
	}
	n := 0
	for _, m := range slices.Concat(desk(t).Nodes, gemDesk(t).Nodes) {
		for _, property := range slices.Sorted(maps.Keys(m.Ranges)) {
			r := m.Ranges[property]
			if r.SaidBy != m || r.Derived != "" {
				continue
			}
			for _, part := range strings.Split(r.Source, ";") {
				who, when := author.FindStringSubmatch(part), year.FindString(part)
				if who == nil || when == "" || strings.Contains(part, "from memory") ||
					strings.Contains(part, "not opened") {
					continue
				}
				n++
				if !slices.ContainsFunc(cited, func(c string) bool { return names(c, who[1], when) }) {
					t.Errorf("%s: the source of %s names %s, %s, and no published table does: %q", m.ID, property,
						who[1], when, strings.TrimSpace(part))
				}
			}
		}
	}
	if n < 20 {
		t.Errorf("only %d citations found", n)
	}
}

// molarVolumes is the source of all molar volumes, which stands in the head of unit_cells.csv.
const molarVolumes = "T. J. B. Holland, E. C. R. Green, R. Powell, J. Petrology 59 (2018) 881"

// names tells whether a reference is to an author's paper of a year. A file of the database has the author only.
func names(reference, who, when string) bool {
	return strings.Contains(strings.ToLower(reference), strings.ToLower(who)) &&
		(strings.Contains(reference, when) || strings.HasSuffix(reference, ".yml"))
}
