package physics

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Source: testdata/published/unit_cells.csv (original papers and what they were read through by row): every volume,
// molar mass and density, to the digits printed; and, as a check of the cells themselves, density against the
// independent molar volumes of Holland, Green and Powell 2018.
func TestPublishedCells(t *testing.T) {
	rows := published(t, "unit_cells.csv")
	cells, both := 0, 0
	for _, row := range rows {
		formula := row["formula"][strings.LastIndex(row["formula"], " ")+1:] // what follows "= per cation"
		mass, err := MolarMass(formula)
		if err != nil {
			t.Errorf("%s: %v", row["material"], err)
			continue
		}
		printed(t, row["material"]+" molar mass", mass, row["molar_mass_g_mol"])
		if vm := row["molar_volume_cm3_mol_298K"]; vm != "" {
			printed(t, row["material"]+" density from molar volume", mass/number(t, vm),
				row["density_from_molar_volume"])
		}
		if row["a_A"] == "" {
			continue
		}
		cells++
		density := checkCell(t, row, mass)
		if vm := row["molar_volume_cm3_mol_298K"]; vm != "" {
			both++
			within(t, row["material"]+", cell against molar volume", density*number(t, vm)/mass, 1, 0.01)
		}
	}
	if len(rows) != 117 || cells != 101 || both != 51 {
		t.Errorf("%d rows, %d cells, %d with both: the table is not whole", len(rows), cells, both)
	}
}

func checkCell(t *testing.T, row map[string]string, mass float64) float64 {
	t.Helper()
	column := func(name string) float64 { return number(t, row[name]) }
	c := Cell{column("a_A"), column("b_A"), column("c_A"), column("alpha_deg"), column("beta_deg"), column("gamma_deg")}
	if volume := must(c.Volume()); strings.Contains(row["cell_source"], "cell edge computed") {
		// The table computed these edges with more digits than it prints (5): three edges, half a unit each.
		within(t, row["material"]+" volume", volume, column("cell_volume_A3"), 0.0005+3*c.A*c.A*5e-6)
	} else {
		printed(t, row["material"]+" volume", volume, row["cell_volume_A3"])
	}
	density := must(XRayDensity(c, column("Z"), mass))
	printed(t, row["material"]+" density", density, row["xray_density_g_cm3"])
	return density
}

func TestCellRefusals(t *testing.T) {
	for _, c := range []Cell{{}, {5, 5, 0, 90, 90, 90}, {-5, 5, -5, 90, 90, 90}, {5, 5, 5, 120, 120, 121},
		{5, 5, 5, 90, 90, 0},
		{math.NaN(), 5, 5, 90, 90, 90}, {5, 5, math.Inf(1), 90, 90, 90}} {
		if v, err := c.Volume(); !errors.Is(err, ErrRange) {
			t.Errorf("%v: volume %g, %v", c, v, err)
		}
		if d, err := XRayDensity(c, 4, 100); !errors.Is(err, ErrRange) {
			t.Errorf("%v: density %g, %v", c, d, err)
		}
	}
	if d, err := XRayDensity(Cell{5, 5, 5, 90, 90, 90}, 0, 100); !errors.Is(err, ErrRange) {
		t.Errorf("no formula units: density %g, %v", d, err)
	}
}
