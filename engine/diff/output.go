package diff

import (
	"bytes"
	"encoding/json"
	"math"
	"reflect"
	"slices"

	"whystone/engine"
	"whystone/kb/english"
)

// SameOutput tells whether two verdicts differ in nothing that is told, whatever ruleset gave them and as of when.
func SameOutput(a, b engine.Output) bool {
	b.Ruleset, b.AsOf = a.Ruleset, a.AsOf
	x, err1 := json.Marshal(a)
	y, err2 := json.Marshal(b)
	return err1 == nil && err2 == nil && bytes.Equal(x, y)
}

// Outputs finds what another verdict on the same case has more, less or other. It is nil when the two say the same; the
// drafts, the ruleset's digest and the reasons given for an exclusion are not looked at.
func Outputs(was, is *engine.Output) *engine.Would {
	w := &engine.Would{Verdict: is.Verdict, Says: is.Says, Within: is.Within, Named: is.Named, Nodes: is.Nodes,
		Share: is.Share, Doubt: is.Doubt, Support: is.Support,
		Claim: is.Claim, Toward: []string{},
		Excluded: gain(was.Excluded, is.Excluded, func(x engine.Excluded) string { return x.Material }),
		SetAside: gain(was.SetAside, is.SetAside, func(x engine.SetAside) string { return x.Observable }),
		Cautions: gain(was.Cautions, is.Cautions, says), SentOn: gain(was.SentOn, is.SentOn, says),
		CallsFor: gain(was.CallsFor, is.CallsFor, test), Forbids: gain(was.Forbids, is.Forbids, test),
		Waiting: gain(was.Waiting, is.Waiting, says), Faults: gain(was.Faults, is.Faults, says)}
	if len(w.Excluded.Added)+len(w.Excluded.Removed) == 0 {
		w.Toward = toward(was.Candidates, is.Candidates)
	}
	if !anyGain(w) && sameTold(was, is) && sameWeights(was, is) {
		return nil
	}
	return w
}

func says(n engine.Note) string { return n.Says }

func test(n engine.Note) string {
	if n.Test == nil {
		return ""
	}
	return *n.Test
}

// gain is what one list has and the other has not, without repeats, in the order of the lists.
func gain[T any](was, is []T, name func(T) string) engine.Gain {
	before, now := names(was, name), names(is, name)
	return engine.Gain{Added: without(now, before), Removed: without(before, now)}
}

func names[T any](list []T, name func(T) string) []string {
	var out []string
	for _, x := range list {
		if n := name(x); !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

func without(list, less []string) []string {
	more := func(x string) (string, bool) { return x, !slices.Contains(less, x) }
	return append([]string{}, english.Only(list, more)...)
}

func anyGain(w *engine.Would) bool {
	return slices.ContainsFunc([]engine.Gain{w.Excluded, w.SetAside, w.Cautions, w.SentOn, w.CallsFor, w.Forbids,
		w.Waiting, w.Faults}, func(g engine.Gain) bool { return len(g.Added)+len(g.Removed) > 0 })
}

// sameTold tells whether two verdicts give the same names, and the same answer to the claim.
func sameTold(a, b *engine.Output) bool {
	return a.Verdict == b.Verdict && a.Says == b.Says &&
		reflect.DeepEqual(a.Named, b.Named) && slices.Equal(a.Nodes, b.Nodes) && reflect.DeepEqual(a.Claim, b.Claim)
}

// alike is how far shares may lie apart that are the same: sums may be taken in another order.
const alike = 1e-12

func near(x, y float64) bool { return math.Abs(x-y) <= alike }

// sameWeights tells whether two verdicts rest on the same weights: every share, what is unlisted, and the doubt.
func sameWeights(a, b *engine.Output) bool {
	if len(a.Candidates) != len(b.Candidates) || !near(a.Doubt, b.Doubt) || !near(a.Unlisted, b.Unlisted) {
		return false
	}
	before := shares(a.Candidates)
	for _, c := range b.Candidates {
		if x, ok := before[c.Material]; !ok || !near(x, c.Share) {
			return false
		}
	}
	return true
}

func shares(list []engine.Candidate) map[string]float64 {
	out := map[string]float64{}
	for _, c := range list {
		out[c.Material] = c.Share
	}
	return out
}

// toward lists the materials whose share rises most, as a ratio, sorted.
func toward(was, is []engine.Candidate) []string {
	before := shares(was)
	most := 0.0
	rise := map[string]float64{}
	for _, c := range is {
		rise[c.Material] = math.Log(c.Share / before[c.Material])
		most = max(most, rise[c.Material])
	}
	out := []string{}
	for m, r := range rise {
		if most > 1e-9 && r > most-1e-9 {
			out = append(out, m)
		}
	}
	slices.Sort(out)
	return out
}
