package replay

import (
	"cmp"
	"context"
	"slices"

	"whystone/engine"
	"whystone/engine/diff"
	"whystone/kb/english"
)

// Refused is a case for which a condition of a gate is not kept: what it was and is, and what parts the two.
type Refused struct {
	Entry
	Was string `json:"was,omitempty"`
	Is  string `json:"is,omitempty"`
	// Rule or Observable is the first that one of the two chains has otherwise, and By what it says; empty where the
	// record could not be judged again by both.
	Rule       string        `json:"rule,omitempty"`
	Observable string        `json:"observable,omitempty"`
	By         string        `json:"by,omitempty"`
	Parts      *diff.Parting `json:"parts,omitempty"`
}

// Refuse adds to each condition that is not kept the cases that it is not kept for, as far as the lists of the tally
// hold them; told of each condition is how many more there are. With again, they are judged once more by both rulesets,
// to find what parts the two chains.
func (p *Page) Refuse(ctx context.Context, c *Config, gate []Condition, again bool) error {
	found := map[int64]Difference{}
	if again {
		list := &List{Sample: p.refused(gate)}
		all, err := Differences(ctx, *c, list, len(list.Sample))
		if err != nil {
			return err
		}
		for _, d := range all {
			found[d.Number] = d
		}
	}
	for i := range p.Gate {
		v := &p.Gate[i]
		for _, l := range p.brokenBy(gate, i) {
			v.More += l.Count - int64(len(l.Sample))
			for _, e := range l.Sample {
				r := Refused{Entry: e}
				if d, ok := found[e.Number]; ok {
					r.differs(&d)
				}
				v.Cases = append(v.Cases, r)
			}
		}
	}
	return nil
}

// brokenBy are the lists that hold the cases for which a condition is not kept.
func (p *Page) brokenBy(gate []Condition, i int) []*List {
	return english.Only(gate[i].lists, func(name string) (*List, bool) {
		l := p.Tally.Lists[name]
		if name == pinnedNotFound {
			l = p.Tally.notFound()
		}
		return l, l != nil && !p.Gate[i].OK
	})
}

// pinnedNotFound is the list of the pinned cases that no archive has: no record puts them there.
const pinnedNotFound = "pinned, not found"

func (t *Tally) notFound() *List {
	l := &List{}
	for _, id := range Sorted(t.Pinned) {
		if p := t.Pinned[id]; p.Seen == 0 {
			l.add(Entry{Case: id, Says: "not found; pinned: " + p.Why})
		}
	}
	return l
}

// refused are the cases of all conditions that a record tells of, each once, in the order of the archives.
func (p *Page) refused(gate []Condition) []Entry {
	var out []Entry
	for i := range p.Gate {
		for _, l := range p.brokenBy(gate, i) {
			out = append(out, l.Sample...)
		}
	}
	out = slices.DeleteFunc(out, func(e Entry) bool { return e.Number == 0 })
	slices.SortFunc(out, func(a, b Entry) int { return cmp.Compare(a.Number, b.Number) })
	return slices.CompactFunc(out, func(a, b Entry) bool { return a.Number == b.Number })
}

// differs tells what the case was and is, and which rule or reading the chains have otherwise first.
func (r *Refused) differs(d *Difference) {
	r.Was, r.Is, r.Parts = inShort(d.Before), inShort(d.After), d.Parts
	if turn := diff.Turn(d.Before.Chain, d.After.Chain); turn != nil {
		r.Rule, r.Observable, r.By = turn.Rule, turn.Observable, turn.Says
	}
}

func inShort(ex *engine.Explained) string {
	if ex.Claim == nil {
		return ex.Within
	}
	return ex.Within + ", claim " + ex.Claim.Answer
}

// mostRefused is how many cases of a condition are told in plain words.
const mostRefused = 10

// refusals tells for which cases the gate is not kept, each under the first condition that it is not kept for.
func (p *Page) refusals(v *Verdict, told map[int64]bool, line func(string, ...any)) {
	shown, before := 0, 0
	for _, r := range v.Cases {
		switch {
		case told[r.Number]:
			before++
			continue
		case shown == mostRefused && r.Number > 0: // no list has what no archive has, so that is told whole
			continue
		}
		shown++
		told[r.Number] = r.Number > 0 // what no archive has bears none
		if r.Was == "" {
			line("  %s  %s", orNone(r.Case), clip(r.Says, 200))
			continue
		}
		line("  %s  %s", orNone(r.Case), clip(r.Was, 200))
		line("    -> %s", clip(r.Is, 200))
		switch {
		case r.Rule != "":
			line("    rule %s: %s", r.Rule, clip(r.By, 200))
		case r.Observable != "":
			line("    %s", clip(r.By, 200))
		}
	}
	if before > 0 {
		line("  %s told above", english.Count(before, "case is", "cases are"))
	}
	andMore(line, int64(len(v.Cases)-shown-before)+v.More)
}
