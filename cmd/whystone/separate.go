package main

import (
	"context"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/bench"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
)

// separations is what separates two materials on a stone, as JSON.
type separations struct {
	Format    int              `json:"format"`
	Case      string           `json:"case"`
	Materials [2]string        `json:"materials"`
	Lines     []separationLine `json:"lines"`
}

type separationLine struct {
	Observable string     `json:"observable"`
	Test       string     `json:"test"`
	Instrument string     `json:"instrument,omitempty"`
	Expected   [2]string  `json:"expected"` // "" where a sheet says nothing
	Ratio      [2]float64 `json:"ratio"`    // how many times likelier that is on its own material than on the other
	Gap        float64    `json:"gap"`
	U          float64    `json:"standard_uncertainty"`
	Sigmas     float64    `json:"sigmas"`
	Settles    bool       `json:"settles"`
	Impossible []string   `json:"impossible"` // what the stone has not that the test needs
	// of a reading in the case: how many times likelier it is on the first; null: none
	Found     *float64 `json:"found"`
	FromCarat float64  `json:"from_carat"`
	Never     bool     `json:"at_no_weight"`
}

// separate tells what separates two materials on the stone of each case of a file.
func (s *session) separate(ctx context.Context, first, second, file string) error {
	return s.eachCase(ctx, []string{file}, "", false, func(t terminal.Told) error {
		a, b, err := twoMaterials(t.Ruleset, first, second)
		if err != nil {
			return err
		}
		lines := bench.Separate(t.Engine, t.Case, t.Moment, a, b)
		return s.tell(separations{catalog.Format, t.Output.Case, [2]string{a.ID, b.ID},
			append([]separationLine{}, english.Each(lines, separationOf)...)},
			func() { s.out.Separations(t, [2]*kb.Material{a, b}, lines) })
	})
}

func separationOf(l *bench.Separation) separationLine {
	out := separationLine{Observable: l.Observable.Name, Test: l.Test.ID, Ratio: l.Ratio,
		Gap: l.Gap, U: l.U, Sigmas: l.Sigmas(), Settles: l.Settles,
		Impossible: append([]string{}, l.Missing...), FromCarat: l.FromCarat, Never: l.Never}
	for i, r := range l.Expected {
		if r != nil {
			out.Expected[i], out.Instrument = phrase.ReadingText(r), r.Instrument
		}
	}
	if l.Read != nil {
		out.Found = &l.Found
	}
	return out
}
