package physics

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"whystone/kb/kbtest"
)

var published = kbtest.Published

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// printed holds a value against a printed number, to half a unit of its last digit.
func printed(t *testing.T, what string, got float64, want string) {
	t.Helper()
	_, decimals, _ := strings.Cut(want, ".")
	if slack := 0.5000001 * math.Pow10(-len(decimals)); !(math.Abs(got-number(t, want)) <= slack) {
		t.Errorf("%s = %.8g, printed %s", what, got, want)
	}
}

func within(t *testing.T, what string, got, want, slack float64) {
	t.Helper()
	if !(math.Abs(got-want) <= slack) {
		t.Errorf("%s = %.9g, want %.9g within %.2g", what, got, want, slack)
	}
}

// must unwraps a result that a test knows to be fine.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
