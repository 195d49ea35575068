package load

import (
	"slices"
	"strings"
	"time"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

var ruleKeys = []string{"rule", "says", "if", "unless", "excludes", "supports", "weakens", "sets_aside", "establishes",
	"calls_for", "forbids", "cautions", "sends_on", "withholds", "family", "backed_by", "source", "status", "since",
	"until", "author", "reviewed_by", "tags", "was", "examples", "accepts", "replaces", "because", "note"}

// rules reads the rule sheets. Facts come first, as conditions name them.
type ruleBuilder struct {
	rs    *kb.Ruleset
	house *syntax.Node // the policy as written
	facts map[string]*kb.Fact
	past  retiredFacts
	where *condition.Scope
	at    map[*kb.Rule]*sheet
}

func (b *ruleBuilder) read(s *sheet) *kb.Rule {
	n := s.Node
	r := &kb.Rule{ID: s.id, Says: s.needText(n, "says"), Cautions: s.texts(n, "cautions"),
		SendsOn: s.text(n, "sends_on"), Family: s.text(n, "family"), BackedBy: s.text(n, "backed_by"),
		Source: s.text(n, "source"), Status: oneOf(s, n, "status", kb.Active, kb.Draft, kb.Active, kb.Retired),
		Author: s.text(n, "author"), ReviewedBy: s.text(n, "reviewed_by"), Tags: s.texts(n, "tags"),
		Was: s.texts(n, "was"), Place: s.place, Turn: -1}
	b.at[r] = s
	n.Keys(s.out, ruleKeys...)
	s.empty()
	r.Since, r.Until = b.date(s, "since"), b.date(s, "until")
	s.checkDates(r)
	r.Away = b.away(s)
	r.Accepts = s.acceptances(b.rs.Policy.Zone)
	r.If, r.Unless = b.condition(s, s.Get("if")), b.condition(s, s.Get("unless"))
	if v := n.Get("excludes"); !v.IsNull() && (v.Kind != syntax.Map || v.Keys(s.out, "materials", "where")) {
		if chosen := b.selection(s, v, "What is not listed can't be excluded: no sheet says what it is."); chosen != nil {
			r.Excludes = &chosen.Selection
		}
	}
	b.weights(s, r, "supports", false)
	b.weights(s, r, "weakens", true)
	r.SetsAside = b.observables(s, "sets_aside")
	b.establishes(s, r)
	r.CallsFor, r.Forbids = b.tests(s, "calls_for", r.Status != kb.Retired), b.tests(s, "forbids", false)
	r.Withholds = b.withholds(s)
	if !s.follows() {
		s.errorf(diag.MissingKey, n, "nothing follows from the rule %q", r.ID).
			Detail = "It needs one of: " + strings.Join(effectKeys, ", ") + "."
	}
	return r
}

// mayBeEmpty are the keys of a rule of which nothing hangs on a value.
var mayBeEmpty = []string{"author", "reviewed_by", "note", "tags", "was", "examples", "accepts"}

// empty refuses keys of a rule without a value: an empty condition would always hold, an empty date be none.
func (s *sheet) empty() {
	for _, e := range s.Entries {
		if slices.Contains(mayBeEmpty, e.Key.Text) || !slices.Contains(ruleKeys, e.Key.Text) {
			continue
		}
		switch v := e.Value; {
		case v.IsNull() && (e.Key.Text == "rule" || e.Key.Text == "says"): // told where they are read
		case v.IsNull():
			s.errorf(diag.MissingKey, e.Key, "%q is empty", e.Key.Text).Detail = emptyHint(e.Key.Text)
		case slices.Contains(effectKeys, e.Key.Text):
			s.emptyTexts(e.Key.Text, v)
		}
	}
}

// emptyTexts refuses what follows from a rule where it says nothing.
func (s *sheet) emptyTexts(key string, v *syntax.Node) {
	items := []*syntax.Node{v}
	if v.Kind == syntax.List {
		items = v.Items
	}
	for _, it := range items {
		if text, ok := it.Str(&diag.List{}); it.IsNull() || ok && strings.TrimSpace(text) == "" {
			s.errorf(diag.MissingKey, it, "%q is empty", key).Detail = emptyHint(key)
		}
	}
}

func emptyHint(key string) string {
	if key == "if" {
		return "A rule that always applies leaves \"if\" out."
	}
	return "Write what is meant, or leave \"" + key + "\" out."
}

var effectKeys = []string{"excludes", "supports", "weakens", "sets_aside", "establishes", "calls_for", "forbids",
	"cautions", "sends_on", "withholds"}

// asRead is what was read, with the keys of rows that are not known.
func (s *sheet) asRead() *syntax.Node {
	if s.row == nil || len(s.row.table.strange) == 0 {
		return s.Node
	}
	return &syntax.Node{Kind: syntax.Map, Entries: slices.Concat(s.Entries, s.row.table.strange)}
}

// follows tells whether something is to follow from a rule, whether or not it can be read. What a misspelt key is to
// say is told with the key.
func (s *sheet) follows() bool {
	return slices.ContainsFunc(effectKeys, func(key string) bool {
		v := s.Get(key)
		return !v.IsNull() && (v.Kind == syntax.Scalar || len(v.Items)+len(v.Entries) > 0) ||
			s.asRead().Misspells(key, ruleKeys...)
	})
}

func (b *ruleBuilder) date(s *sheet, key string) time.Time {
	v := s.Get(key)
	if v.IsNull() {
		return time.Time{}
	}
	t, _ := s.day(v, key, b.rs.Policy.Zone)
	return t
}

// away is when a higher layer retires a rule for a time.
func (b *ruleBuilder) away(s *sheet) *kb.Away {
	entry := s.away
	if entry == nil {
		return nil
	}
	a := &kb.Away{Since: b.date(entry, "since"), Until: b.date(entry, "until"),
		Because: entry.text(entry.Node, "because"), Layer: entry.layer, Span: entry.Span}
	if !a.Since.IsZero() && !a.Until.IsZero() && !a.Until.After(a.Since) {
		entry.errorf(diag.BadDate, entry.Get("until"),
			"the rule %q is retired on no day: \"until\" is not after \"since\"", s.id)
	}
	return a
}

// checkDates refuses a rule that ends before it begins.
func (s *sheet) checkDates(r *kb.Rule) {
	if r.Since.IsZero() || r.Until.IsZero() || r.Until.After(r.Since) {
		return
	}
	d := s.errorf(diag.BadDate, s.Get("until"),
		"the rule %q is in force on no day: its \"until\" is not after its \"since\"", r.ID)
	d.Detail = "It is in force from its since on, and no longer on its until."
	d.Related = append(d.Related, diag.Related{Span: s.Get("since").Span, Says: "its since"})
}

// condition is one that may be left out.
func (b *ruleBuilder) condition(s *sheet, v *syntax.Node) *condition.Condition {
	if v.IsNull() {
		return nil
	}
	return s.condition(v, b.scope(s))
}

func (b *ruleBuilder) observables(s *sheet, key string) []*vocab.Observable {
	var out []*vocab.Observable
	for _, it := range s.textNodes(s.Node, key) {
		name := it.Text
		o := b.rs.Vocabulary.Observable(name)
		if o == nil {
			d := s.errorf(diag.UnknownName, it, "no test gives an observable %q", name)
			d.Lacks = name
			if d.Detail = b.rs.Vocabulary.TestGives(name, false); d.Detail == "" {
				d.Nearest = diag.NearestOrAbbreviated(name, b.rs.Vocabulary.Names())
			}
			continue
		}
		out = append(out, o)
	}
	return out
}

// tests reads the tests that a rule names. One that is asked for must be harmless: those that mark or destroy a stone
// are never suggested, by whatever rule.
func (b *ruleBuilder) tests(s *sheet, key string, asked bool) []string {
	var out []string
	for _, it := range s.textNodes(s.Node, key) {
		id := it.Text
		if b.rs.Test(id) == nil {
			d := s.errorf(diag.UnknownTest, it, "no test is called %q", id)
			d.Lacks = id
			if d.Detail = testsThatGive(b.rs.Vocabulary, id); d.Detail == "" {
				d.Nearest, d.Detail = nearestID(id, b.rs.TestIDs())
			}
			continue
		}
		if asked && !b.rs.Test(id).Harmless() {
			s.refuseHarm(it, b.rs.Test(id))
			continue
		}
		out = append(out, id)
	}
	return out
}

func (s *sheet) refuseHarm(at *syntax.Node, t *kb.Test) {
	harm := map[kb.Harm]string{kb.Marks: "marks the stone", kb.Destroys: "can destroy the stone"}[t.Harm]
	d := s.errorf(diag.NotAllowed, at, "the test %q is never asked for: it %s", t.ID, harm)
	d.Detail = "Its sheet only tells how to read an outcome that somebody already has. Ask for a harmless test, or " +
		"send the stone on (sends_on). A rule may name it under forbids."
	d.Related = append(d.Related, diag.Related{Span: t.Place.Span, Says: "its sheet says harm: " + string(t.Harm)})
}
