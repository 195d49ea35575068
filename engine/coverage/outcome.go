package coverage

import (
	"slices"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/bitset"
	"whystone/kb/casefile"
)

// outcome is all that is told of a case and that a rule can be there for.
type outcome struct {
	class        engine.Class
	named        *kb.Material
	nodes        []*kb.Material
	claim, group engine.Answer
	faulty       []*kb.Rule // rules that could not be evaluated
	excluded     bitset.Set // leaves; all others are candidates
	aside        bitset.Set // observables
	shown        bitset.Set // cautions and so on
}

func (o *outcome) equal(x *outcome) bool {
	return o.class == x.class && o.named == x.named && o.claim == x.claim && o.group == x.group &&
		slices.Equal(o.nodes, x.nodes) &&
		slices.Equal(o.faulty, x.faulty) && slices.Equal(o.excluded, x.excluded) && slices.Equal(o.aside, x.aside) &&
		slices.Equal(o.shown, x.shown)
}

func (k *Counter) newOutcome() *outcome {
	rs := k.engine.Ruleset
	return &outcome{excluded: bitset.New(len(rs.Leaves)), aside: bitset.New(len(rs.Vocabulary.Observables)),
		shown: bitset.New(k.texts)}
}

func cleared(s bitset.Set) bitset.Set {
	clear(s)
	return s
}

// told fills in the outcome of the case that was decided last.
func (k *Counter) told(o *outcome, c *casefile.Case, d *engine.Decision) {
	*o = outcome{class: d.Class, named: d.Named, nodes: d.Nodes, claim: d.Claim.Answer, group: d.Claim.GroupAnswer,
		faulty: d.FaultyRules, excluded: cleared(o.excluded), aside: cleared(o.aside), shown: cleared(o.shown)}
	for i := range k.engine.Ruleset.Leaves {
		if k.judge.Excluded(i) {
			o.excluded.Add(i)
		}
	}
	run := k.judge.Run()
	for _, a := range run.SetAside {
		o.aside.Add(a.Observable.Index)
	}
	k.shown(c, func(_, text int) { o.shown.Add(text) })
}

// says is something that a rule shows as it stands: a caution, the reason for a laboratory, a test called for or
// forbidden.
type says struct {
	text int    // alike for what reads alike
	test string // called for, where the engine wants it
}

// readSays numbers what the rules show.
func (k *Counter) readSays() {
	known := map[[2]string]int{}
	number := func(kind, text string) int {
		n, ok := known[[2]string{kind, text}]
		if !ok {
			n = len(known)
			known[[2]string{kind, text}] = n
		}
		return n
	}
	for i, r := range k.engine.Ruleset.Order {
		if r.Status != kb.Active {
			continue
		}
		for _, text := range r.Cautions {
			k.says[i] = append(k.says[i], says{text: number("caution", text)})
		}
		if r.SendsOn != "" {
			k.says[i] = append(k.says[i], says{text: number("sent on", r.SendsOn)})
		}
		for _, test := range r.CallsFor {
			k.says[i] = append(k.says[i], says{text: number("calls for", test), test: test})
		}
		for _, test := range r.Forbids {
			k.says[i] = append(k.says[i], says{text: number("forbids", test)})
		}
	}
	k.texts = len(known)
}

// shown calls f with all that is shown in the case that was decided last, and the place of the rule that shows it.
func (k *Counter) shown(c *casefile.Case, f func(rule, text int)) {
	run := k.judge.Run()
	for i, r := range k.engine.Ruleset.Order {
		if len(k.says[i]) == 0 || !run.Fired(r) {
			continue
		}
		for _, s := range k.says[i] {
			if s.test == "" || k.judge.Wants(c, s.test) {
				f(i, s.text)
			}
		}
	}
}
