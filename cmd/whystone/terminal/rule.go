package terminal

import (
	"strings"
	"time"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Rules lists the rules with what they say, and the tables with their rows.
func (p *Printer) Rules(rs *kb.Ruleset) {
	for _, r := range rs.Rules {
		if r.Table != nil {
			continue // told with its table
		}
		p.line(run{Bold, r.ID}, run{Dim, aside(r)})
		p.Text(Plain, 4, r.Says)
	}
	p.tables(rs)
	if len(rs.Retired) > 0 {
		p.section("Retired by a layer")
		for _, x := range rs.Retired {
			p.Text(Plain, 2, string(x.Kind)+" "+x.ID+", by "+x.Layer+", because: "+x.Because)
		}
	}
}

// aside is what is said beside a rule's id in a list: its status, and what replaces it.
func aside(r *kb.Rule) string {
	status := string(r.Status)
	if r.Status == kb.Active {
		status = ""
	}
	if says := Joined(", ", status, Replacing(r), away(r)); says != "" {
		return "  (" + says + ")"
	}
	return ""
}

// away says for which days a layer retires a rule, and why; "" of one that none does.
func away(r *kb.Rule) string {
	a := r.Away
	if a == nil {
		return ""
	}
	out := "retired"
	if !a.Since.IsZero() {
		out += " since " + a.Since.Format(time.DateOnly)
	}
	if !a.Until.IsZero() {
		out += " until " + a.Until.Format(time.DateOnly)
	}
	return out + " by " + a.Layer + ", because: " + a.Because
}

// Rule writes a rule as its author wrote it, with what follows from it.
func (p *Printer) Rule(rs *kb.Ruleset, r *kb.Rule) {
	p.Columns(Accent, r.ID, string(r.Status))
	p.Text(Bold, 2, r.Says)
	condition := "always"
	if r.If != nil {
		condition = strings.TrimSpace(r.If.Text)
	}
	p.Field("If", Plain, condition)
	if r.Unless != nil {
		p.Field("Unless", Plain, strings.TrimSpace(r.Unless.Text))
	}
	p.fieldIf("Retired", strings.TrimPrefix(away(r), "retired "))
	for _, e := range effects(rs, r) {
		p.Field(e.label, Plain, e.text)
	}
	p.fieldIf("Family", r.Family)
	p.fieldIf("Backed by", r.BackedBy)
	p.fieldIf("Source", r.Source)
	p.fieldIf("In force", inForce(r))
	p.Field("Replaced", Plain, replacedBy(rs, r)...)
	if id := r.FromCase(); id != "" {
		p.Field("From case", Plain, id+", which is kept as an example")
	}
	p.fieldIf("Author", r.Author)
	p.fieldIf("Reviewed", r.ReviewedBy)
	p.fieldIf("Tags", strings.Join(r.Tags, ", "))
	p.fieldIf("Formerly", strings.Join(r.Was, ", "))
	p.fieldIf("Table", tableOf(r))
	p.fieldIf("Stands in", placeOf(r))
	p.Field("Examples", Dim,
		english.Each(r.Examples, func(ex kb.Example) string { return oneLine(ex.Span.Text()) })...)
}

func inForce(r *kb.Rule) string {
	var parts []string
	if !r.Since.IsZero() {
		parts = append(parts, "since "+r.Since.Format(time.DateOnly))
	}
	if !r.Until.IsZero() {
		parts = append(parts, "until "+r.Until.Format(time.DateOnly)+" (that day not included)")
	}
	if parts != nil && r.Status == kb.Draft {
		parts = append(parts, "once it is active")
	}
	says := strings.Join(parts, ", ")
	if other := onOtherDays(r); other != "" {
		says += "; " + other
	}
	return says
}

// effect is one thing that follows from a rule: its label, its text beside the label, and in a table.
type effect struct{ label, text, inTable string }

// effects is what follows from a rule.
func effects(rs *kb.Ruleset, r *kb.Rule) []effect {
	var out []effect
	add := func(label, text string) {
		if text != "" {
			out = append(out, effect{label, text, text})
		}
	}
	if r.Excludes != nil {
		add("Excludes", chosen(rs, r.Excludes))
	}
	for _, w := range r.Weights {
		label, ratio := "Supports", w.Ratio
		if w.Ratio < 1 {
			label, ratio = "Weakens", 1/w.Ratio
		}
		strength := w.Strength
		if strength == "" {
			strength = "ratio"
		}
		strength += " (" + phrase.Times(ratio) + ")"
		materials := chosen(rs, &w.Selection)
		out = append(out, effect{label, strength + ": " + materials, materials + ", " + strength})
	}
	aside := english.Each(r.SetsAside, func(o *vocab.Observable) string { return o.Name })
	add("Sets aside", strings.Join(aside, ", "))
	for _, e := range r.Establishes {
		says := e.Fact.Name
		switch {
		case e.Reads != nil:
			says += " = " + strings.TrimSpace(e.Reads.Text)
		case len(e.Fact.Words) > 0 && e.Word >= 0:
			says += ": " + e.Fact.Words[e.Word]
		}
		add("Establishes", says)
	}
	add("Calls for", strings.Join(phrase.TestsByName(rs, r.CallsFor), ", "))
	add("Forbids", strings.Join(phrase.TestsByName(rs, r.Forbids), ", "))
	for _, c := range r.Cautions {
		add("Cautions", c)
	}
	add("Sends on", r.SendsOn)
	add("Withholds", withheld(r))
	return out
}

// withheld says which names a rule keeps back, and for how long.
func withheld(r *kb.Rule) string {
	w := r.Withholds
	if w == nil {
		return ""
	}
	says := strings.Join(w.Names, ", ")
	if w.Until != nil {
		says += ", until " + strings.TrimSpace(w.Until.Text)
	}
	if w.BesideIDs != nil {
		says += "; beside them: " + strings.Join(w.BesideIDs, ", ")
	}
	return says
}

// chosen says which materials an effect is about: as written, and by name where that is a condition.
func chosen(rs *kb.Ruleset, s *kb.Selection) string {
	if s.Where == nil {
		return s.Says
	}
	names := leafNames(rs, s.Leaves)
	if len(names) == 0 {
		return s.Says + " (none at present)"
	}
	return s.Says + " (" + english.Count(len(names), "material", "materials") + ": " + phrase.Some(names, 6) + ")"
}
