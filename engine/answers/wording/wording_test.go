package wording

import (
	"testing"

	"whystone/engine"
	"whystone/kb"
)

func TestSame(t *testing.T) {
	a, b := &kb.Material{ID: "a"}, &kb.Material{ID: "b"}
	narrowed := func(n ...*kb.Material) *engine.Decision {
		return &engine.Decision{Class: engine.Narrowed, Nodes: n}
	}
	if !Same(narrowed(a, b), narrowed(b, a)) || Same(narrowed(a), narrowed(a, b)) || Same(narrowed(a), narrowed(b)) ||
		Same(&engine.Decision{Class: engine.Identified, Named: a}, &engine.Decision{Class: engine.Identified, Named: b}) || Same(&engine.Decision{}, narrowed()) {
		t.Error("verdicts are not told apart by what they name")
	}
}
