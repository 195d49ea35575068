package engine_test

import (
	"fmt"
	"math"
	"slices"

	"whystone/engine"
	"whystone/kb"
)

// differences lists in what the engine's verdict is another.
func (v *opinion) differences(got *engine.Explained) (out []string) {
	if v.close {
		return nil
	}
	differ := func(what string, got, want any) {
		if fmt.Sprint(got) != fmt.Sprint(want) {
			out = append(out, fmt.Sprintf("%s is %v, naively %v", what, got, want))
		}
	}
	differ("verdict", got.Verdict, v.class)
	named := "nil"
	if v.named != nil {
		named = v.named.ID
	}
	differ("named", orNil(got.Named), named)
	differ("nodes", got.Nodes, v.nodes)
	differ("required", got.Required, v.required)
	differ("doubt limit", got.DoubtLimit, v.limit)
	out = append(out, v.numbers(got)...)
	out = append(out, v.materials(got)...)
	if v.c.Claim != "" {
		differ("claim", got.Claim.Answer, v.claim.answer)
		if v.claim.means != "" {
			differ("claimed", orNil(got.Claim.Means), v.claim.means)
		}
		if v.claim.group != "" {
			differ("group of the claim", orNil(got.Claim.Group)+" "+orNil(got.Claim.GroupAnswer), v.claim.group+" "+v.claim.groupAnswer)
		}
	}
	called, _ := v.called()
	differ("what is called for", asked(got.CallsFor), called)
	if !v.unsure {
		differ("repeat", got.Repeat, v.repeat)
	}
	return out
}

func orNil(s *string) string {
	if s == nil {
		return "nil"
	}
	return *s
}

// near tells whether two numbers agree to 1e-9.
func near(got, want float64) bool {
	return math.Abs(got-want) <= 1e-9*math.Max(math.Abs(want), 1e-300)
}

func (v *opinion) numbers(got *engine.Explained) (out []string) {
	differ := func(what string, got, want float64) {
		if !near(got, want) {
			out = append(out, fmt.Sprintf("%s is %.17g, naively %.17g", what, got, want))
		}
	}
	differ("doubt", got.Doubt, float(v.doubt))
	differ("share of the unlisted", got.Unlisted, float(v.shares[v.w.unlisted()]))
	switch {
	case (got.Share == nil) != (v.share == nil):
		out = append(out, "one has a share, and the other none")
	case got.Share != nil:
		differ("share", *got.Share, float(v.share))
	}
	if (got.Support == nil) != (v.support == nil) {
		return append(out, "one has a support, and the other none")
	}
	if got.Support != nil {
		differ("support", got.Support.Ratio, finite(exponential(v.support)))
		if !slices.Contains(v.against, got.Support.Against) {
			out = append(out, fmt.Sprintf("support is against %s, naively %v", got.Support.Against, v.against))
		}
	}
	return append(out, v.logs(got)...)
}

// logs compares the log-weights, and what each family adds to them, as the chain keeps them.
func (v *opinion) logs(got *engine.Explained) (out []string) {
	for _, s := range got.Chain {
		if s.Kind != "share" && s.Kind != "family" {
			continue
		}
		naive := make([]number, len(v.rs.Leaves))
		for i := range naive {
			switch {
			case s.Kind == "family" && v.w.family[s.Family] != nil:
				naive[i] = v.w.family[s.Family][i]
			case s.Kind == "share" && v.w.weight[i] != nil:
				naive[i] = plus(logarithm(v.w.prior[i]), v.w.likelihood[i])
			}
		}
		told := map[string]float64{}
		for _, g := range s.Weights {
			told[g.Material] = g.C
		}
		for i, m := range v.rs.Leaves {
			c, ok := told[m.ID]
			switch want := naive[i]; {
			case want == nil && ok:
				out = append(out, fmt.Sprintf("%s %s: %s has %.17g, naively nothing", s.Kind, s.Family, m.ID, c))
			case want != nil && math.Abs(c-float(want)) > 1e-9*(1+math.Abs(c)):
				out = append(out, fmt.Sprintf("%s %s: %s has %.17g, naively %.17g", s.Kind, s.Family, m.ID, c, float(want)))
			}
		}
	}
	return out
}

// materials compares what is left and what is excluded.
func (v *opinion) materials(got *engine.Explained) (out []string) {
	candidates, excluded := map[string]bool{}, map[string]engine.Excluded{}
	for k, c := range got.Candidates {
		candidates[c.Material] = true
		i := slices.IndexFunc(v.rs.Leaves, func(m *kb.Material) bool { return m.ID == c.Material })
		if !near(c.Share, float(v.shares[i])) {
			out = append(out, fmt.Sprintf("share of %s is %.17g, naively %.17g", c.Material, c.Share, float(v.shares[i])))
		}
		if k > 0 {
			before := got.Candidates[k-1]
			if before.Share < c.Share || before.Share == c.Share && before.Material > c.Material {
				out = append(out, "candidates are out of order at "+c.Material)
			}
		}
	}
	for _, x := range got.Excluded {
		excluded[x.Material] = x
	}
	for i, m := range v.rs.Leaves {
		var families []string
		for _, ev := range v.list {
			if ev.out[i] {
				families = append(families, ev.family)
			}
		}
		slices.Sort(families)
		families = slices.Compact(families)
		x := excluded[m.ID]
		if candidates[m.ID] == v.w.out[i] || fmt.Sprint(x.Families) != fmt.Sprint(families) || x.Nought != v.w.nought[i] {
			out = append(out, fmt.Sprintf("%s: candidate %t, excluded by %v, nought %t; naively %t, %v, %t", m.ID, candidates[m.ID], x.Families, x.Nought,
				!v.w.out[i], families, v.w.nought[i]))
		}
	}
	return out
}
