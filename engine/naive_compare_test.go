package engine_test

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"whystone/engine"
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
	named := "nil"
	if v.named != nil {
		named = v.named.id
	}
	differ("verdict", got.Verdict, v.class)
	differ("not listed", orNil(got.NotListed), orWord(v.notListed))
	differ("named", orNil(got.Named), named)
	differ("path", got.Path, v.path())
	differ("nodes", got.Nodes, told(v.nodes))
	differ("what the name rests on", got.RestsOnPriors, told(v.priors))
	differ("required", got.Required, v.required)
	differ("doubt limit", got.DoubtLimit, v.limit)
	out = append(out, v.numbers(got)...)
	out = append(out, v.materials(got)...)
	if v.c.claim != "" {
		differ("claim", got.Claim.Answer+", of "+orNil(got.Claim.Means), v.claim.answer+", of "+orWord(v.claim.means))
		if why := v.claim.why(v.claim.step); !slices.Contains(why, string(got.Claim.Why.Code)) {
			out = append(out, fmt.Sprintf("the claim is %s for %s, naively for %v", got.Claim.Answer,
				got.Claim.Why.Code, why))
		}
		if why := v.claim.why(v.claim.groupStep); v.claim.group != "" &&
			!slices.Contains(why, string(got.Claim.GroupWhy.Code)) {
			out = append(out, fmt.Sprintf("the group is %s for %s, naively for %v", orNil(got.Claim.GroupAnswer),
				got.Claim.GroupWhy.Code, why))
		}
		differ("group of the claim", orNil(got.Claim.Group)+" "+orNil(got.Claim.GroupAnswer),
			orWord(v.claim.group)+" "+orWord(v.claim.groupAnswer))
	}
	called, _ := v.called()
	differ("what is called for", byRule(got.CallsFor), called)
	differ("what is forbidden", byRule(got.Forbids), v.doing("forbids"))
	differ("what is warned of", byRule(got.Cautions), v.doing("cautions"))
	out = append(out, v.toldBack(got)...)
	var flags []string
	for _, n := range got.Flags {
		if len(n.Observables) == 1 { // two disagree about one property
			flags = append(flags, n.Observables[0])
		}
	}
	slices.Sort(flags)
	differ("flags", flags, v.flagged())
	differ("what is waited for", byRule(got.Waiting), v.waiting())
	differ("what sends the stone on", byRule(got.SentOn), v.senders())
	var aside, drafts []string
	for _, a := range got.SetAside {
		if a.Rule == nil {
			aside = append(aside, a.Observable+" of "+*a.Test)
		} else {
			aside = append(aside, a.Observable+" by "+*a.Rule)
		}
	}
	for _, d := range got.Drafts {
		drafts = append(drafts, *d.Rule)
	}
	slices.Sort(aside)
	differ("what is set aside", aside, v.setAside())
	differ("drafts", drafts, v.drafts())
	differ("faults", slices.Compact(byRule(got.Faults)), v.faultyRules())
	if says := v.saidName(); says != "" && !strings.Contains(got.Says, says) {
		out = append(out, fmt.Sprintf("it says %q, naively %q is in it", got.Says, says))
	}
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

func orWord(s string) string {
	if s == "" {
		return "nil"
	}
	return s
}

// told lists nodes by the ids by which a verdict tells them, once each.
func told(nodes []*naiveNode) []string {
	out := []string{}
	for _, m := range nodes {
		if !slices.Contains(out, m.told) {
			out = append(out, m.told)
		}
	}
	return out
}

// path leads from the topmost nameable node to the named one.
func (v *opinion) path() []string {
	out := []string{}
	for m := v.named; m != nil; m = m.up {
		if m.nameable {
			out = append([]string{m.id}, out...)
		}
	}
	return out
}

func (v *opinion) senders() (out []string) {
	for _, r := range v.rules {
		if r.sheet.has("sends_on") && v.fires(r) {
			out = append(out, r.id)
		}
	}
	return out
}

func (v *opinion) faultyRules() (out []string) {
	for _, r := range v.rules {
		if v.faults[r.id] {
			out = append(out, r.id)
		}
	}
	return out
}

// saidName is the name that a verdict uses: "the first that the reading of colour meets; if none, the sheet's `name`. A
// name that demands a colour is never used for a stone of another."
func (v *opinion) saidName() string {
	if v.named == nil {
		return ""
	}
	names := v.named.inVerdicts
	if _, several := names.v.([]any); !several {
		return names.text(v.named.name)
	}
	for _, n := range names.list() {
		meets := len(v.colours()) > 0
		for _, r := range v.colours() {
			_, all := demanded(r, n.at("colour").texts())
			meets = meets && all
		}
		if meets || !n.has("colour") {
			v.met["named by colour: "+map[bool]string{true: "demanded", false: "any"}[meets && n.has("colour")]] = true
			return n.at("says").text("")
		}
	}
	v.met["named by colour: none"] = true
	return v.named.name
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
	differ("share of the unlisted", got.Unlisted, float(v.shares[v.w.last()]))
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

// figures are numbers by the id under which they are told, in rising order where several leaves are told under one.
type figures map[string][]float64

func (f figures) add(id string, x float64) {
	f[id] = append(f[id], x)
	slices.Sort(f[id])
}

// differences of figures beyond a part of their size.
func (f figures) differ(what string, want figures, alike func(got, want float64) bool) (out []string) {
	ids := set{}
	for id := range f {
		ids[id] = true
	}
	for id := range want {
		ids[id] = true
	}
	for id := range ids {
		if !slices.EqualFunc(f[id], want[id], alike) {
			out = append(out, fmt.Sprintf("%s of %s is %.17g, naively %.17g", what, id, f[id], want[id]))
		}
	}
	return out
}

// logs compares the log-weights, and what each family adds to them, as the chain keeps them: nothing added is not told.
func (v *opinion) logs(got *engine.Explained) (out []string) {
	for _, s := range got.Chain {
		if s.Kind != "share" && s.Kind != "family" {
			continue
		}
		want, is := figures{}, figures{}
		add := func(to figures, id string, x float64) {
			if s.Kind == "share" || math.Abs(x) > 1e-12 {
				to.add(id, x)
			}
		}
		for i, m := range v.leaves {
			switch {
			case s.Kind == "family" && v.w.family[s.Family] != nil:
				add(want, m.id, float(v.w.family[s.Family][i]))
			case s.Kind == "share" && v.w.weight[i] != nil:
				add(want, m.id, float(plus(logarithm(v.w.prior[i]), v.w.likelihood[i])))
			}
		}
		for _, g := range s.Weights {
			add(is, g.Material, g.C)
		}
		out = append(out, is.differ(string(s.Kind)+" "+s.Family, want,
			func(got, want float64) bool { return math.Abs(got-want) <= 1e-9*(1+math.Abs(got)) })...)
	}
	return out
}

// materials compares what is left and what is excluded.
func (v *opinion) materials(got *engine.Explained) (out []string) {
	candidates, want := figures{}, figures{}
	excluded, wanted := map[string][]string{}, map[string][]string{}
	for k, c := range got.Candidates {
		candidates.add(c.Material, c.Share)
		if k > 0 {
			before := got.Candidates[k-1]
			if before.Share < c.Share || before.Share == c.Share && before.Material > c.Material {
				out = append(out, "candidates are out of order at "+c.Material)
			}
		}
	}
	for _, x := range got.Excluded {
		excluded[x.Material] = append(excluded[x.Material], fmt.Sprint(x.Families, x.Zero))
	}
	want.add("unlisted", float(v.shares[v.w.last()]))
	for i, m := range v.leaves {
		families := set{}
		for _, ev := range v.list {
			if ev.out[i] {
				families[ev.family] = true
			}
		}
		if !v.w.out[i] {
			want.add(m.told, float(v.shares[i]))
			continue
		}
		wanted[m.told] = append(wanted[m.told], fmt.Sprint(sorted(families), v.w.zero[i]))
	}
	for _, lists := range []map[string][]string{excluded, wanted} {
		for _, l := range lists {
			slices.Sort(l)
		}
	}
	if fmt.Sprint(excluded) != fmt.Sprint(wanted) {
		out = append(out, fmt.Sprintf("excluded are %v, naively %v", excluded, wanted))
	}
	return append(out, candidates.differ("share", want, near)...)
}

func sorted(s set) []string {
	var out []string
	for w := range s {
		out = append(out, w)
	}
	slices.Sort(out)
	return out
}
