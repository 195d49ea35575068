package rulesets_test

import (
	"context"
	"slices"
	"strings"
	"sync"
	"testing"

	"whystone/engine/separation"
	"whystone/kb"
	"whystone/kb/vocab"
)

// separations is the table of which harmless tests tell which materials apart (package separation).
type separations struct{ *separation.Table }

var separated = sync.OnceValue(func() separations {
	table, err := separation.Build(context.Background(), prepared(), judgedOn)
	if err != nil {
		panic(err) // of a context that is never over
	}
	return separations{table}
})

// by lists the tests that tell two materials apart, either way.
func (s separations) by(a, b int) []string {
	rs, _ := shipped()
	var out []string
	for _, test := range s.By(rs.Leaves[a], rs.Leaves[b]) {
		out = append(out, test.ID)
	}
	return out
}

// signs tells what parts two materials sometimes, in brackets.
func (s separations) signs(a, b *kb.Material) string {
	var out []string
	for _, x := range s.Signs([]*kb.Material{a, b}, nil) {
		out = append(out, x.Outcome+" in "+x.Of)
	}
	if out == nil {
		return ""
	}
	return " (" + strings.Join(out, "; ") + ")"
}

// Materials whose ranges lie further apart, in a property that a harmless test can read, than the exclusion needs must
// be told apart by that test through the whole engine, house rules included.
func TestMaterialsWithDisjointRangesAreToldApart(t *testing.T) {
	rs := desk(t)
	sep, checked := separated(), 0
	for _, test := range rs.Tests {
		if !test.Harmless() {
			continue
		}
		for _, y := range test.Yields {
			if y.Observable.Kind != vocab.Quantity || y.Observable.Name == "size_density" ||
				y.Observable.Name == vocab.Birefringence {
				continue
			}
			for _, lower := range rs.Leaves {
				for _, higher := range rs.Leaves {
					if !disjoint(rs, y, lower, higher) {
						continue
					}
					checked++
					if !slices.Contains(sep.by(lower.Index, higher.Index), test.ID) {
						t.Errorf("%s and %s: %s should tell them apart by %s, and does not", lower.ID, higher.ID,
							test.ID, y.Observable.Property)
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

// disjoint tells whether any reading of the lower material, within the limits of the test, lies too far below the range
// of the higher one.
func disjoint(rs *kb.Ruleset, y *vocab.Yield, lower, higher *kb.Material) bool {
	a, b := lower.Ranges[y.Observable.Property], higher.Ranges[y.Observable.Property]
	if a == nil || b == nil || a.High > y.Limits[1] || a.Low < y.Limits[0] {
		return false
	}
	return b.Low-a.High > rs.Policy.Misfit*y.Uncertainty+b.Tolerance+1e-9
}
