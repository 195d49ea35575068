package terminal

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/drafts"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/english"
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
	if says := t.ClaimSays(); says != "" {
		p.Text(Bold, 2, says)
	}
	for _, f := range t.Fields() {
		p.Field(f.Label, f.Style, f.Texts...)
	}
}

// Field is a line of what is told of a case: a label, and the texts beside it.
type Field struct {
	Label string
	Style Style
	Texts []string
}

// Fields are what is told under a verdict and the answer to the claim, in their order; none is without a text.
func (t Told) Fields() []Field {
	inside, open := t.open()
	all := []Field{
		{"Take again", Bold, t.repeat()},
		{"Laboratory", Bold, t.notes(t.SentOn)},
		{"Fault", Plain, t.notes(t.Faults)},
		{"Support", Plain, t.support()},
		{"Based on", Plain, t.restsOn()},
		{"Not settled", Plain, inside},
		{map[bool]string{true: "Still open", false: "Also open"}[t.Named == nil], Plain, open},
		{"Ruled out", Plain, t.excluded()},
		{"Not counted", Plain, t.setAside()},
		{"No name yet", Plain, t.missing()},
		{"Caution", Plain, t.notes(t.Cautions)},
		{"Do next", Plain, t.tests(t.CallsFor)},
		{"Do not", Plain, t.forbidden()},
		{"Note", Plain, t.notes(t.Flags)},
		{"Waiting", Plain, t.notes(t.Waiting)},
		{"Draft rule", Plain, t.drafts()},
	}
	return slices.DeleteFunc(all, func(f Field) bool { return len(f.Texts) == 0 })
}

// heading says which stone it is.
func (p *Printer) heading(t Told) {
	left := t.Output.Case
	if left == "" {
		left = "a case without a number"
	}
	claimed, asOf := "", t.asOf()
	if t.Claim != nil {
		claimed = "claimed: " + t.Claim.Says
	}
	switch whole := strings.TrimSpace(left + "   " + claimed); {
	case p.fits(whole, asOf):
		p.Columns(Bold, whole, asOf)
	case claimed == "":
		p.title(left)
		p.Text(Dim, 2, asOf)
	default:
		p.title(left)
		p.Columns(Bold, "  "+claimed, asOf)
	}
	if facts := t.Stone(); facts != "" {
		p.Text(Dim, 2, facts)
	}
}

// asOf says on which day a case was judged, by what dated it.
func (t Told) asOf() string {
	on, err := time.Parse(time.RFC3339, t.AsOf)
	if err != nil {
		return ""
	}
	return map[engine.Dating]string{engine.ByCase: "taken ", engine.ByAsking: "as of ",
		engine.ByClock: "as of today, "}[t.AsOfFrom] + on.Format(time.DateOnly)
}

// Stone says what is known of the stone itself, and the stake.
func (t Told) Stone() string {
	s := t.Case.Stone
	carat, setting, stake := "", s.Setting, t.Stake()
	if s.Carat != nil {
		carat = number(*s.Carat) + " ct"
	}
	if setting != "" {
		setting = "setting: " + setting
	}
	if stake != "" {
		stake = "stake " + stake
	}
	return Joined(", ", s.Cut, carat, YesNo(s.Mounted, "mounted", "loose"), YesNo(s.Warm, "warm", ""),
		YesNo(s.Wet, "wet", ""), YesNo(s.Coated, "coated", ""), setting, stake)
}

// Stake is what is at stake; "" where nobody said.
func (t Told) Stake() string {
	if t.Case.Stake == nil {
		return ""
	}
	return strings.TrimSpace(english.Thousands(*t.Case.Stake) + " " + t.Ruleset.Policy.Currency)
}

// YesNo is one of two words; "" where nobody said.
func YesNo(is *bool, yes, no string) string {
	switch {
	case is == nil:
		return ""
	case *is:
		return yes
	}
	return no
}

// ClaimSays is the answer to the claim.
func (t Told) ClaimSays() string {
	if t.Claim == nil {
		return ""
	}
	return t.Claim.Sentence
}

// support tells how much likelier the readings are on what was named than on the next best.
func (t Told) support() []string {
	if t.Support == nil || t.Named == nil {
		return nil
	}
	s := t.Support
	r := phrase.Reason{Code: phrase.NoLikelier, Node: phrase.NodeOf(t.Ruleset, *t.Named),
		Other: phrase.NodeOf(t.Ruleset, s.Against), Ratio: s.Ratio}
	if s.Ratio >= evenly {
		if r.Code, r.Text = phrase.SoLikely, s.Words; s.Words != "" {
			r.Then = []phrase.Reason{{Code: scaleOf(t.Ruleset.Policy), Text: s.Words}}
		}
	}
	return []string{phrase.Sentence(r.Says())}
}

// evenly is up to which ratio two are as good as equally likely.
const evenly = 1.05

// open lists the materials without exclusion: those within a named group, which were not told apart, and all others.
// What is not on the list is told where it holds enough to be a rival, or where the verdict speaks of it.
func (t Told) open() (inside, others []string) {
	listed, heavy := 0, 0
	for _, c := range t.Candidates {
		m := t.Ruleset.Node(c.Material)
		switch {
		case m == nil && t.NotListed == nil && c.Share <= (1-t.Required)/10:
			continue
		case t.Named == nil || m == nil || !m.Under(t.Ruleset.Node(*t.Named)):
			if others = append(others, c.Name); c.Share >= slight {
				heavy++
			}
		case c.Material != *t.Named || m.Group: // of a group itself: those without a sheet
			inside = append(inside, c.Name)
		}
		if m != nil {
			listed++
		}
	}
	switch {
	case t.Named == nil && listed == len(t.Ruleset.Leaves):
		return nil, []string{"all " + english.Count(listed, "material", "materials") + " of the list; to begin with " +
			english.List(others[:min(4, len(others))], "and")}
	case len(others) > 0:
		others = []string{heaviest(others, heavy)}
	}
	if len(inside) > 0 {
		inside = []string{phrase.Some(inside, 5)}
	}
	return inside, others
}

// slight is the share of the weight below which hardly anything speaks for what is open.
const slight = 1e-3

// heaviest names the first few of what is open; of many only what has weight, and counts the rest.
func heaviest(names []string, heavy int) string {
	switch {
	case len(names) <= 6 || heavy > 5:
		return phrase.Some(names, 5)
	case heavy == 0:
		return strconv.Itoa(len(names)) + " materials of little weight"
	}
	return english.Join(names[:heavy]) + " and " + strconv.Itoa(len(names)-heavy) + " of little weight"
}

// excluded tells in a contradiction, where that is the matter itself, what rules out how many.
func (t Told) excluded() []string {
	if len(t.Excluded) == 0 || t.Verdict != engine.Contradictory.String() {
		return nil
	}
	order, by := t.excludedBy()
	for i, name := range order {
		order[i] = english.Count(len(by[name]), "material", "materials") + " by " + t.excluderSays(name)
		if i > 0 {
			order[i] = english.Count(len(by[name]), "more", "more") + " by " + t.excluderSays(name)
		}
	}
	return order
}

// excludedBy is what is out by what excluded it first, that of most first.
func (t Told) excludedBy() (order []string, by map[string][]engine.Excluded) {
	order, by = english.Grouped(t.Excluded, func(x engine.Excluded) string { return x.By })
	slices.SortStableFunc(order, func(a, b string) int { return len(by[b]) - len(by[a]) })
	return order, by
}

// evidenceName says what excludes: a rule by its id, a reading by its name.
func (t Told) evidenceName(name string) string {
	if t.Ruleset.Rule(name) != nil {
		return "rule " + name
	}
	return phrase.InWords(name)
}

func (t Told) setAside() []string {
	return english.Each(t.SetAside, func(s engine.SetAside) string {
		return phrase.InWords(s.Observable) + ": " + s.Says
	})
}

// repeat says which readings to take again in a contradiction: any of these sets would resolve it.
func (t Told) repeat() []string {
	sets := english.Each(t.Repeat, func(set []string) string { return english.List(phrase.InWordsAll(set), "and") })
	if len(sets) < 2 {
		return sets
	}
	return []string{english.List(sets, "or") + ", the likelier mistake first"}
}

// missing says what a firmer verdict lacks. What is to be taken again is told by itself.
func (t Told) missing() []string {
	if len(t.Repeat) > 0 {
		return nil
	}
	return t.notes(t.Missing)
}

// drafts tell what the rules in draft would change.
func (t Told) drafts() []string {
	return english.Each(drafts.Reasons(t.Ruleset, t.Moment.On, &t.Output), phrase.Reason.Says)
}

func (t Told) notes(list []engine.Note) []string {
	return english.Each(list, func(n engine.Note) string { return n.Says })
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
		names := english.List(phrase.TestsByName(t.Ruleset, ids), "and")
		if reasons[names] == nil {
			order = append(order, names)
		}
		reasons[names] = append(reasons[names], n.Says)
		ids = nil
	}
	return english.Each(order, func(names string) string { return names + ": " + strings.Join(reasons[names], " ") })
}

func (t Told) forbidden() []string {
	var ids []string
	for _, n := range t.Forbids {
		if n.Test != nil && !slices.Contains(ids, *n.Test) && !t.always(n.Rule) {
			ids = append(ids, *n.Test)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	return []string{english.Count(len(ids), "test", "tests") + " on this stone: " +
		strings.Join(phrase.TestsByName(t.Ruleset, ids), "; ")}
}

// always tells whether a rule always applies: what it forbids is told with the procedure and in what to do next, not
// under every verdict.
func (t Told) always(rule *string) bool {
	if rule == nil {
		return false
	}
	r := t.Ruleset.Rule(*rule)
	return r != nil && r.If == nil && r.Unless == nil
}

// Closing writes what holds for all verdicts above it.
func (p *Printer) Closing(rs *kb.Ruleset) {
	p.Text(Dim, 0, "The house's opinion on the readings given, not a laboratory report. Ruleset "+
		kb.ShortDigest(rs.Digest)+", method "+number(float64(rs.Method))+".")
}

// Diagnostics writes a list as package diag does, in the printer's width and colour.
func (p *Printer) Diagnostics(l diag.List) {
	_ = diag.WriteText(&p.buf, l, diag.TextOptions{Colour: p.colour, Width: p.width}) // a buffer takes everything
}
