package quantity

import "strconv"

// Round keeps so many significant figures.
func Round(x float64, figures int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', figures, 64), 64)
	if err != nil {
		return x
	}
	return r
}
