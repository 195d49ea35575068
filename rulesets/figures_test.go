package rulesets_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// figure is one value that a row of the published tables gives.
type figure struct {
	table, row string
	what       string // ri, dispersion, birefringence, optic_sign, density, cell, molar_volume
	value      float64
	word       string // of optic_sign
	last       float64
	memory     bool // the row says that its inputs were recalled, not opened
}

// property is the material property that a figure is held against.
func (f figure) property() string {
	switch f.what {
	case "density", "cell", "molar_volume":
		return "specific_gravity"
	}
	return f.what
}

// entry is a row of the published tables: what it is called there, what it cites, and its figures.
type entry struct {
	table, row, material, formula, cites string
	extrapolated                         bool
	figures                              []figure
}

// entries are all rows that could check a sheet: the formulas, the tabulated indices that have no formula, the cells.
func entries(t testing.TB) []entry {
	t.Helper()
	var out []entry
	formulas := map[string]bool{}
	for _, r := range published(t, "dispersion_formulas.csv") {
		formulas[r["db_path"]] = true
		e := entry{table: "dispersion_formulas", row: r["db_path"], material: r["material"], cites: r["reference"],
			extrapolated: r["extrapolated_lines"] != ""}
		e.add(t, "ri", r["n_D"])
		e.add(t, "dispersion", r["dispersion_G_minus_B"])
		e.add(t, "birefringence", r["birefringence_D"])
		if m := density.FindStringSubmatch(r["comment"]); m != nil {
			e.add(t, "density", m[1])
			e.figures[len(e.figures)-1].value /= 1000
			e.figures[len(e.figures)-1].last /= 1000
		}
		if sign := r["optic_sign"]; sign != "" {
			word := "positive"
			if strings.Contains(sign, " -") {
				word = "negative"
			}
			e.figures = append(e.figures, figure{what: "optic_sign", word: word})
		}
		out = append(out, e)
	}
	for _, r := range published(t, "reflectance.csv") {
		if !formulas[r["db_path"]] {
			e := entry{table: "reflectance", row: r["db_path"], material: r["material"], cites: r["db_path"]}
			e.add(t, "ri", r["n_D"])
			out = append(out, e)
		}
	}
	for _, r := range published(t, "unit_cells.csv") {
		e := entry{table: "unit_cells", row: r["material"], material: r["material"], formula: r["formula"],
			cites: r["cell_source"] + " " + r["read_from"]}
		e.add(t, "cell", r["xray_density_g_cm3"])
		e.add(t, "molar_volume", r["density_from_molar_volume"])
		for i := range e.figures {
			e.figures[i].memory = r["cell_from_memory"] == "memory" && e.figures[i].what == "cell"
		}
		out = append(out, e)
	}
	for i := range out {
		for k := range out[i].figures {
			out[i].figures[k].table, out[i].figures[k].row = out[i].table, out[i].row
		}
	}
	return out
}

// density finds the density, in kg/m3, that a maker's data sheet prints.
var density = regexp.MustCompile(`density ([0-9.]+) kg/m3`)

func (e *entry) add(t testing.TB, what, cell string) {
	t.Helper()
	if cell == "" {
		return
	}
	_, decimals, _ := strings.Cut(cell, ".")
	last := 1.0
	for range decimals {
		last /= 10
	}
	e.figures = append(e.figures, figure{what: what, value: number(t, cell), last: last})
}

// use is a line of sheets.csv: what an entry checks.
type use struct {
	materials       []string
	notUsed         []string
	reason, note    string
	everything, any bool // whether nothing of it is used, and whether anything is left out
}

var reasons = []string{"not on this desk", "liquid", "other crystal", "end member", "bad oracle", "extrapolated"}

// uses reads sheets.csv, by table and row.
func uses(t testing.TB) map[[2]string]use {
	t.Helper()
	out := map[[2]string]use{}
	for _, r := range published(t, "sheets.csv") {
		key := [2]string{r["table"], r["row"]}
		if _, twice := out[key]; twice {
			t.Errorf("sheets.csv has %s %s twice", key[0], key[1])
		}
		u := use{materials: strings.Fields(r["material"]), notUsed: strings.Fields(r["not_used"]), reason: r["reason"],
			note: r["note"]}
		u.everything, u.any = slices.Contains(u.notUsed, "all"), len(u.notUsed) > 0
		switch {
		case u.any && !slices.Contains(reasons, u.reason):
			t.Errorf("sheets.csv: %s %s is not used in full, and its reason %q is none of %q", key[0], key[1], u.reason,
				reasons)
		case !u.any && u.reason != "":
			t.Errorf("sheets.csv: %s %s has the reason %q and nothing that it is for", key[0], key[1], u.reason)
		case u.everything != (len(u.materials) == 0):
			t.Errorf("sheets.csv: %s %s checks either some material or, with not_used: all, none", key[0], key[1])
		}
		out[key] = u
	}
	return out
}

// usedFor lists the figures that are held against each material or group of the ruleset.
func usedFor(t testing.TB) map[string][]figure {
	t.Helper()
	out := map[string][]figure{}
	use := uses(t)
	for _, e := range entries(t) {
		u := use[[2]string{e.table, e.row}]
		for _, f := range e.figures {
			if slices.Contains(u.notUsed, f.what) || u.everything {
				continue
			}
			for _, m := range u.materials {
				out[m] = append(out[m], f)
			}
		}
	}
	return out
}
