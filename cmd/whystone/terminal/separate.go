package terminal

import (
	"fmt"
	"slices"
	"strings"

	"whystone/engine/bench"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
)

// Separations writes what separates two materials on a stone: by how much, and which weight makes it impossible.
func (p *Printer) Separations(t Told, both [2]*kb.Material, lines []*bench.Separation) {
	p.heading(t)
	p.Text(Accent, 0, both[0].Name+" beside "+both[1].Name+", on this stone")
	var can, cannot []*bench.Separation
	for _, l := range lines {
		if len(l.Missing) == 0 {
			can = append(can, l)
		} else {
			cannot = append(cannot, l)
		}
	}
	if len(can) == 0 {
		p.Text(Bold, 2, "No harmless test separates them on this stone.")
	} else {
		p.Blank()
		p.Table([]int{20, 0, 0, 17, 12}, []string{"", both[0].Name, both[1].Name, "by how much", "weight"},
			separationRows(can))
	}
	if len(cannot) > 0 {
		p.section("Not on this stone")
		for _, l := range cannot {
			p.Text(Plain, 2, l.Test.Name+": "+strings.Join(l.Missing, " "))
		}
	}
	p.Blank()
	p.Text(Dim, 0, fmt.Sprintf("By how much: how far apart the ranges lie in standard uncertainties of a reading "+
		"(more than %g settle it), and how many times likelier the usual reading is on its own material than on the "+
		"other, on whichever it tells less. Weight: what the stone must have for that at least.",
		t.Ruleset.Policy.Misfit))
}

func separationRows(lines []*bench.Separation) [][]string {
	return english.Each(lines, func(l *bench.Separation) []string {
		name := phrase.InWords(l.Observable.Name)
		again := func(o *bench.Separation) bool { return o != l && o.Observable == l.Observable }
		if slices.ContainsFunc(lines, again) || !strings.Contains(l.Test.Name, name) {
			name += " (" + l.Test.Name + ")"
		}
		return []string{name, expectedText(l, 0), expectedText(l, 1), muchText(l), weightText(l)}
	})
}

// expectedText is what a material should show: its range, or what is usually seen.
func expectedText(l *bench.Separation, i int) string {
	r := l.Expected[i]
	switch {
	case r == nil:
		return notSaid
	case r.Form == casefile.Features:
		return seenText(l, i)
	}
	return phrase.ReadingText(r)
}

// seenText is what is usually seen of features, and of what is usually seen on the other the lack.
func seenText(l *bench.Separation, i int) string {
	r, other := l.Expected[i], l.Expected[1-i]
	out := english.Each(r.Seen.Members(), func(f int) string { return r.Observable.Outcomes[f].Name })
	if other != nil {
		for _, f := range other.Seen.Members() {
			if r.LookedFor.Has(f) && !r.Seen.Has(f) {
				out = append(out, "no "+r.Observable.Outcomes[f].Name)
			}
		}
	}
	if len(out) == 0 {
		return "none of what tells"
	}
	return strings.Join(out, ", ")
}

func muchText(l *bench.Separation) string {
	var out []string
	if l.Gap > 0 && l.U > 0 {
		out = append(out, sig(l.Sigmas())+" σ")
	}
	if least := min(l.Ratio[0], l.Ratio[1]); least >= 1.05 {
		out = append(out, phrase.Times(least))
	} else if most := max(l.Ratio[0], l.Ratio[1]); most >= 1.05 {
		out = append(out, "one way, "+phrase.Times(most))
	}
	if l.Read != nil {
		says, ratio := "first", l.Found
		if ratio < 1 {
			says, ratio = "second", 1/ratio
		}
		if ratio < 1.05 {
			out = append(out, "read: alike on both")
		} else {
			out = append(out, "read: "+phrase.Times(ratio)+" for the "+says)
		}
	}
	return strings.Join(out, "; ")
}

func weightText(l *bench.Separation) string {
	switch {
	case l.Never:
		return "none will do"
	case l.FromCarat > 0:
		return "from " + sig(l.FromCarat) + " ct"
	}
	return "any"
}
