package answers

import (
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
	if a.judge.Share(x) < d.Required {
		out = append(out, a.othersThan(x))
	}
	_, lacks := a.judge.Asked(d, x)
	same, near := phrase.Reason{Code: phrase.RivalsAlike}, phrase.Reason{Code: phrase.RivalsNear,
		Needed: a.rs.Policy.Rival}
	for _, r := range lacks {
		switch r.Code {
		case phrase.RivalAhead, phrase.RivalAlike:
			same.Nodes = append(same.Nodes, r.Other)
		case phrase.RivalBehind:
			near.Nodes = append(near.Nodes, r.Other)
		default:
			out = append(out, r)
		}
	}
	return slices.DeleteFunc(append(out, same, near), func(r phrase.Reason) bool {
		return r.Nodes == nil && (r.Code == phrase.RivalsAlike || r.Code == phrase.RivalsNear)
	})
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
