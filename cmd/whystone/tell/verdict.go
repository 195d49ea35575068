package tell

import (
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
)

// Told is a verdict with all that is needed to tell it.
type Told struct {
	Ruleset *kb.Ruleset
	Engine  *engine.Engine // the ruleset prepared, for further questions
	Case    *casefile.Case
	Moment  engine.Moment
	*engine.Explained
}

// Verdict writes a case at a glance: what it is, what becomes of the claim, and what somebody must know or do now.
func (p *Printer) Verdict(t Told) {
	p.heading(t)
	p.Text(Accent, 2, t.Says)
	if says := t.claimSays(); says != "" {
		p.Text(Bold, 2, says)
	}
	p.Field("Sent on", Bold, t.notes(t.SentOn)...)
	p.Field("Fault", Plain, t.notes(t.Faults)...)
	p.Field("Support", Plain, t.support()...)
	p.Field("Rests on", Plain, t.restsOn()...)
	inside, open := t.open()
	p.Field("Not parted", Plain, inside...)
	p.Field(map[bool]string{true: "Still open", false: "Not excluded"}[t.Named == nil], Plain, open...)
	p.Field("Excluded", Plain, t.excluded()...)
	p.Field("Set aside", Plain, t.setAside()...)
	p.Field("Repeat", Bold, t.repeat()...)
	p.Field("Missing", Plain, t.missing()...)
	p.Field("Caution", Plain, t.notes(t.Cautions)...)
	p.Field("Called for", Plain, t.tests(t.CallsFor)...)
	p.Field("Not to do", Plain, t.forbidden()...)
	p.Field("Note", Plain, t.notes(t.Flags)...)
	p.Field("Waiting", Plain, t.notes(t.Waiting)...)
	p.Field("Draft rule", Plain, t.Drafts()...)
}

// heading says which stone it is.
func (p *Printer) heading(t Told) {
	left := t.Output.Case
	if left == "" {
		left = "a case without a number"
	}
	if t.Claim != nil {
		left += "   claimed: " + t.Claim.Says
	}
	p.Columns(Bold, left, t.asOf())
	if facts := stoneFacts(t); facts != "" {
		p.Text(Dim, 2, facts)
	}
}

func (t Told) asOf() string {
	on, err := time.Parse(time.RFC3339, t.AsOf)
	if err != nil {
		return ""
	}
	return map[string]string{"taken": "taken ", "clock": "as of today, "}[t.AsOfFrom] +
		map[bool]string{true: "as of "}[t.AsOfFrom == "--as-of"] + on.Format(time.DateOnly)
}

func stoneFacts(t Told) string {
	s := t.Case.Stone
	var facts []string
	add := func(text string) {
		if text != "" {
			facts = append(facts, text)
		}
	}
	add(s.Cut)
	if s.Carat != nil {
		add(number(*s.Carat) + " ct")
	}
	for _, c := range []struct {
		is      *bool
		yes, no string
	}{{s.Mounted, "mounted", "loose"}, {s.Warm, "warm", ""}, {s.Wet, "wet", ""}, {s.Coated, "coated", ""}} {
		switch {
		case c.is == nil:
		case *c.is:
			add(c.yes)
		default:
			add(c.no)
		}
	}
	if s.Setting != "" {
		add("setting: " + s.Setting)
	}
	if t.Case.Stake != nil {
		add(strings.TrimSpace("stake " + thousands(*t.Case.Stake) + " " + t.Ruleset.Policy.Currency))
	}
	return strings.Join(facts, ", ")
}

// claimSays is the answer to the claim, as the engine words it.
func (t Told) claimSays() string {
	for _, s := range t.Chain {
		if s.Kind == "claim" {
			return s.Says
		}
	}
	return ""
}

func (t Told) support() []string {
	if t.Support == nil || t.Named == nil {
		return nil
	}
	s := t.Support
	says := "for " + materialOf(t.Ruleset, *t.Named) + " over " + materialOf(t.Ruleset, s.Against) + ": "
	if s.Words != "" {
		says += s.Words + " "
	}
	return []string{says + "(" + times(s.Ratio) + "; scale: " + scaleName(t.Ruleset.Policy) + ")"}
}

// open lists the materials without exclusion: those within a named group, which were not told apart, and all others.
func (t Told) open() (inside, others []string) {
	for _, c := range t.Candidates {
		switch m := t.Ruleset.Node(c.Material); {
		case t.Named == nil || m == nil || !m.Under(t.Ruleset.Node(*t.Named)):
			others = append(others, c.Name)
		case c.Material != *t.Named:
			inside = append(inside, c.Name)
		}
	}
	switch {
	case len(others) == len(t.Ruleset.Leaves):
		return nil, []string{"all " + counted(len(others), "material", "materials") + " of the list; to begin with " + some(others, 4)}
	case len(others) > 0:
		others = []string{some(others, 5)}
	}
	if len(inside) > 0 {
		inside = []string{some(inside, 5)}
	}
	return inside, others
}

// excluded sums up what is out, and how much of it hangs on one kind of evidence. In a contradiction that is the matter
// itself, so there it is told what excludes how many.
func (t Told) excluded() []string {
	if len(t.Excluded) == 0 {
		return nil
	}
	by := map[string]int{}
	var order []string
	single := 0
	for _, x := range t.Excluded {
		if !x.Nought {
			single++
		}
		if by[x.By]++; by[x.By] == 1 {
			order = append(order, x.By)
		}
	}
	says := number(float64(len(t.Excluded))) + " of " + counted(len(t.Ruleset.Leaves), "material", "materials")
	switch {
	case single == len(t.Excluded):
		says += ", all by one kind of evidence alone"
	case single > 0:
		says += ", " + number(float64(single)) + " of them by one kind of evidence alone"
	}
	if t.Verdict != engine.Contradictory.String() {
		return []string{says}
	}
	slices.SortStableFunc(order, func(a, b string) int { return by[b] - by[a] })
	for i, name := range order {
		order[i] = "first by " + t.excluderSays(name) + ": " + counted(by[name], "material", "materials")
	}
	return append([]string{says}, order...)
}

// evidenceName says what excludes: a rule by its id, a reading by its name.
func (t Told) evidenceName(name string) string {
	if t.Ruleset.Rule(name) != nil {
		return "rule " + name
	}
	return plain(name)
}

func (t Told) setAside() []string {
	var out []string
	for _, s := range t.SetAside {
		out = append(out, plain(s.Observable)+": "+plain(s.Says))
	}
	return out
}

// repeat says which readings to take again in a contradiction: any of these sets would resolve it.
func (t Told) repeat() []string {
	var sets []string
	for _, set := range t.Repeat {
		sets = append(sets, plain(join(set, "and")))
	}
	if len(sets) < 2 {
		return sets
	}
	return []string{join(sets, "or") + ", the likelier mistake first"}
}

// missing says what a firmer verdict lacks, without the figures of shares. What is to be repeated is told by itself.
func (t Told) missing() []string {
	if len(t.Repeat) > 0 {
		return nil
	}
	var out []string
	for _, n := range t.Missing {
		if says := t.withoutShares(n.Says); says != "" {
			out = append(out, says)
		}
	}
	return plainAll(out)
}

// withoutShares puts words for the two checks that compare shares, and leaves out what is told under "Sent on".
func (t Told) withoutShares(says string) string {
	for _, s := range t.Chain {
		if s.Kind == "check" && s.Says == says && s.OK != nil {
			if s.Condition == "sent on" {
				return ""
			}
			return checkSays(s)
		}
	}
	return says
}

// checkSays is what a check says, without the figures of shares, which are no probabilities and read like them.
func checkSays(s engine.Step) string {
	switch {
	case s.Condition == "share":
		return "it has the share of the whole weight that the house requires"
	case s.Condition == "doubt" && *s.OK:
		return "no more hangs on a single reading being right than the house allows"
	case s.Condition == "doubt":
		return "too much hangs on a single reading being right: repeat it, or add a test of another kind"
	}
	return s.Says
}

func (t Told) notes(list []engine.Note) []string {
	var out []string
	for _, n := range list {
		out = append(out, plain(n.Says))
	}
	return out
}

// tests lists tests with the reasons: those that one rule calls for together, and what is called for by several rules
// once.
func (t Told) tests(list []engine.Note) []string {
	var order, ids []string
	reasons := map[string][]string{}
	for i, n := range list {
		if n.Test == nil {
			continue
		}
		ids = append(ids, *n.Test)
		if i+1 < len(list) && list[i+1].Rule != nil && n.Rule != nil && *list[i+1].Rule == *n.Rule {
			continue
		}
		names := join(testNames(t.Ruleset, ids), "and")
		if reasons[names] == nil {
			order = append(order, names)
		}
		reasons[names] = append(reasons[names], plain(n.Says))
		ids = nil
	}
	var out []string
	for _, names := range order {
		out = append(out, names+": "+strings.Join(reasons[names], " "))
	}
	return out
}

func (t Told) forbidden() []string {
	var ids []string
	for _, n := range t.Forbids {
		if n.Test != nil && !slices.Contains(ids, *n.Test) && !t.standing(n.Rule) {
			ids = append(ids, *n.Test)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	return []string{counted(len(ids), "test", "tests") + " on this stone: " + strings.Join(testNames(t.Ruleset, ids), "; ")}
}

// standing tells whether a rule always applies: what it forbids is told with the procedure and in what to do next, not
// under every verdict.
func (t Told) standing(rule *string) bool {
	if rule == nil {
		return false
	}
	r := t.Ruleset.Rule(*rule)
	return r != nil && r.If == nil && r.Unless == nil
}

// Closing writes what holds for all verdicts above it.
func (p *Printer) Closing(rs *kb.Ruleset) {
	p.Text(Dim, 0, "The house's opinion on the readings given, not a laboratory report. Ruleset "+short(rs.Digest)+", method "+number(float64(rs.Method))+".")
}

// Diagnostics writes a list as package diag does, in the printer's width and colour.
func (p *Printer) Diagnostics(l diag.List) {
	_ = diag.WriteText(&p.buf, l, diag.TextOptions{Colour: p.colour, Width: p.width}) // a buffer takes everything
}
