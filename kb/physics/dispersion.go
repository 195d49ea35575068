package physics

import (
	"fmt"
	"math"
)

// Fraunhofer lines, wavelength in micrometres: D is the sodium doublet's middle, at which gem indices are stated; G
// and B are the lines between which gem dispersion is stated (common practice).
const (
	LineD = 0.5893
	LineG = 0.4308
	LineB = 0.6867
)

// Dispersion is a published dispersion formula: one of the nine forms in which the CC0 refractiveindex.info database
// (M. N. Polyanskiy, Sci. Data 11, 94 (2024)) states the formulas of original papers. With L the wavelength in
// micrometres and Ck the coefficients, counted from 1, those left out at the end being 0:
//
//	1  n² - 1 = C1 + sum C(2i) L²/(L² - C(2i+1)²)                      (Sellmeier)
//	2  n² - 1 = C1 + sum C(2i) L²/(L² - C(2i+1))
//	3  n² = C1 + sum C(2i) L^C(2i+1)                                   (polynomial)
//	4  n² = C1 + C2 L^C3/(L² - C4^C5) + C6 L^C7/(L² - C8^C9) + sum C(2i) L^C(2i+1), from C10 on
//	5  n = C1 + sum C(2i) L^C(2i+1)                                    (Cauchy)
//	6  n - 1 = C1 + sum C(2i)/(C(2i+1) - L^-2)                         (gases)
//	7  n = C1 + C2/(L² - 0.028) + C3/(L² - 0.028)² + C4 L² + C5 L⁴ + C6 L⁶     (Herzberger)
//	8  (n² - 1)/(n² + 2) = C1 + C2 L²/(L² - C3) + C4 L²
//	9  n² = C1 + C2/(L² - C3) + C4 (L - C5)/((L - C5)² + C6)
type Dispersion struct {
	Form         int // 1 to 9
	Coefficients []float64
}

// longest is the number of coefficients a form may have; 0 means C1 and any number of pairs.
var longest = map[int]int{1: 0, 2: 0, 3: 0, 4: 0, 5: 0, 6: 0, 7: 6, 8: 4, 9: 6}

// Index is the index of refraction at a wavelength in micrometres. Whether the formula's own range covers the
// wavelength is the caller's to know. ErrFormula tells of a form or a number of coefficients that doesn't exist,
// ErrRange of a wavelength where the formula gives no real index.
func (d Dispersion) Index(um float64) (float64, error) {
	if err := d.check(); err != nil {
		return 0, err
	}
	if !(um > 0) || math.IsInf(um, 0) {
		return 0, fmt.Errorf("%w: a wavelength of %g um", ErrRange, um)
	}
	n := d.evaluate(um)
	if !(n > 0) || math.IsInf(n, 0) {
		return 0, fmt.Errorf("%w: dispersion formula %d gives no real index at %g um", ErrRange, d.Form, um)
	}
	return n, nil
}

// Between is the dispersion between two wavelengths in micrometres: n at the one less n at the other.
func (d Dispersion) Between(from, to float64) (float64, error) {
	n, err := d.Index(from)
	if err != nil {
		return 0, err
	}
	m, err := d.Index(to)
	return n - m, err
}

// Birefringence is the largest less the smallest index of a crystal's rays (two, or three of a biaxial one) at a
// wavelength in micrometres.
func Birefringence(um float64, rays ...Dispersion) (float64, error) {
	if len(rays) == 0 {
		return 0, fmt.Errorf("%w: birefringence of no rays", ErrFormula)
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, ray := range rays {
		n, err := ray.Index(um)
		if err != nil {
			return 0, err
		}
		low, high = min(low, n), max(high, n)
	}
	return high - low, nil
}

func (d Dispersion) check() error {
	most, known := longest[d.Form]
	n := len(d.Coefficients)
	switch {
	case !known:
		return fmt.Errorf("%w: dispersion formula %d, there are 1 to 9", ErrFormula, d.Form)
	case n == 0:
		return fmt.Errorf("%w: dispersion formula %d without coefficients", ErrFormula, d.Form)
	case most > 0 && n > most:
		return fmt.Errorf("%w: dispersion formula %d has at most %d coefficients, not %d", ErrFormula, d.Form, most, n)
	case most == 0 && n%2 == 0:
		return fmt.Errorf("%w: dispersion formula %d takes one coefficient and pairs, not %d", ErrFormula, d.Form, n)
	}
	return nil
}

// evaluate follows the list of forms above; NaN where there is no real index.
func (d Dispersion) evaluate(um float64) float64 {
	l2, c := um*um, d.coefficient
	powers := func(first int) float64 {
		return d.pairs(first, func(a, b float64) float64 { return a * math.Pow(um, b) })
	}
	switch d.Form {
	case 1:
		return math.Sqrt(1 + c(1) + d.pairs(2, func(a, b float64) float64 { return a * l2 / (l2 - b*b) }))
	case 2:
		return math.Sqrt(1 + c(1) + d.pairs(2, func(a, b float64) float64 { return a * l2 / (l2 - b) }))
	case 3:
		return math.Sqrt(c(1) + powers(2))
	case 4:
		pole := func(k int) float64 {
			if c(k) == 0 {
				return 0
			}
			return c(k) * math.Pow(um, c(k+1)) / (l2 - math.Pow(c(k+2), c(k+3)))
		}
		return math.Sqrt(c(1) + pole(2) + pole(6) + powers(10))
	case 5:
		return c(1) + powers(2)
	case 6:
		return 1 + c(1) + d.pairs(2, func(a, b float64) float64 { return a / (b - 1/l2) })
	case 7:
		h := 1 / (l2 - 0.028)
		return c(1) + c(2)*h + c(3)*h*h + c(4)*l2 + c(5)*l2*l2 + c(6)*l2*l2*l2
	case 8:
		r := c(1) + c(2)*l2/(l2-c(3)) + c(4)*l2
		return math.Sqrt((1 + 2*r) / (1 - r))
	case 9:
		x := um - c(5)
		n2 := c(1) + c(2)/(l2-c(3))
		if c(4) != 0 {
			n2 += c(4) * x / (x*x + c(6))
		}
		return math.Sqrt(n2)
	}
	return math.NaN()
}

// coefficient is Ck, 0 where it was left out.
func (d Dispersion) coefficient(k int) float64 {
	if k > len(d.Coefficients) {
		return 0
	}
	return d.Coefficients[k-1]
}

// pairs sums term(Ck, C(k+1)) over the pairs from k = first on.
func (d Dispersion) pairs(first int, term func(a, b float64) float64) float64 {
	sum := 0.0
	for k := first; k < len(d.Coefficients); k += 2 {
		sum += term(d.coefficient(k), d.coefficient(k+1))
	}
	return sum
}
