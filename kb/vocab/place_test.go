package vocab

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func spectrum() *Observable {
	return &Observable{Name: "spectrum", Kind: Features, Unit: "nm", Outcomes: []Outcome{
		{Name: "blue band", At: []float64{450}, Within: 5}, {Name: "iron bands", At: []float64{450, 460, 470}, Within: 5},
		{Name: "nothing"}, {Name: "pair", At: []float64{450, 458}, Within: 5},
		{Name: "violet line", At: []float64{455}, Within: 2.5}}}
}

// TestNear: what lies at a place, and which of several where all places of one were read.
func TestNear(t *testing.T) {
	for _, c := range []struct {
		read []float64
		want [][]string
	}{
		{nil, nil},
		{[]float64{500}, [][]string{nil}},
		{[]float64{452}, [][]string{{"blue band", "iron bands", "pair"}}},
		{[]float64{455}, [][]string{{"blue band", "iron bands", "pair", "violet line"}}},
		{[]float64{457.5}, [][]string{{"iron bands", "pair", "violet line"}}},
		{[]float64{457.6}, [][]string{{"iron bands", "pair"}}},
		{[]float64{449, 471}, [][]string{{"blue band", "iron bands", "pair"}, {"iron bands"}}},
		{[]float64{451, 459}, [][]string{{"blue band", "iron bands", "pair"}, {"iron bands", "pair"}}},
		{[]float64{451, 459, 469}, [][]string{{"iron bands"}, {"iron bands"}, {"iron bands"}}},
		// One reading stands for one place only.
		{[]float64{454}, [][]string{{"blue band", "iron bands", "pair", "violet line"}}},
		{[]float64{448, 454}, [][]string{{"blue band", "iron bands", "pair"},
			{"blue band", "iron bands", "pair", "violet line"}}},
	} {
		var got [][]string
		for _, set := range spectrum().Near(c.read) {
			got = append(got, spectrum().Named(set))
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%v: %s", c.read, d)
		}
	}
}

// TestAllRead: whether each place has a reading of its own is found as by trying all ways to give them out.
func TestAllRead(t *testing.T) {
	at := rapid.Map(rapid.IntRange(440, 470), func(n int) float64 { return float64(n) })
	rapid.Check(t, func(t *rapid.T) {
		f := Outcome{At: rapid.SliceOfNDistinct(at, 1, 4, rapid.ID).Draw(t, "at"),
			Within: rapid.SampledFrom([]float64{1, 3, 5}).Draw(t, "within")}
		read := rapid.SliceOfN(at, 0, 6).Draw(t, "read")
		slices.Sort(f.At)
		slices.Sort(read)
		if got, want := f.AllRead(read), givenOut(f.At, read, f.Within); got != want {
			t.Fatalf("%v", got)
		}
	})
}

func givenOut(at, read []float64, within float64) bool {
	if len(at) == 0 {
		return true
	}
	for i, x := range read {
		if math.Abs(at[0]-x) <= within && givenOut(at[1:], slices.Delete(slices.Clone(read), i, i+1), within) {
			return true
		}
	}
	return false
}
