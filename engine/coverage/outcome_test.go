package coverage

import (
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/bitset"
)

// TestOutcomesAreToldApart by each single thing that a person is told of a case.
func TestOutcomesAreToldApart(t *testing.T) {
	one, other := &kb.Material{ID: "one"}, &kb.Material{ID: "other"}
	full := func() *outcome {
		return &outcome{class: engine.Narrowed, nodes: []*kb.Material{one, other}, claim: engine.Open,
			group: engine.Open, excluded: bitset.Set{1}, aside: bitset.Set{2}, shown: bitset.Set{4}}
	}
	if !full().equal(full()) {
		t.Fatal("two of a kind are told apart")
	}
	for what, change := range map[string]func(o *outcome){
		"verdict":          func(o *outcome) { o.class = engine.Inconclusive },
		"name":             func(o *outcome) { o.named = one },
		"nodes":            func(o *outcome) { o.nodes = o.nodes[:1] },
		"order of nodes":   func(o *outcome) { o.nodes = []*kb.Material{other, one} },
		"claim":            func(o *outcome) { o.claim = engine.Falls },
		"claim's group":    func(o *outcome) { o.group = engine.Stands },
		"rules that fault": func(o *outcome) { o.faulty = []*kb.Rule{{ID: "a"}} },
		"exclusions":       func(o *outcome) { o.excluded = bitset.Set{3} },
		"set aside":        func(o *outcome) { o.aside = bitset.Set{3} },
		"shown":            func(o *outcome) { o.shown = bitset.Set{5} },
	} {
		o := full()
		change(o)
		if o.equal(full()) || full().equal(o) {
			t.Errorf("another %s is not seen", what)
		}
	}
}

// A finding that the rule's sheet accepts is not made until the acceptance is over.
func TestAcceptedFindings(t *testing.T) {
	rule := &kb.Rule{ID: "idle", Accepts: []kb.Acceptance{{Finding: "never-fired", Because: "rare",
		Until: time.Date(2031, 5, 1, 0, 0, 0, 0, time.UTC)}}}
	for _, c := range []struct {
		day  int
		held int64
		want string
	}{{0, 0, ""}, {1, 0, "never-fired"}, {0, 3, "never-decides"}} {
		r := &Report{Cases: 5}
		r.find(&Rule{ID: "idle", Count: Count{Held: c.held, Failed: 5 - c.held}}, rule,
			time.Date(2031, 5, c.day, 0, 0, 0, 0, time.UTC))
		got := ""
		for _, d := range r.Findings {
			got += string(d.Code)
		}
		if got != c.want {
			t.Errorf("on day %d of May, held %d: %q, want %q", c.day, c.held, got, c.want)
		}
	}
}
