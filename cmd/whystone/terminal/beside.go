package terminal

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"whystone/cmd/whystone/catalog"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/vocab"
)

// Apart is how well one observable tells two materials apart.
type Apart int

// Not at all or not known; some outcomes or values differ; a good reading settles it.
const (
	Alike Apart = iota
	Partly
	Wholly
)

var apartWords = [...]string{"", "partly", "apart"}

// Line is one observable with what two sheets say of it.
type Line struct {
	Observable *vocab.Observable
	A, B       string // "" where a sheet says nothing
	Apart      Apart
	Harm       kb.Harm // of the test that reads it
	Test       string  // the id of that test
}

// Beside lists what two sheets say, property by property. A quantity tells them apart wholly when the gap between the
// ranges is wider than the policy's misfit in standard uncertainties of the test, and partly when there is a gap at
// all. A choice does wholly when what is seen often or more on the one is never or rarely seen on the other, both ways;
// partly when the most frequent outcomes differ. Two lists of features are compared by features seen often or more.
func Beside(rs *kb.Ruleset, a, b *kb.Material) []Line {
	var out []Line
	for _, o := range rs.Vocabulary.Observables {
		l := Line{Observable: o, Test: o.Test, Harm: kb.NoHarm}
		if t := rs.Test(o.Test); t != nil {
			l.Harm = t.Harm
		}
		switch o.Kind {
		case vocab.Quantity:
			l.ranges(rs, a.Ranges[o.Property], b.Ranges[o.Property])
		case vocab.Choice:
			l.frequencies(a.Choices[o.Name], b.Choices[o.Name])
		default:
			l.frequencies(a.Features[o.Name], b.Features[o.Name])
		}
		if l.A != "" || l.B != "" {
			out = append(out, l)
		}
	}
	slices.SortStableFunc(out, func(x, y Line) int {
		return cmp.Or(cmp.Compare(y.Apart, x.Apart), cmp.Compare(x.never(), y.never()))
	})
	return out
}

// never is 1 for what is read by a test that is never done to find out, so that it stands behind the others.
func (l *Line) never() int {
	if !l.Harm.Harmless() {
		return 1
	}
	return 0
}

func (l *Line) ranges(rs *kb.Ruleset, a, b *kb.Range) {
	if a != nil {
		l.A = phrase.RangeText(a)
	}
	if b != nil {
		l.B = phrase.RangeText(b)
	}
	y := rs.Vocabulary.Yield(l.Observable.Test, l.Observable)
	if a == nil || b == nil || y == nil {
		return
	}
	gap := math.Max(a.Low-b.High, b.Low-a.High)
	switch tolerance := math.Max(a.Tolerance, b.Tolerance); {
	case gap > rs.Policy.Misfit*y.Uncertainty+tolerance:
		l.Apart = Wholly
	case gap > 0:
		l.Apart = Partly
	}
}

func (l *Line) frequencies(a, b *kb.Frequencies) {
	if a != nil {
		l.A = frequencyText(a)
	}
	if b != nil {
		l.B = frequencyText(b)
	}
	if a == nil || b == nil {
		return
	}
	switch {
	case l.Observable.Kind == vocab.Choice && foreign(a, b) && foreign(b, a):
		l.Apart = Wholly
	case !slices.Equal(usual(a), usual(b)):
		l.Apart = Partly
	}
}

// Comparison is two materials side by side, as data.
type Comparison struct {
	Format    int              `json:"format"`
	Materials [2]string        `json:"materials"`
	Lines     []ComparisonLine `json:"lines"`
}

// ComparisonLine is what two sheets say of one observable.
type ComparisonLine struct {
	Observable string    `json:"observable"`
	Test       string    `json:"test"`
	Harm       string    `json:"harm"`
	Says       [2]string `json:"says"` // "" where a sheet says nothing
	Apart      string    `json:"apart"`
}

// Compare is Beside as data.
func Compare(rs *kb.Ruleset, a, b *kb.Material) Comparison {
	out := Comparison{Format: catalog.Format, Materials: [2]string{a.ID, b.ID}, Lines: []ComparisonLine{}}
	for _, l := range Beside(rs, a, b) {
		out.Lines = append(out.Lines, ComparisonLine{l.Observable.Name, l.Test, string(l.Harm), [2]string{l.A, l.B},
			l.Apart.String()})
	}
	return out
}

// usual lists the outcomes that are seen often or more.
func usual(f *kb.Frequencies) []string {
	var out []string
	for _, o := range slices.Sorted(maps.Keys(f.Words)) {
		if w := f.Words[o]; w == "always" || w == "usually" || w == "often" {
			out = append(out, o)
		}
	}
	return out
}

// foreign tells whether nothing that is usual on the one is seen more than rarely on the other.
func foreign(a, b *kb.Frequencies) bool {
	most := usual(a)
	for _, o := range most {
		if w := b.Words[o]; w != "" && w != "never" && w != "rarely" {
			return false
		}
	}
	return len(most) > 0
}

// Beside writes two materials side by side, and first what tells them apart.
func (p *Printer) Beside(rs *kb.Ruleset, a, b *kb.Material) {
	lines := Beside(rs, a, b)
	p.Text(Accent, 0, a.Name+" beside "+b.Name)
	wholly, partly := testsThat(rs, lines, Wholly), testsThat(rs, lines, Partly)
	if len(wholly) == 0 {
		p.Text(Bold, 2, "No harmless test on the list tells them apart by itself.")
	} else {
		p.Field("Apart by", Bold, strings.Join(wholly, "; "))
	}
	if len(partly) > 0 {
		p.Field("Hints from", Plain, strings.Join(partly, "; "))
	}
	p.Blank()
	var rows [][]string
	for _, l := range lines {
		name := phrase.InWords(l.Observable.Name)
		if !l.Harm.Harmless() {
			name += " (" + string(l.Harm) + ")"
		}
		rows = append(rows, []string{name, cmp.Or(l.A, notSaid), cmp.Or(l.B, notSaid), apartWords[l.Apart]})
	}
	p.Table([]int{18, 0, 0, 6}, []string{"", a.Name, b.Name, ""}, rows)
	p.Blank()
	p.Text(Dim, 0, "apart: a good reading settles it; partly: values or the usual outcomes differ. A test that marks "+
		"or destroys is never done to find out.")
}

// notSaid stands where a sheet says nothing.
const notSaid = "not said"

// testsThat names the harmless tests that tell apart so well, with what they read.
func testsThat(rs *kb.Ruleset, lines []Line, how Apart) []string {
	var out []string
	for _, l := range lines {
		t := rs.Test(l.Test)
		if l.Apart == how && t != nil && t.Harmless() {
			out = append(out, phrase.InWords(l.Observable.Name)+" ("+t.Name+")")
		}
	}
	return out
}

// String is the word of the table; "alike" is left out there.
func (a Apart) String() string {
	if a == Alike {
		return "alike or not said"
	}
	return apartWords[a]
}
