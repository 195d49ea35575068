package rulesets_test

import (
	"math"
	"slices"
	"sync"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/vocab"
)

// separations tells, for each material, which harmless tests speak against which others by what the material usually gives:
// [a][b] lists the tests whose reading of a excludes b, or is at least ten times likelier under a. A reading is made without
// error, alone, on a clean loose round brilliant of one carat. Usually means an outcome that the sheet has as "usually" or
// "always", or four of five values spread over the range of a quantity (over its typical part, where the sheet has one).
type separations [][][]string

var separated = sync.OnceValue(func() separations {
	rs, _ := shipped()
	out := make(separations, len(rs.Leaves))
	leaves := make(chan *kb.Material)
	var workers sync.WaitGroup
	for range 2 {
		workers.Go(func() {
			j := prepared().NewJudge()
			for leaf := range leaves {
				out[leaf.Index] = against(rs, j, leaf)
			}
		})
	}
	for _, leaf := range rs.Leaves {
		leaves <- leaf
	}
	close(leaves)
	workers.Wait()
	return out
})

// by lists the tests that tell two materials apart, either way.
func (s separations) by(a, b int) []string {
	both := append(slices.Clone(s[a][b]), s[b][a]...)
	slices.Sort(both)
	return slices.Compact(both)
}

// against goes through all harmless tests of one material.
func against(rs *kb.Ruleset, j *engine.Judge, leaf *kb.Material) [][]string {
	out := make([][]string, len(rs.Leaves))
	for _, test := range rs.Tests {
		if !test.Harmless() {
			continue
		}
		for _, y := range test.Yields {
			sets := usual(rs, leaf, test, y)
			counts := make([]int, len(rs.Leaves))
			for _, says := range sets {
				for _, b := range speaksAgainst(rs, j, leaf, says) {
					counts[b]++
				}
			}
			for b, n := range counts {
				enough := n > 0
				if y.Observable.Kind == vocab.Quantity {
					enough = n*5 >= len(sets)*4 && n > 0
				}
				if enough && !slices.Contains(out[b], test.ID) {
					out[b] = append(out[b], test.ID)
				}
			}
		}
	}
	return out
}

// speaksAgainst lists the leaves that a case excludes or makes ten times less likely than a leaf.
func speaksAgainst(rs *kb.Ruleset, j *engine.Judge, leaf *kb.Material, says map[string]any) []int {
	o := told(j, caseOf(panics{}, rs, says))
	priors := rs.Priors()
	likelihood := make([]float64, len(rs.Leaves)) // up to one factor; 0 of what is excluded
	for _, c := range o.Candidates {
		i := rs.Node(c.Material).Index
		likelihood[i] = c.Share / priors[i]
	}
	var out []int
	for i, l := range likelihood {
		if own := likelihood[leaf.Index]; i != leaf.Index && own > 0 && (l == 0 || own >= 10*l) {
			out = append(out, i)
		}
	}
	return out
}

// panics stands in for a test where none is at hand: a case made here that can't be read is a fault of this file.
type panics struct{ testing.TB }

func (panics) Helper()                        {}
func (panics) Fatal(args ...any)              { panic(args) }
func (panics) Fatalf(format string, a ...any) { panic(append([]any{format}, a...)) }

// usual lists what a test usually gives of a material, as cases.
func usual(rs *kb.Ruleset, leaf *kb.Material, test *kb.Test, y *vocab.Yield) []map[string]any {
	o := y.Observable
	reading := func(r any) map[string]any {
		return map[string]any{"stone": map[string]any{"mounted": false, "warm": false, "wet": false, "carat": 1.0, "cut": "round brilliant"},
			"readings": map[string]any{o.Name: r}}
	}
	often := func(f *kb.Frequencies) (words []string) {
		if f == nil {
			return nil
		}
		for _, c := range o.Outcomes {
			if w := f.Words[c.Name]; w == "always" || w == "usually" {
				words = append(words, c.Name)
			}
		}
		return words
	}
	var out []map[string]any
	switch {
	case o.Kind == vocab.Choice:
		for _, w := range often(leaf.Choices[o.Name]) {
			out = append(out, reading(map[string]any{"choice": w, "test": test.ID}))
		}
	case o.Kind == vocab.Features:
		for _, w := range often(leaf.Features[o.Name]) {
			out = append(out, reading(map[string]any{"features": []string{w}, "test": test.ID}))
		}
	case o.Name == vocab.Birefringence: // comes with the rays
	default:
		r := leaf.Ranges[o.Property]
		if r == nil {
			return nil
		}
		low, high := r.Low, r.High
		if r.Typical != nil {
			low, high = r.Typical[0], r.Typical[1]
		}
		for _, p := range []float64{0.1, 0.3, 0.5, 0.7, 0.9} {
			switch {
			case o.Name == "size_density":
				out = append(out, sized(low+p*(high-low)))
			case o.Name == vocab.RefractiveIndex:
				out = append(out, reading(rays(leaf, test, y, low, high, p)))
			default:
				out = append(out, reading(bounded(test, y, low+p*(high-low))))
			}
		}
	}
	return out
}

// rays are the shadow edges of a stone at a part of its range; a spot shows one only.
func rays(leaf *kb.Material, test *kb.Test, y *vocab.Yield, low, high, p float64) any {
	apart := 0.0
	if d := leaf.Ranges[vocab.Birefringence]; d != nil {
		apart = math.Min((d.Low+d.High)/2, high-low)
	}
	first := low + p*(high-low-apart)
	if test.ID == "spot-reading" || first > y.Limits[1] || first+apart > y.Limits[1] {
		return bounded(test, y, first)
	}
	return map[string]any{"value": []float64{first, first + apart}, "test": test.ID}
}

// bounded is a value, or where the test can't read it that it lies beyond.
func bounded(test *kb.Test, y *vocab.Yield, v float64) any {
	switch {
	case v > y.Limits[1]:
		return map[string]any{"above": y.Limits[1], "test": test.ID}
	case v < y.Limits[0]:
		return map[string]any{"below": y.Limits[0], "test": test.ID}
	}
	return map[string]any{"value": v, "test": test.ID}
}

// sized is a loose round brilliant whose weight and size imply a specific gravity.
func sized(sg float64) map[string]any {
	const wide, deep = 6.5, 3.95
	return map[string]any{"stone": map[string]any{"mounted": false, "cut": "round brilliant", "carat": sg / 3.52 * 0.0061 * wide * wide * deep,
		"length_mm": wide, "width_mm": wide, "depth_mm": deep}}
}

// Materials whose ranges lie further apart, in a property that a harmless test can read, than the exclusion needs must be told
// apart by that test through the whole engine, house rules included.
func TestMaterialsWithDisjointRangesAreToldApart(t *testing.T) {
	rs := desk(t)
	sep, checked := separated(), 0
	for _, test := range rs.Tests {
		if !test.Harmless() {
			continue
		}
		for _, y := range test.Yields {
			if y.Observable.Kind != vocab.Quantity || y.Observable.Name == "size_density" || y.Observable.Name == vocab.Birefringence {
				continue
			}
			for _, lower := range rs.Leaves {
				for _, higher := range rs.Leaves {
					if !disjoint(rs, y, lower, higher) {
						continue
					}
					checked++
					if !slices.Contains(sep.by(lower.Index, higher.Index), test.ID) {
						t.Errorf("%s and %s: %s should tell them apart by %s, and does not", lower.ID, higher.ID, test.ID, y.Observable.Property)
					}
				}
			}
		}
	}
	t.Logf("%d pairs and tests checked", checked)
	if checked < 500 {
		t.Errorf("only %d pairs and tests checked", checked)
	}
}

// disjoint tells whether any reading of the lower material, within the limits of the test, lies too far below the range of
// the higher one.
func disjoint(rs *kb.Ruleset, y *vocab.Yield, lower, higher *kb.Material) bool {
	a, b := lower.Ranges[y.Observable.Property], higher.Ranges[y.Observable.Property]
	if a == nil || b == nil || a.High > y.Limits[1] || a.Low < y.Limits[0] {
		return false
	}
	return b.Low-a.High > rs.Policy.Misfit*y.Uncertainty+b.Tolerance+1e-9
}
