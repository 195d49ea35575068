package proofread

import "whystone/kb/diag"

var favoursNobody = diag.New("favours-nobody", "Evidence speaks for or against all materials alike, or not at all.",
	`What counts is how much likelier one material is than another. Evidence for all of them, or with a ratio of 1, moves none. Name
the materials that are meant; for what is not listed there is "unlisted".`)

func init() { Register(Check{Order: 41, Look: favours, Finds: []diag.Code{favoursNobody}}) }

// favours finds evidence that tells no materials apart.
func favours(p *Pass) {
	for _, r := range p.Ruleset.Order {
		for _, w := range r.Weights {
			key := "supports"
			if w.Ratio < 1 || w.Ratio == 1 && r.At("supports") == r.Place.Span {
				key = "weakens"
			}
			switch {
			case w.Ratio == 1:
				p.warn(r, key, favoursNobody, "%q %s with a ratio of 1, which changes nothing", r.ID, key).Detail =
					"Say how many times likelier the readings are on these materials than on the others, or leave it " +
						"out."
			case len(w.Leaves) == len(p.Ruleset.Leaves) && len(w.Leaves) > 1:
				p.warn(r, key, favoursNobody, "%q %s all materials alike, which favours none of them", r.ID,
					key).Detail = "Name those that are meant. What speaks for or against a stone that no sheet is of " +
					"is said of \"unlisted\"."
			}
		}
	}
}
