package physics

import (
	"slices"
	"strings"
	"testing"
)

// inTables names the rows of the published tables that stand for a material of trade_facts.csv: the material of
// dispersion_formulas.csv and that of unit_cells.csv.
var inTables = map[string][2]string{
	"diamond": {"diamond", "diamond"},
	// the 6H cell is from memory; both are as dense
	"synthetic moissanite":     {"silicon carbide 6H", "moissanite 2H"},
	"cubic zirconia":           {"cubic zirconia, 12.0 mol% Y2O3", "cubic zirconia, 12 mol% Y2O3"},
	"corundum":                 {"corundum (synthetic sapphire)", "corundum"},
	"quartz":                   {"quartz (alpha)", "quartz"},
	"synthetic rutile":         {"rutile TiO2 (synthetic)", "rutile"},
	"strontium titanate":       {"strontium titanate", "strontium titanate"},
	"yttrium aluminium garnet": {"yttrium aluminium garnet (YAG)", "YAG"},
}

// Every fact of the trade about an index, a dispersion or a density whose material the published tables have must
// agree with them; the rest of the list can only be checked for form.
func TestTradeFactsAgreeWithPublishedTables(t *testing.T) {
	figures := tableFigures(t)
	rows, checked, seen := published(t, "trade_facts.csv"), 0, map[string]bool{}
	for _, row := range rows {
		name := row["fact"]
		if seen[name] {
			t.Errorf("%s is there twice", name)
		}
		seen[name] = true
		if !slices.Contains([]string{"common practice", "definition", "published"}, row["status"]) {
			t.Errorf("%s: status %q", name, row["status"])
		}
		values := figures[row["material"]+" "+row["property"]]
		if len(values) == 0 {
			if row["status"] == "published" {
				t.Errorf("%s is said to be published, but no table has it", name)
			}
			continue
		}
		checked++
		for _, v := range values {
			if !factHolds(t, row, v, figures[row["value"]+" "+row["property"]]) {
				t.Errorf("%s: the tables give %g", name, v)
			}
		}
	}
	if len(rows) < 20 || checked != 16 {
		t.Errorf("%d facts, %d of them checked", len(rows), checked)
	}
}

// tableFigures are all values of "material property" that the published tables give.
func tableFigures(t *testing.T) map[string][]float64 {
	t.Helper()
	figures := map[string][]float64{}
	for material, rows := range inTables {
		add := func(property, cell string) {
			if cell != "" {
				figures[material+" "+property] = append(figures[material+" "+property], number(t, cell))
			}
		}
		for _, row := range published(t, "dispersion_formulas.csv") {
			if row["material"] == rows[0] {
				add("ri", row["n_D"])
				add("dispersion", row["dispersion_G_minus_B"])
				add("birefringence", row["birefringence_D"])
			}
		}
		for _, row := range published(t, "unit_cells.csv") {
			if row["material"] == rows[1] {
				add("specific_gravity", row["xray_density_g_cm3"])
			}
		}
	}
	return figures
}

func factHolds(t *testing.T, row map[string]string, v float64, others []float64) bool {
	t.Helper()
	switch row["relation"] {
	case "is":
		want, slack := number(t, row["value"]), number(t, row["tolerance"])
		return v >= want-slack && v <= want+slack
	case "at least":
		return v >= number(t, row["value"])
	case "at most":
		return v <= number(t, row["value"])
	case "between":
		low, high, _ := strings.Cut(row["value"], " ")
		return v >= number(t, low) && v <= number(t, high)
	case "above":
		return len(others) > 0 && v > slices.Max(others)
	case "below":
		return len(others) > 0 && v < slices.Min(others)
	}
	return false
}
