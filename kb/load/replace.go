package load

import (
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// Replacing a rule takes nothing away on a day on which the replacement is not in force. So a rule that a draft is to
// replace stays as it is, and one whose replacement has dates stays in the ruleset, in force on the days that are left
// to it. Only a replacement that is always in force takes it out of the ruleset, and with it what it stood in for in
// turn. Where three layers replace one another, the highest whose dates take in the day is in force.
//
// Retiring is another thing: a rule that is retired leaves its days to the rule that it stood in for, if that is still
// there, and to nobody else.

// stands tells in what measure a rule's sheet stands in for another.
type stands uint8

const (
	always stands = iota // takes it out; so does one that is retired itself, under whose id the record is kept
	onDays               // has dates
	notYet               // is a draft
)

func (s *sheet) standing() stands {
	switch {
	case s.text(s.Node, "status") == string(kb.Draft):
		return notYet
	case s.text(s.Node, "status") != string(kb.Retired) && s.dates() != nil:
		return onDays
	}
	return always
}

// dates is the first of the dates that a rule has, or nil.
func (s *sheet) dates() *syntax.Node {
	for _, key := range []string{"since", "until"} {
		if v := s.Get(key); !v.IsNull() {
			return v
		}
	}
	return nil
}

// passing is what keeps a rule from being in force always: its status if it is a draft, else its dates; nil if nothing
// does.
func (s *sheet) passing() *syntax.Node {
	switch s.standing() {
	case notYet:
		return s.Get("status")
	case onDays:
		return s.dates()
	}
	return nil
}

// replaceRule lays a rule over one of a lower layer. It tells whether the rule is to be there.
func (st *stacked) replaceRule(s, old *sheet) bool {
	how := s.standing()
	switch {
	case old.id == s.id && how != always:
		if s.row == nil || s.row.table.place.Replaces == "" { // else its table was refused
			s.refuseSameID()
		}
		return false
	case how == notYet:
	case old.over != nil:
		d := s.errorf(diag.ReplacesNothing, s.Get("replaces"), "the rule %q is replaced by %q already", old.id,
			old.over.id)
		d.Detail = "One rule has one replacement. In a layer above, replace the replacement: it stands in for both."
		d.Related = append(d.Related, diag.Related{Span: old.over.place.Span, Says: "replaces it too"})
		return false
	case how == onDays:
		s.under, old.over = old, s
	default:
		if s.text(s.Node, "status") != string(kb.Retired) {
			st.outlived(old.under)
		}
		st.drop(old)
	}
	return true
}

// refuseSameID refuses a rule that is to replace another on some days, under its very id.
func (s *sheet) refuseSameID() {
	what := "has dates"
	if s.standing() == notYet {
		what = "is a draft"
	}
	d := s.errorf(diag.NotAllowed, s.passing(), "the rule %q replaces the one of the same id below, and %s", s.id, what)
	d.Detail = "On days on which it is not in force the one below is, and one id can't stand for both. Give this one " +
		"an id of its own, such as " + s.id + "-new, and keep replaces: " + s.id + "."
}

// outlived takes out a rule whose replacement was replaced for all days, with what it stood in for itself.
func (st *stacked) outlived(s *sheet) {
	if s != nil {
		st.outlived(s.under)
		st.drop(s)
	}
}

// drop takes a rule out. What stood in for it stands in for what it stood in for, and says so from now on.
func (st *stacked) drop(s *sheet) {
	if st.sheets["rule"][s.id] == s {
		delete(st.sheets["rule"], s.id)
	}
	over, under := s.over, s.under
	s.over, s.under = nil, nil
	if under != nil {
		under.over = over
	}
	if over == nil {
		return
	}
	if over.under = under; under != nil {
		over.put("replaces", under.id)
		over.place.Replaces = under.id
	}
}

// refusePassing refuses rows of a table that replaces another, where they are not in force always.
func (t *tableSheet) refusePassing(old string) {
	for _, row := range t.rows {
		if v := row.passing(); v != nil {
			d := row.errorf(diag.NotAllowed, v,
				"the table %q replaces %q, so its rows can be neither drafts nor have dates", t.id, old)
			d.Detail = "A table is replaced as a whole, and nothing would stand in for its rows on other days. Write " +
				"such rows in a table of their own " +
				"that replaces none; a rule, or a row there, may say replaces: with the id of the one row that it is " +
				"to stand in for."
		}
	}
}

// linkReplaced tells rules what stands in for them on which days.
func (b *ruleBuilder) linkReplaced() {
	for _, r := range b.rs.Rules {
		if over := b.at[r].over; over != nil {
			r.ReplacedBy = b.rs.Rule(over.id)
			r.ReplacedBy.Replaced = r
		}
	}
}
