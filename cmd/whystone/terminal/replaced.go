package terminal

import (
	"strings"
	"time"

	"whystone/kb"
)

// days says when a rule's dates let it be in force: "from 2031-05-01 on"; "" when it has none.
func days(r *kb.Rule) string {
	switch {
	case r.Since.IsZero() && r.Until.IsZero():
		return ""
	case r.Until.IsZero():
		return "from " + r.Since.Format(time.DateOnly) + " on"
	case r.Since.IsZero():
		return "until " + r.Until.Format(time.DateOnly)
	}
	return "from " + r.Since.Format(time.DateOnly) + " until " + r.Until.Format(time.DateOnly)
}

// Replacing says what stands in for a rule on which days, or for what it stands in itself: "replaced by b from
// 2031-05-01 on"; "in place of a from 2031-05-01 on". It is "" for a rule that is alone.
func Replacing(r *kb.Rule) string {
	var parts []string
	if r.Replaced != nil {
		parts = append(parts, "in place of "+r.Replaced.ID+" "+days(r))
	}
	for over := r.ReplacedBy; over != nil; over = over.ReplacedBy {
		parts = append(parts, "replaced by "+over.ID+" "+days(over))
	}
	return strings.Join(parts, ", ")
}

// onOtherDays says which rule is in force when one with dates is not.
func onOtherDays(r *kb.Rule) string {
	if r.Replaced == nil {
		return ""
	}
	when := "on other days"
	switch {
	case r.Until.IsZero():
		when = "until then"
	case r.Since.IsZero():
		when = "from then on"
	}
	return when + " " + r.Replaced.ID + " is, which it replaces"
}

// placeOf says where a rule stands, and what it stands in for, or is to.
func placeOf(r *kb.Rule) string {
	if r.Status == kb.Draft {
		return placeAs(r.Place, "to be in place of")
	}
	return place(r.Place)
}

// replacedBy says what replaces a rule on which days, and which drafts are to.
func replacedBy(rs *kb.Ruleset, r *kb.Rule) []string {
	var out []string
	for over := r.ReplacedBy; over != nil; over = over.ReplacedBy {
		out = append(out, "by "+over.ID+" "+days(over))
	}
	for _, d := range rs.Drafts() {
		if d.Place.Replaces == r.ID {
			out = append(out, "by "+d.ID+" once that is active; as long as it is a draft this rule stays in force")
		}
	}
	return out
}
