package physics

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func dispersionOf(t *testing.T, row map[string]string) Dispersion {
	t.Helper()
	form, err := strconv.Atoi(strings.TrimPrefix(row["formula_type"], "formula "))
	if err != nil {
		t.Fatal(err)
	}
	d := Dispersion{Form: form}
	for _, c := range strings.Fields(row["coefficients"]) {
		d.Coefficients = append(d.Coefficients, number(t, c))
	}
	return d
}

// Source: testdata/published/dispersion_formulas.csv (CC0 optics database, original papers by row): every formula, to
// the digits printed.
func TestPublishedDispersionFormulas(t *testing.T) {
	rows := published(t, "dispersion_formulas.csv")
	forms, figures := map[int]int{}, 0
	for _, row := range rows {
		d, name := dispersionOf(t, row), row["db_path"]
		forms[d.Form]++
		for _, line := range []struct {
			column string
			um     float64
		}{{"n_D", LineD}, {"n_G", LineG}, {"n_B", LineB}} {
			if row[line.column] == "" {
				continue
			}
			n, err := d.Index(line.um)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			figures++
			printed(t, name+" "+line.column, n, row[line.column])
		}
		if row["dispersion_G_minus_B"] != "" {
			gb, err := d.Between(LineG, LineB)
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			figures++
			printed(t, name+" dispersion", gb, row["dispersion_G_minus_B"])
		}
	}
	if len(rows) != 95 || forms[1] < 30 || forms[2] < 30 || forms[3] < 2 || forms[4] < 15 || forms[5] < 5 ||
		figures < 350 {
		t.Errorf("%d rows, forms %v, %d figures: the table is not whole", len(rows), forms, figures)
	}
}

// Birefringence of the rays of one dataset, against the column of the same table.
func TestPublishedBirefringence(t *testing.T) {
	rays, want := map[string][]Dispersion{}, map[string]string{}
	ray := regexp.MustCompile(`-?(alpha|beta|gamma|[oe])(-20C)?\.yml$`)
	for _, row := range published(t, "dispersion_formulas.csv") {
		if row["birefringence_D"] == "" {
			continue
		}
		crystal := ray.ReplaceAllString(row["db_path"], "")
		rays[crystal] = append(rays[crystal], dispersionOf(t, row))
		want[crystal] = row["birefringence_D"]
	}
	checked := 0
	for crystal, d := range rays {
		if len(d) < 2 {
			t.Errorf("%s: only one ray", crystal)
			continue
		}
		checked++
		printed(t, crystal, must(Birefringence(LineD, d...)), want[crystal])
	}
	if checked < 15 {
		t.Errorf("only %d crystals checked", checked)
	}
}

// Source: makers' catalogue figures of optical glasses (n at the helium d line, 0.5875618 um, and the Abbe number
// (nd-1)/(nF-nC)), as kept in the comment column of the same CC0 database: not computed from the formulas, so an
// independent check of them.
func TestCatalogueFiguresOfGlasses(t *testing.T) {
	figures := regexp.MustCompile(`nd ([0-9.]+), Vd ([0-9.]+)`)
	checked := 0
	for _, row := range published(t, "dispersion_formulas.csv") {
		m := figures.FindStringSubmatch(row["comment"])
		if m == nil {
			continue
		}
		checked++
		d := dispersionOf(t, row)
		nd, nF, nC := must(d.Index(0.5875618)), must(d.Index(0.4861327)), must(d.Index(0.6562725))
		within(t, row["material"]+" nd", nd, number(t, m[1]), 1.1e-5)
		within(t, row["material"]+" Vd", (nd-1)/(nF-nC), number(t, m[2]), 0.011)
	}
	if checked != 8 {
		t.Errorf("%d glasses checked, want 8", checked)
	}
}

// The forms that no gem material of the table uses, held to what algebra makes of them and to figures worked by hand.
func TestOtherForms(t *testing.T) {
	index := func(form int, um float64, c ...float64) float64 {
		t.Helper()
		return must(Dispersion{form, c}.Index(um))
	}
	for _, um := range []float64{0.4, 0.5893, 0.8, 1, 2.5} {
		// 6: a/(b - 1/L²) is (a/b) L²/(L² - 1/b), and n = 1 + that.
		within(t, "form 6", index(6, um, 0.1, 3, 90), 1.1+3.0/90*um*um/(um*um-1.0/90), 1e-13)
		// 7 without its poles is a polynomial, form 5; each pole by itself by hand.
		within(t, "form 7", index(7, um, 1.5, 0, 0, 0.01, 0.001, 0.0001),
			index(5, um, 1.5, 0.01, 2, 0.001, 4, 0.0001, 6), 1e-13)
		within(t, "form 7 poles", index(7, um, 1.5, 0.02, 0.003)-1.5, 0.02/(um*um-0.028)+0.003/math.Pow(um*um-0.028, 2),
			1e-13)
		// 8: put back into the left side.
		n := index(8, um, 0.3, 0.02, 0.01, -0.003)
		within(t, "form 8", (n*n-1)/(n*n+2), 0.3+0.02*um*um/(um*um-0.01)-0.003*um*um, 1e-13)
		// 9: B + C/(L² - c) is form 2's 1 + b L²/(L² - c) with B = 1 + b and C = b c.
		within(t, "form 9", index(9, um, 2.2, 1.2*0.015, 0.015), index(2, um, 0, 1.2, 0.015), 1e-13)
		n = index(9, um, 2.2, 0, 0, 0.05, 0.3, 0.7)
		within(t, "form 9, last term", n*n, 2.2+0.05*(um-0.3)/(math.Pow(um-0.3, 2)+0.7), 1e-13)
		// 4 with whole exponents is form 2 or 3.
		within(t, "form 4", index(4, um, 1, 1.2, 2, 0.12, 2, 0, 0, 0, 0, 0.01, 2),
			math.Sqrt(math.Pow(index(2, um, 0, 1.2, 0.0144), 2)+0.01*um*um), 1e-13)
	}
	// Air at 15 °C, dry, 101.325 kPa: n - 1 = 0.0002772 at the D line (P. E. Ciddor, Appl. Opt. 35 (1996) 1566;
	// coefficients and value from memory).
	within(t, "air", index(6, LineD, 0, 0.05792105, 238.0185, 0.00167917, 57.362), 1.0002772, 1e-7)
}

func TestDispersionRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		d    Dispersion
		um   float64
		want error
	}{
		"no such form":         {Dispersion{0, []float64{1}}, LineD, ErrFormula},
		"form 10":              {Dispersion{10, []float64{1}}, LineD, ErrFormula},
		"no coefficients":      {Dispersion{1, nil}, LineD, ErrFormula},
		"half a pair":          {Dispersion{1, []float64{0, 1}}, LineD, ErrFormula},
		"too many":             {Dispersion{7, make([]float64, 7)}, LineD, ErrFormula},
		"no wavelength":        {Dispersion{5, []float64{1.5}}, 0, ErrRange},
		"NaN wavelength":       {Dispersion{5, []float64{1.5}}, math.NaN(), ErrRange},
		"infinite wavelength":  {Dispersion{5, []float64{1.5}}, math.Inf(1), ErrRange},
		"at a pole":            {Dispersion{2, []float64{0, 1, 0.25}}, 0.5, ErrRange},
		"inside an absorption": {Dispersion{2, []float64{0, 1, 0.25}}, 0.49, ErrRange},
	} {
		if n, err := c.d.Index(c.um); !errors.Is(err, c.want) {
			t.Errorf("%s: %g, %v, want %v", name, n, err, c.want)
		}
	}
	if _, err := Birefringence(LineD); !errors.Is(err, ErrFormula) {
		t.Errorf("birefringence of nothing: %v", err)
	}
	if _, err := Birefringence(LineD, Dispersion{5, []float64{1.5}}, Dispersion{}); !errors.Is(err, ErrFormula) {
		t.Errorf("birefringence with a bad ray: %v", err)
	}
	if _, err := (Dispersion{}).Between(LineG, LineB); !errors.Is(err, ErrFormula) {
		t.Errorf("dispersion of a bad formula: %v", err)
	}
}
