// Package phrase words verdicts, steps, missing things, claims, answers and advice in English. No other package makes
// such sentences: the engine, its answers and its advice yield reasons, which are values, and what is shown lays the
// words out.
//
// A [Reason] has a [Code] out of a closed set and the things that it is about. The table of codes has the words of
// each, with a place in braces for each thing: one line a code, from which the page of help is made. Words of a
// house, a rule's or a sheet's or a case's, are shown as they were written; nothing looks into a text that was made,
// and nothing mends one.
//
// Three rules hold for every sentence. The bare word "diamond" is for a stone that grew in the earth (ISO
// 18323:2015), so that a stone whose growth was not tested is told as "consistent with diamond". No word grades or
// prizes a stone. And a share of the weight, which hangs on what a house sees at its counter, is never told as a
// probability: what is told is support, how many times likelier the readings are on one material than on another,
// with the scale named.
//
// The package stands below the engine, which words what it yields by it, and so knows nothing of judging.
package phrase

import (
	"math"
	"strings"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
	"whystone/kb/logic"
)

// Reason is something told: what it is, and what it is about. What a code does not speak of is left empty.
type Reason struct {
	Code        Code
	Node, Other *kb.Material   // a material or group; of Other, what the first is compared with
	Nodes       []*kb.Material // several
	Rules       []*kb.Rule
	Tests       []*kb.Test
	Readings    []*casefile.Reading
	Observables []string // by the names that files use
	Families    []string
	Causes      []logic.Cause
	Ratio       float64   // how many times likelier
	Needed      float64   // the ratio that a house asks for
	Count, Of   int       // of what the code counts, and out of how many
	Text        string    // words of a house or a case, and what was read
	Range       *kb.Range // of a sheet
	Colours     uint64    // the outcomes of colour that were read: names follow them
	Why         *Reason   // what decided it, or a verdict that it speaks of
	Then        []Reason  // what is told in the same breath: the sentence goes on with them
}

// Values are a reason as data, for programs: ids and figures, without what its code does not speak of.
type Values struct {
	Code     Code     `json:"code,omitempty"`
	Node     string   `json:"node,omitempty"`
	Other    string   `json:"other,omitempty"`
	Nodes    []string `json:"nodes,omitempty"`
	Rules    []string `json:"rules,omitempty"`
	Tests    []string `json:"tests,omitempty"`
	Families []string `json:"families,omitempty"`
	Value    *float64 `json:"value,omitempty"`
	Needed   *float64 `json:"needed,omitempty"`
	Count    int      `json:"count,omitempty"`
}

// Values are the reason as data.
func (r *Reason) Values() Values {
	v := Values{Code: r.Code, Families: r.Families, Count: r.Count, Value: figure(r.Ratio), Needed: figure(r.Needed)}
	v.Node, v.Other = nodeID(r.Node), nodeID(r.Other)
	v.Nodes, v.Rules, v.Tests = english.Each(r.Nodes, nodeID), english.Each(r.Rules, id), english.Each(r.Tests, testID)
	for i := range r.Then {
		if then := r.Then[i].Values(); len(v.Tests) == 0 {
			v.Tests = then.Tests
		}
	}
	return v
}

// nodeID is the id by which output tells a node: of a leaf without a sheet of its own, its group's.
func nodeID(m *kb.Material) string {
	switch {
	case m == nil:
		return ""
	case m.Other:
		return m.Parent.ID
	}
	return m.ID
}

// figure is a number that JSON can hold; nil where there is none.
func figure(x float64) *float64 {
	if x == 0 || math.IsNaN(x) {
		return nil
	}
	x = math.Min(x, math.MaxFloat64)
	return &x
}

// Told is a reason in words, with the reason as data beside.
type Told struct {
	Says string `json:"says"`
	Values
}

func (t Told) said() string { return t.Says }

// Said is what each of several things says that are told in words: of what embeds a Told.
func Said[T interface{ said() string }](list []T) []string { return english.Each(list, T.said) }

// Told is the reason in words, with itself as data beside.
func (r Reason) Told() Told { return Told{Says: r.Says(), Values: r.Values()} }

// Each is the reason and what is told in the same breath, one by one.
func (r Reason) Each() []Told {
	one := r
	one.Then = nil
	out := []Told{one.Told()}
	for _, then := range r.Then {
		then := then.Told()
		then.Says = strings.TrimSpace(then.Says)
		out = append(out, then)
	}
	return out
}
