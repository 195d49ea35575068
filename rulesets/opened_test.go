package rulesets_test

import (
	"testing"

	"whystone/kb"
)

// Source: opened_ranges.csv, ranges that open pages print. The sheet's range holds the whole of each, but for rows that
// say why only a part is taken.
func TestOpenedRangesLieInTheSheets(t *testing.T) {
	rs := desk(t)
	rows := published(t, "opened_ranges.csv")
	for _, row := range rows {
		what := row["material"] + ", " + row["property"] + " on " + row["read_on"]
		m := rs.Node(row["material"])
		if m == nil || m.Ranges[row["property"]] == nil {
			t.Errorf("%s: no such sheet, or it gives no such property", what)
			continue
		}
		r, low, high := m.Ranges[row["property"]], number(t, row["low"]), number(t, row["high"])
		whole := holds(r, low) && holds(r, high)
		switch row["used"] {
		case "whole":
			if !whole {
				t.Errorf("%s: %g to %g is printed, the sheet has %g to %g", what, low, high, r.Low, r.High)
			}
		case "part":
			if whole || row["note"] == "" || !(holds(r, low) || holds(r, high)) {
				t.Errorf("%s: of %g to %g the sheet should hold a part, and the note say why", what, low, high)
			}
		default:
			t.Errorf("%s: used is %q", what, row["used"])
		}
	}
	if len(rows) < 50 {
		t.Errorf("only %d ranges checked", len(rows))
	}
}

// Source: opened_facts.csv, what pages and abstracts that were read say of an outcome.
func TestOpenedFactsHoldOnTheSheets(t *testing.T) {
	rs := desk(t)
	rows := published(t, "opened_facts.csv")
	for _, row := range rows {
		m := rs.Node(row["material"])
		if m == nil {
			t.Errorf("no material is called %q", row["material"])
			continue
		}
		for _, i := range m.Leaves {
			word := outcomeWord(rs.Leaves[i], row["observable"], row["outcome"])
			known := word != "" && word != "never"
			if row["sheet"] == "known" && !known || row["sheet"] == "never" && word != "never" {
				t.Errorf("%s: %s. Its sheet has %q for %s %s", rs.Leaves[i].ID, row["says"], word, row["observable"],
					row["outcome"])
			}
		}
	}
	if len(rows) < 12 {
		t.Errorf("only %d facts checked", len(rows))
	}
}

func outcomeWord(m *kb.Material, observable, outcome string) kb.Frequency {
	if f := m.Choices[observable]; f != nil {
		return f.Words[outcome]
	}
	if f := m.Features[observable]; f != nil {
		return f.Words[outcome]
	}
	return ""
}
