package terminal

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"whystone/engine/bench"
	"whystone/engine/phrase"
	"whystone/kb/english"
	"whystone/kb/physics/raytrace"
	"whystone/kb/quantity"
)

// Reckoned writes a result with its uncertainty, and the budget of that: each component with its standard
// uncertainty, the sensitivity of the result to it, and what it brings, as in JCGM 100:2008, table H.1.
func (p *Printer) Reckoned(what, unit string, b *quantity.Budget) {
	p.Text(Accent, 0, what+" "+withUnit(quantity.Text(b.Value, b.U), unit))
	if b.U == 0 {
		p.Text(Plain, 2, "No uncertainty was given with the figures.")
		return
	}
	p.Text(Plain, 2, fmt.Sprintf("That is a standard uncertainty; with k = 2 it lies between %s and %s.",
		plainFigure(b.Value-b.Expanded(), b.U), withUnit(plainFigure(b.Value+b.Expanded(), b.U), unit)))
	p.Blank()
	rows := english.Each(b.Parts, func(x quantity.Part) []string {
		return []string{x.Name, withUnit(short4(x.Value), x.Unit), sig(x.U), sig(x.Sensitivity), sig(x.Contribution)}
	})
	for _, j := range b.Notable() {
		says := b.Parts[j.A].Name + ", second order"
		if j.A != j.B {
			says = b.Parts[j.A].Name + " with " + b.Parts[j.B].Name + ", second order"
		}
		rows = append(rows, []string{says, "", "", "", signed(j.Variance)})
	}
	rows = append(rows, []string{"together", "", "", "", sig(b.U)})
	p.Table([]int{0, 14, 11, 11, 12}, []string{"component", "estimate", "standard uncertainty", "sensitivity",
		"contribution"}, rows)
	p.Blank()
}

// Figure writes one figure on a line.
func (p *Printer) Figure(what, unit string, value, u float64, source string) {
	says := withUnit(short6(value), unit)
	if u > 0 {
		says = withUnit(quantity.Text(value, u), unit)
	}
	const names, figures, gap = 30, 22, 2
	p.row([]int{names, figures, max(p.width-names-figures-2*gap, 20)}, gap, Plain, []string{what, says, source})
}

// mostBeside is how many neighbours are named.
const mostBeside = 5

// ToldApart says what a reading of specific gravity fits and rules out on a stone of this size, and which weight it
// would take.
func (p *Printer) ToldApart(near []bench.Beside, told, misfit float64) {
	var fits, next, heavier []string
	for _, n := range near {
		switch {
		case n.Gap == 0:
			fits = append(fits, n.Material.Name)
		case n.RuledOut:
			next = append(next, n.Material.Name)
		case n.FromCarat > 0:
			heavier = append(heavier, fmt.Sprintf("%s (from %s ct on)", n.Material.Name, sig(n.FromCarat)))
		default:
			heavier = append(heavier, n.Material.Name)
		}
	}
	p.Field("Rules out", Plain, fmt.Sprintf("what lies more than %s away (%g standard uncertainties, by the policy)",
		sig(told), misfit))
	p.Field("Fits", Bold, cmp.Or(phrase.Some(fits, 12), "nothing on the list"))
	p.fieldIf("Too near", phrase.Some(heavier, 12))
	if len(next) > 0 {
		p.Field("Ruled out", Plain, "nearest first: "+phrase.Some(next, mostBeside))
	}
}

func withUnit(text, unit string) string { return strings.TrimSpace(text + " " + unit) }

func sig(v float64) string    { return number(quantity.Round(v, 2)) }
func short4(v float64) string { return number(quantity.Round(v, 5)) }
func short6(v float64) string { return number(quantity.Round(v, 6)) }

// signed is the root of a variance, with its sign.
func signed(variance float64) string {
	if variance < 0 {
		return "-" + sig(math.Sqrt(-variance))
	}
	return sig(math.Sqrt(variance))
}

// plainFigure writes a figure to the place that its uncertainty leaves meaningful.
func plainFigure(v, u float64) string {
	text, _, _ := strings.Cut(quantity.Text(v, u), " ")
	if text == "" {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return text
}

// ReadThrough says through which brilliants of some proportions print can be seen.
func (p *Printer) ReadThrough(q raytrace.Proportions, tilt, limit float64, list []bench.ReadThrough) {
	eye := "the eye straight above"
	if tilt != 0 {
		eye = fmt.Sprintf("the eye tilted by %g degrees", tilt)
	}
	p.Text(Accent, 0, fmt.Sprintf("A round brilliant, table down on print, %s", eye))
	p.Text(Plain, 2, fmt.Sprintf("Table %.3g percent, girdle %.3g percent, crown %g, pavilion %g degrees; depth %.1f "+
		"percent. From straight above print comes through the table up to an index of %.3f.",
		100*q.Table, 100*q.Girdle, q.Crown, q.Pavilion, 100*q.Depth(), limit))
	p.Blank()
	rows := english.Each(list, func(l bench.ReadThrough) []string {
		name := "this index"
		if l.Of != nil {
			name = l.Of.Name
		}
		low, high := min(l.AtLow.Direct, l.AtHigh.Direct), max(l.AtLow.Direct, l.AtHigh.Direct)
		return []string{name, phrase.FromTo(short4(l.Index[0]), short4(l.Index[1])),
			phrase.FromTo(percentOf(low), percentOf(high)), string(l.Print)}
	})
	p.Table([]int{0, 16, 12, 14}, []string{"", "index", "percent of the view", "print"}, rows)
	p.Blank()
	p.Text(Dim, 0, "Percent of the view: light that comes from the paper without a reflection within. Traced through "+
		"the cross-section, by Snell's law and Fresnel's equations: where no print can be seen nobody reads any; "+
		"where it can, facets may still break it up.")
}

func percentOf(part float64) string { return strconv.Itoa(int(math.Round(100 * part))) }
