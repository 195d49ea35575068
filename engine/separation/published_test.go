package separation

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"whystone/kb"
	"whystone/kb/kbtest"
)

var publishedRows = kbtest.Published

// publishedFigures gathers the published figures of each leaf: lowest and highest. The rows that sheets.csv says are
// not to be held against a sheet are left out.
func publishedFigures(t *testing.T, rs *kb.Ruleset, table, key, column string) map[*kb.Material][2]float64 {
	t.Helper()
	value := map[string]float64{}
	for _, row := range publishedRows(t, table+".csv") {
		if x, err := strconv.ParseFloat(row[column], 64); err == nil {
			value[row[key]] = x
		}
	}
	out := map[*kb.Material][2]float64{}
	for _, use := range publishedRows(t, "sheets.csv") {
		x, ok := value[use["row"]]
		if use["table"] != table || use["not_used"] != "" || !ok {
			continue
		}
		for _, id := range strings.Fields(use["material"]) {
			for _, i := range rs.Node(id).Leaves {
				m := rs.Leaves[i]
				if r, known := out[m]; known {
					out[m] = [2]float64{min(r[0], x), max(r[1], x)}
				} else {
					out[m] = [2]float64{x, x}
				}
			}
		}
	}
	return out
}

// Source: dispersion_formulas.csv, indices at the D lines from published formulas (refractiveindex.info, CC0, the paper
// of each row beside it). A refractometer that ends at 1.81 (common practice) tells nothing between two stones that lie
// above its end, and tells apart two below it whose indices differ by more than any glass or mixture would explain.
func TestRefractometerAgainstPublishedIndices(t *testing.T) {
	table := build(t, folder(t, shipped))
	index := publishedFigures(t, table.rs, "dispersion_formulas", "db_path", "n_D")
	refractometer := table.rs.Test("refractometer")
	high, low := 0, 0
	for a, x := range index {
		for b, y := range index {
			if a.Index >= b.Index {
				continue
			}
			tells := slices.Contains(table.By(a, b), refractometer)
			switch {
			case x[0] > 1.85 && y[0] > 1.85:
				if high++; tells {
					t.Errorf("%s %v and %s %v lie above the scale, and are told apart by it", a.ID, x, b.ID, y)
				}
			case x[1] < 1.80 && y[1] < 1.80 && (x[1]+0.04 < y[0] || y[1]+0.04 < x[0]):
				if low++; !tells {
					t.Errorf("%s %v and %s %v lie on the scale, and are not told apart by it", a.ID, x, b.ID, y)
				}
			}
		}
	}
	if high < 20 || low < 8 {
		t.Errorf("only %d pairs above the scale and %d on it", high, low)
	}
}

// Source: unit_cells.csv, densities from published cells. A balance and water, good to some 0.02 (common practice),
// tell apart what differs by a whole unit of specific gravity.
func TestBalanceAgainstPublishedCells(t *testing.T) {
	table := build(t, folder(t, shipped))
	density := publishedFigures(t, table.rs, "unit_cells", "material", "xray_density_g_cm3")
	balance, checked := table.rs.Test("hydrostatic-weighing"), 0
	for a, x := range density {
		for b, y := range density {
			if x[1]+1 < y[0] {
				if checked++; !slices.Contains(table.By(a, b), balance) {
					t.Errorf("%s %v and %s %v weigh unlike, and are not told apart by it", a.ID, x, b.ID, y)
				}
			}
		}
	}
	if checked < 50 {
		t.Errorf("only %d pairs checked", checked)
	}
}
