package page

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/kb/english"
)

// Line is a line of the block at the head of the page: what it is about, and what is known of that.
type Line struct{ Label, Says string }

// Block is the head of the page: which stone, what is claimed, when and by whom it was judged. What nobody said is left
// out, but for who judged it: somebody signs the page.
func (c Case) Block() []Line {
	s := c.Case.Stone
	lines := []Line{
		{"Stone", terminal.Joined(", ", s.Cut, terminal.YesNo(s.Warm, "warm", ""), terminal.YesNo(s.Wet, "wet", ""),
			terminal.YesNo(s.Coated, "coated", ""))},
		{"Weight", amount("ct", s.Carat)},
		{"Measurements", amount("mm", s.Length, s.Width, s.Depth)},
		{"Mount", terminal.Joined(", ", terminal.YesNo(s.Mounted, "mounted", "loose"), s.Setting)},
		{"Claimed", c.Case.ClaimSays},
		{"Stake", c.Stake()},
		{map[bool]string{true: "Taken", false: "Judged as of"}[c.AsOfFrom == engine.ByCase], c.day()},
		{"Desk", c.Case.Desk},
	}
	lines = slices.DeleteFunc(lines, func(l Line) bool { return l.Says == "" })
	return append(lines, Line{"Judged by", c.By})
}

func (c Case) day() string {
	on, err := time.Parse(time.RFC3339, c.AsOf)
	if err != nil {
		return c.AsOf
	}
	return on.Format("2 January 2006")
}

// Untried are the kinds of evidence of which no reading says anything, of those that a test here can give.
func (c Case) Untried() []string {
	tried := map[string]bool{}
	for _, r := range c.Case.Readings {
		tried[r.Observable.Family] = tried[r.Observable.Family] || r.Usable()
	}
	var out []string
	for _, y := range c.Ruleset.Vocabulary.Yields {
		t, family := c.Ruleset.Test(y.Test), y.Observable.Family
		if !tried[family] && t.Harmless() && !slices.Contains(out, family) {
			out = append(out, family)
		}
	}
	slices.Sort(out)
	return out
}

// amount is a figure, or several across, in a unit.
func amount(unit string, figures ...*float64) string {
	given := slices.DeleteFunc(figures, func(x *float64) bool { return x == nil })
	out := english.Each(given, func(x *float64) string { return strconv.FormatFloat(*x, 'f', -1, 64) })
	if len(out) == 0 {
		return ""
	}
	return strings.Join(out, " × ") + " " + unit
}
