// Package form makes the forms in which readings are entered of test sheets, and reads them back as what somebody would
// have typed in a case file. A form shows what the instrument reads and how well, and no figure of any material:
// whoever reads an instrument must not know what they hope for.
package form

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Sheet is the form of a test.
type Sheet struct {
	Test        *kb.Test
	Instruments []*vocab.Instrument // of the house, where it has several for the test
	Asks        []Ask               // in the order of the sheet
}

// Ask is what is asked for of one observable.
type Ask struct {
	Test       string
	Observable string
	Kind       string // quantity, choice or features
	Label      string
	Unit       string // empty for a plain number
	Outcomes   []vocab.Outcome
	Low, High  string // what the instrument reads
	Within     string // its standard uncertainty, or how that is reckoned
	Resolution string
	Above      string // the instrument ends here, and more can occur
	Below      string
	Rays       bool     // one value or two
	Places     bool     // features may be told by where they lie
	Strengths  []string // and how strong they look
}

// Of makes the form of a test.
func Of(rs *kb.Ruleset, t *kb.Test) Sheet {
	s := Sheet{Test: t}
	only := rs.Vocabulary.HouseInstrument(t.ID)
	if only == nil {
		s.Instruments = slices.DeleteFunc(slices.Clone(rs.Vocabulary.Instruments),
			func(in *vocab.Instrument) bool { return in.Test != t.ID })
	}
	inOrder := func(a, b *vocab.Yield) int { return cmp.Compare(a.Place, b.Place) }
	s.Asks = english.Each(slices.SortedFunc(slices.Values(t.Yields), inOrder),
		func(y *vocab.Yield) Ask { return ask(y, only) })
	return s
}

func ask(y *vocab.Yield, in *vocab.Instrument) Ask {
	o := y.Observable
	a := Ask{Test: y.Test, Observable: o.Name, Kind: o.Kind.String(), Label: cmp.Or(y.Label, phrase.InWords(o.Name)),
		Outcomes: o.Listed(), Places: o.Placed(), Strengths: o.Strengths}
	if o.Unit != "1" {
		a.Unit = o.Unit
	}
	if o.Kind != vocab.Quantity {
		return a
	}
	limits, within := y.Limits, number(y.Uncertainty)
	if y.Formula != "" {
		within = ""
	}
	if in != nil && (in.Observable == "" || in.Observable == o.Name) {
		if in.Limits != nil {
			limits = *in.Limits
		}
		if in.Uncertainty > 0 {
			within = number(in.Uncertainty)
		}
	}
	a.Low, a.High, a.Within, a.Resolution = number(limits[0]), number(limits[1]), within, number(o.Resolution)
	if limits[1] < o.Span[1] {
		a.Above = number(limits[1])
	}
	if limits[0] > o.Span[0] {
		a.Below = number(limits[0])
	}
	a.Rays = o.Name == vocab.RefractiveIndex
	return a
}

// beyond says what to do where nothing was seen as far as the instrument reads.
func (a *Ask) beyond() string {
	var buttons []string
	for name, limit := range map[string]string{"above ": a.Above, "below ": a.Below} {
		if limit != "" {
			buttons = append(buttons, strconv.Quote(name+limit))
		}
	}
	slices.Sort(buttons)
	says := "If another test gave it, choose that test."
	if len(buttons) > 0 {
		says = "If nothing was seen as far as the instrument reads, press " + english.List(buttons, "or") + ". " + says
	}
	return says
}

// InWords words what was found wrong with a reading by what its form has: the case's reader says how a file has it.
func (s *Sheet) InWords(observable string, found diag.List) diag.List {
	i := slices.IndexFunc(s.Asks, func(a Ask) bool { return a.Observable == observable })
	if i < 0 {
		return found
	}
	a := &s.Asks[i]
	return english.Each(found, func(d diag.Diagnostic) diag.Diagnostic {
		switch {
		case d.Code == diag.BeyondLimit:
			d.Detail = a.beyond()
		case d.Write != "" && a.Rays:
			d.Detail = "Of a full turn the low ray and the high ray are entered, each in its field."
		}
		return d.Calling(theInstrument)
	})
}

// theInstrument is what a test is called where its form is filled in.
func theInstrument(x any) any {
	if _, is := x.(diag.Test); is {
		return "the instrument"
	}
	return x
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// Find finds the tests that somebody may mean who begins to write a name: a word of the test's name, or of what it
// gives. What is meant exactly goes before what only begins so.
func Find(rs *kb.Ruleset, begun string) []*kb.Test {
	begun = vocab.Fold(begun)
	if t := rs.Test(begun); t != nil {
		return []*kb.Test{t}
	}
	var exact, starts []*kb.Test
	for _, t := range rs.Tests {
		if !t.Harmless() && len(t.Yields) == 0 {
			continue
		}
		names := append([]string{t.Name, strings.ReplaceAll(t.ID, "-", " ")}, t.Also...)
		for _, y := range t.Yields {
			if y.Observable.Test == t.ID {
				names = append(names, phrase.InWords(y.Observable.Name), y.Label)
			}
		}
		switch best := match(names, begun); best {
		case 2:
			exact = append(exact, t)
		case 1:
			starts = append(starts, t)
		}
	}
	if len(exact) > 0 {
		return exact
	}
	return starts
}

// match is 2 when one of some names is what was written, 1 when the words written begin words of a name in their order,
// else 0.
func match(names []string, begun string) int {
	best := 0
	for _, n := range names {
		n = vocab.Fold(n)
		if n == begun {
			return 2
		}
		if begins(strings.Fields(n), strings.Fields(begun)) {
			best = 1
		}
	}
	return best
}

func begins(words, begun []string) bool {
	for _, w := range words {
		if len(begun) > 0 && strings.HasPrefix(w, begun[0]) {
			begun = begun[1:]
		}
	}
	return len(begun) == 0
}
