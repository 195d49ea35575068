package rulesets_test

import (
	"slices"
	"strings"
	"testing"

	"whystone/kb"
)

// gemUses reads gem_sheets.csv: which rows of the published tables, of those that the diamond desk has no sheet for,
// check a sheet of the gem desk, or why they check none.
func gemUses(t testing.TB) map[[2]string]use {
	t.Helper()
	out := map[[2]string]use{}
	for _, r := range published(t, "gem_sheets.csv") {
		u := use{materials: strings.Fields(r["material"]), reason: r["reason"]}
		if (len(u.materials) == 0) == (u.reason == "") || u.reason != "" && !slices.Contains(reasons, u.reason) {
			t.Errorf("gem_sheets.csv: %s %s checks a material or gives a reason of %q, one of the two", r["table"],
				r["row"], reasons)
		}
		out[[2]string{r["table"], r["row"]}] = u
	}
	return out
}

// Each row of the published tables that the diamond desk leaves out and that bears the name or formula of a stone of
// the gem desk is held against its sheet, or says why not.
func TestPublishedFiguresLieInTheGemSheets(t *testing.T) {
	rs, below, above := gemDesk(t), uses(t), gemUses(t)
	checked := 0
	for _, e := range entries(t) {
		key := [2]string{e.table, e.row}
		if below[key].reason != "not on this desk" {
			continue
		}
		u, listed := above[key]
		if i := slices.IndexFunc(rs.Leaves, func(m *kb.Material) bool { return bears(e, m) }); i >= 0 && !listed {
			t.Errorf("%s %s (%s) has the name or formula of %s: add it to gem_sheets.csv", e.table, e.row, e.material,
				rs.Leaves[i].ID)
		}
		delete(above, key)
		for _, id := range u.materials {
			m := rs.Node(id)
			if m == nil {
				t.Errorf("gem_sheets.csv: the ruleset has no %q", id)
				continue
			}
			for _, f := range e.figures {
				checked++
				holdAgainst(t, m, f)
			}
		}
	}
	for key := range above {
		t.Errorf("gem_sheets.csv: %q is no row that the diamond desk leaves out", key)
	}
	t.Logf("%d published figures held against sheets of the gem desk", checked)
}

// Source: unlisted_stones.csv, whose figures were read on the pages that each row names. What the diamond desk has no
// sheet of and the gem desk has must lie within its sheet, whole.
func TestOpenedFiguresLieInTheGemSheets(t *testing.T) {
	rs := gemDesk(t)
	checked := 0
	for _, row := range published(t, "unlisted_stones.csv") {
		m := stoneOf(rs, row["stone"])
		if m == nil || row["status"] == "memory" {
			continue
		}
		r := m.Ranges[row["property"]]
		if r == nil {
			t.Errorf("%s: its sheet gives no %s", m.ID, row["property"])
			continue
		}
		checked++
		low, high := number(t, row["low"]), number(t, row["high"])
		if slack := r.Tolerance + 1e-9; low < r.Low-slack || high > r.High+slack {
			t.Errorf("%s: %s is printed as %g to %g (%s), outside the sheet's %g to %g (%s)", m.ID, row["property"],
				low, high, row["source"], r.Low, r.High, r.Span)
		}
	}
	t.Logf("%d opened ranges held against sheets of the gem desk", checked)
	if checked < 30 {
		t.Errorf("only %d ranges checked", checked)
	}
}

// stoneOf is the sheet of a stone of unlisted_stones.csv.
func stoneOf(rs *kb.Ruleset, name string) *kb.Material {
	if c := rs.Claims[name]; c != nil {
		return c.Node
	}
	return rs.NodeOrWas(strings.ReplaceAll(name, " ", "-"))
}

// Source: opened_ranges.csv, as at the diamond desk: the gem desk amends some of its sheets, and must not narrow them.
func TestOpenedRangesStillLieInTheSheets(t *testing.T) {
	rs := gemDesk(t)
	for _, row := range published(t, "opened_ranges.csv") {
		m := rs.Node(row["material"])
		if m == nil || row["used"] != "whole" {
			continue
		}
		r := m.Ranges[row["property"]]
		low, high := number(t, row["low"]), number(t, row["high"])
		if r == nil || low < r.Low-r.Tolerance-1e-9 || high > r.High+r.Tolerance+1e-9 {
			t.Errorf("%s: %s is printed as %g to %g (%s), and the sheet has %v", m.ID, row["property"], low, high,
				row["source"], r)
		}
	}
}
