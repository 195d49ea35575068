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
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// How well one observable tells two materials apart: a good reading settles it; some outcomes or values differ; not at
// all, or not known.
const (
	wholly = "apart"
	partly = "partly"
	alike  = "alike or not said"
)

// Comparison is two materials side by side, as data.
type Comparison struct {
	Format    int              `json:"format"`
	Materials [2]string        `json:"materials"`
	Lines     []ComparisonLine `json:"lines"`
}

// ComparisonLine is what two sheets say of one observable.
type ComparisonLine struct {
	Observable string    `json:"observable"`
	Test       string    `json:"test"` // that reads it
	Harm       kb.Harm   `json:"harm"`
	Says       [2]string `json:"says"` // "" where a sheet says nothing
	Apart      string    `json:"apart"`
}

// Compare lists what two sheets say, property by property. A quantity tells them apart wholly when the gap between the
// ranges is wider than the policy's misfit in standard uncertainties of the test, and partly when there is a gap at
// all. A choice does wholly when what is seen often or more on the one is never or rarely seen on the other, both ways;
// partly when the most frequent outcomes differ. Two lists of features are compared by features seen often or more.
func Compare(rs *kb.Ruleset, a, b *kb.Material) Comparison {
	out := Comparison{Format: catalog.Format, Materials: [2]string{a.ID, b.ID}, Lines: []ComparisonLine{}}
	for _, o := range rs.Vocabulary.Observables {
		l := ComparisonLine{Observable: o.Name, Test: o.Test, Harm: kb.NoHarm, Apart: alike}
		if t := rs.Test(o.Test); t != nil {
			l.Harm = t.Harm
		}
		switch o.Kind {
		case vocab.Quantity:
			l.ranges(rs, o, a.Ranges[o.Property], b.Ranges[o.Property])
		case vocab.Choice:
			l.frequencies(o, a.Choices[o.Name], b.Choices[o.Name])
		default:
			l.frequencies(o, a.Features[o.Name], b.Features[o.Name])
		}
		if cmp.Or(l.Says[:]...) != "" {
			out.Lines = append(out.Lines, l)
		}
	}
	slices.SortStableFunc(out.Lines, func(x, y ComparisonLine) int { return cmp.Compare(x.rank(), y.rank()) })
	return out
}

// rank puts what tells more first, and what is read by a test that is never done to find out behind its like.
func (l *ComparisonLine) rank() int {
	rank := 2 * slices.Index([]string{wholly, partly, alike}, l.Apart)
	if !l.Harm.Harmless() {
		rank++
	}
	return rank
}

func (l *ComparisonLine) ranges(rs *kb.Ruleset, o *vocab.Observable, a, b *kb.Range) {
	for i, r := range []*kb.Range{a, b} {
		if r != nil {
			l.Says[i] = phrase.RangeText(r)
		}
	}
	y := rs.Vocabulary.Yield(o.Test, o)
	if a == nil || b == nil || y == nil {
		return
	}
	gap := math.Max(a.Low-b.High, b.Low-a.High)
	switch tolerance := math.Max(a.Tolerance, b.Tolerance); {
	case gap > rs.Policy.Misfit*y.Uncertainty+tolerance:
		l.Apart = wholly
	case gap > 0:
		l.Apart = partly
	}
}

func (l *ComparisonLine) frequencies(o *vocab.Observable, a, b *kb.Frequencies) {
	for i, f := range []*kb.Frequencies{a, b} {
		if f != nil {
			l.Says[i] = frequencyText(f)
		}
	}
	switch {
	case a == nil || b == nil:
	case o.Kind == vocab.Choice && foreign(a, b) && foreign(b, a):
		l.Apart = wholly
	case !slices.Equal(usual(a), usual(b)):
		l.Apart = partly
	}
}

// usual lists the outcomes that are seen often or more.
func usual(f *kb.Frequencies) []string {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(f.Words)), func(o string) bool {
		return !slices.Contains([]kb.Frequency{kb.Always, kb.Usually, kb.Often}, f.Words[o])
	})
}

// foreign tells whether nothing that is usual on the one is seen more than rarely on the other.
func foreign(a, b *kb.Frequencies) bool {
	most := usual(a)
	return len(most) > 0 && !slices.ContainsFunc(most, func(o string) bool {
		return !slices.Contains([]kb.Frequency{"", kb.Never, kb.Rarely}, b.Words[o])
	})
}

// Beside writes two materials side by side, and first what tells them apart.
func (p *Printer) Beside(rs *kb.Ruleset, a, b *kb.Material) {
	lines := Compare(rs, a, b).Lines
	p.Text(Accent, 0, a.Name+" beside "+b.Name)
	if by := testsThat(rs, lines, wholly); len(by) == 0 {
		p.Text(Bold, 2, "No harmless test on the list tells them apart by itself.")
	} else {
		p.Field("Apart by", Bold, strings.Join(by, "; "))
	}
	p.fieldIf("Hints from", strings.Join(testsThat(rs, lines, partly), "; "))
	p.Blank()
	rows := english.Each(lines, func(l ComparisonLine) []string {
		name, how := phrase.InWords(l.Observable), l.Apart
		if !l.Harm.Harmless() {
			name += " (" + string(l.Harm) + ")"
		}
		if how == alike {
			how = ""
		}
		return []string{name, cmp.Or(l.Says[0], notSaid), cmp.Or(l.Says[1], notSaid), how}
	})
	p.Table([]int{18, 0, 0, 6}, []string{"", a.Name, b.Name, ""}, rows)
	p.Blank()
	p.Text(Dim, 0, "apart: a good reading settles it; partly: values or the usual outcomes differ. A test that marks "+
		"or destroys is never done to find out.")
}

// notSaid stands where a sheet says nothing.
const notSaid = "not said"

// testsThat names the harmless tests that tell apart so well, with what they read.
func testsThat(rs *kb.Ruleset, lines []ComparisonLine, how string) []string {
	return english.Only(lines, func(l ComparisonLine) (string, bool) {
		t := rs.Test(l.Test)
		if l.Apart != how || t == nil {
			return "", false
		}
		return phrase.InWords(l.Observable) + " (" + t.Name + ")", t.Harmless()
	})
}
