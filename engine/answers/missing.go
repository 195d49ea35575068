package answers

import (
	"math"
	"slices"
	"strings"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
)

// missing is what a node lacks to be named.
func (a *Asker) missing(d *engine.Decision, x *kb.Material) []phrase.Reason {
	switch {
	case d.Class == engine.Contradictory:
		return []phrase.Reason{{Code: phrase.Unresolved}}
	case d.NotListed == engine.NotListedLikely:
		return []phrase.Reason{{Code: phrase.OffListFirst}}
	case d.Faulty:
		return []phrase.Reason{{Code: phrase.MendFirst}}
	case !x.Nameable:
		return []phrase.Reason{{Code: phrase.NeverNamed, Node: x}}
	}
	out := []phrase.Reason{}
	s := a.judge.Standing(d, x)
	if s.Share < s.Required {
		out = append(out, a.othersThan(x))
	}
	if s.Doubt > s.DoubtLimit {
		out = append(out, phrase.Reason{Code: phrase.OneReading})
	}
	if !s.Supported {
		out = append(out, phrase.Reason{Code: phrase.LacksSupport(s.Families), Families: s.Families})
	}
	out = append(out, a.near(s.Rivals)...)
	for _, r := range s.Withheld {
		out = append(out, phrase.Reason{Code: phrase.HouseKeeps, Rules: []*kb.Rule{r}})
	}
	if lift := a.judge.Lift(s.Withheld); len(lift) > 0 {
		out = append(out, lift...)
	}
	if s.GrownUnknown {
		out = append(out, phrase.Reason{Code: phrase.GrowthUnknown, Node: x})
	}
	if len(s.Unsettled) > 0 {
		out = append(out, phrase.Reason{Code: phrase.NotRuledOut, Nodes: s.Unsettled})
	}
	return out
}

// near are the rivals that are too near: those that the readings do not tell it from, and those that they tell it from too
// weakly. A group is left out beside a material under it.
func (a *Asker) near(rivals []engine.Rival) []phrase.Reason {
	same, near := phrase.Reason{Code: phrase.RivalsAlike}, phrase.Reason{Code: phrase.RivalsNear, Needed: a.rs.Policy.Rival}
	for _, r := range rivals {
		if slices.ContainsFunc(rivals, func(o engine.Rival) bool {
			return o.Node != r.Node && o.Node.Under(r.Node) && math.Abs(o.Gap-r.Gap) < 1e-9
		}) {
			continue
		}
		if r.Gap < 0.05 {
			same.Nodes = append(same.Nodes, r.Node)
		} else {
			near.Nodes = append(near.Nodes, r.Node)
		}
	}
	return slices.DeleteFunc([]phrase.Reason{same, near}, func(r phrase.Reason) bool { return r.Nodes == nil })
}

// othersThan are the candidates outside a node that hold most.
func (a *Asker) othersThan(x *kb.Material) phrase.Reason {
	r := phrase.Reason{Code: phrase.ShareOutside}
	for _, i := range a.candidates() {
		if !slices.Contains(x.Leaves, i) && len(r.Nodes) < 3 {
			r.Nodes = append(r.Nodes, a.rs.Leaves[i])
		}
	}
	if len(r.Nodes) == 0 {
		r.Code = phrase.NotListedIs
	}
	return r
}

// worded are reasons as words, one by one, and as data.
func worded(list []phrase.Reason) (says []string, told []phrase.Told) {
	says, told = []string{}, []phrase.Told{}
	for _, r := range list {
		t := r.Told()
		t.Says = strings.TrimSpace(t.Says)
		says, told = append(says, t.Says), append(told, t)
	}
	return says, told
}
