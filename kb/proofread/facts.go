package proofread

import (
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
)

var (
	unreadFact = diag.New("unread-fact", "A rule establishes a fact that no rule reads.",
		`A rule establishes a fact, and no rule names it. A misspelt name makes such a fact; the nearest other one is told.`)
	unestablishedFact = diag.New("unestablished-fact", "A rule reads a fact that no active rule establishes.",
		`A rule names a fact, and the only rules that establish it are drafts, which change nothing, or have ended. Until one of them is
active the fact never holds.`)
)

func init() {
	Register(Check{Order: 70, Look: facts, Finds: []diag.Code{unreadFact, unestablishedFact}})
}

// facts finds facts that no rule reads, and such as only drafts establish.
func facts(p *Pass) {
	for _, f := range p.Ruleset.Facts {
		var readers, drafts []*kb.Rule
		for _, r := range p.Ruleset.Order {
			if until := r.WithheldUntil(); slices.Contains(r.Slots(), f.Slot) || until != nil &&
				slices.Contains(until.Reads, f.Slot) {
				readers = append(readers, r)
			}
			if r.Status == kb.Draft && slices.ContainsFunc(r.Establishes,
				func(e kb.Establishes) bool { return e.Fact == f }) {
				drafts = append(drafts, r)
			}
		}
		if by := append(slices.Clone(f.By), drafts...); len(readers) == 0 && len(by) > 0 {
			p.unread(f, by)
		}
		if len(f.By) == 0 {
			p.unestablished(f, readers, drafts)
		} else if !slices.ContainsFunc(f.By, func(r *kb.Rule) bool { return !p.ended(r) }) {
			p.expired(f, readers)
		}
	}
}

func (p *Pass) unread(f *kb.Fact, by []*kb.Rule) {
	others := besides(p.Ruleset.Facts, f, func(o *kb.Fact) string { return o.Name })
	d := warning(unreadFact, by[0].Establishing(f.Name), "no rule reads the fact %q", f.Name)
	d.Nearest = diag.Nearest(f.Name, others)
	d.Detail = "A fact does something only through rules that name it. Correct its name, name it in a condition, or " +
		"don't establish it."
	p.about(by[0], "establishes", d, by[1:]...)
}

// ended tells whether a rule is in force on no day from now on.
func (p *Pass) ended(r *kb.Rule) bool {
	return !r.Until.IsZero() && !p.On.Before(r.Until) || r.Away != nil && r.Away.Until.IsZero() && r.Away.On(p.On)
}

// expired tells of rules that go on reading a fact when the last rule that establishes it has ended.
func (p *Pass) expired(f *kb.Fact, readers []*kb.Rule) {
	last := slices.MaxFunc(f.By, func(a, b *kb.Rule) int {
		x, _ := endOf(a)
		y, _ := endOf(b)
		return x.Compare(y)
	})
	day, at := endOf(last)
	for _, r := range readers {
		if r.Status != kb.Active || p.ended(r) {
			continue
		}
		d := warning(unestablishedFact, r.Naming(f.Slot), "%q reads the fact %q, which no rule establishes since %s",
			r.ID, f.Name, day.Format(time.DateOnly))
		d.Detail = "The rule that did is out of its dates. Give it a later until, let another establish the fact, or " +
			"let this rule end, too."
		d.Related = []diag.Related{{Span: at, Says: "it ended here"}}
		p.about(r, "if", d, last)
	}
}

// endOf is the day from which on a rule that has ended is in force no more, and where that is said.
func endOf(r *kb.Rule) (day time.Time, at diag.Span) {
	if a := r.Away; a != nil && a.Until.IsZero() && (r.Until.IsZero() || a.Since.Before(r.Until)) {
		return a.Since, a.Span
	}
	return r.Until, r.At("until")
}

func (p *Pass) unestablished(f *kb.Fact, readers, drafts []*kb.Rule) {
	for _, r := range readers {
		if r.Status != kb.Active {
			continue
		}
		d := warning(unestablishedFact, r.Naming(f.Slot), "%q reads the fact %q, which no active rule establishes",
			r.ID, f.Name)
		d.Detail = "Until one does the fact is never there. Make a rule that establishes it active, or take it out " +
			"of the condition."
		d.Related = related("this draft would", drafts)
		p.about(r, "if", d, drafts...)
	}
}
