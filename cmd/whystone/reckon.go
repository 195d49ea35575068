package main

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/catalog"
	"whystone/kb/english"
	"whystone/kb/physics"
	"whystone/kb/physics/raytrace"
	"whystone/kb/quantity"
)

// reckon is the bench arithmetic on its own.
func (a *app) reckon() *cobra.Command {
	return a.group(&cobra.Command{
		Use:   "reckon",
		Short: "Reckon at the bench: specific gravity, weight, optics, crystals",
		Long: `Reckon does the arithmetic of the bench, each result with its uncertainty and
what that comes from. A figure may be given with its standard uncertainty:
17.2±0.6, or 17.2+-0.6. "whystone help formulas" has every formula with its
source.

Exit status: 0 done, 2 figures that can't be.`,
	}, a.reckonSG(), a.reckonWeight(), a.reckonOptics(), a.reckonReadThrough(), a.reckonCell())
}

// measured is a figure of the command line with its standard uncertainty, 0 where none is given.
type measured struct {
	Value, U float64
	given    bool
}

// String is the figure as it was given.
func (m *measured) String() string {
	switch {
	case !m.given:
		return ""
	case m.U == 0:
		return strconv.FormatFloat(m.Value, 'g', -1, 64)
	}
	return fmt.Sprintf("%g±%g", m.Value, m.U)
}

// Type is what a page of help calls it.
func (m *measured) Type() string { return "figure" }

// Set reads a figure.
func (m *measured) Set(text string) error {
	value, u, both := strings.Cut(strings.ReplaceAll(text, "+-", "±"), "±")
	var err error
	if m.Value, err = plainNumber(value); err != nil {
		return err
	}
	if m.U = 0; both {
		if m.U, err = plainNumber(u); err != nil {
			return err
		}
	}
	if m.U < 0 {
		return errors.New("an uncertainty is not below zero")
	}
	m.given = true
	return nil
}

func plainNumber(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is no number; write it as 3.52 or 3.52±0.02", text)
	}
	return v, nil
}

// weight is a weight of the command line, in carat unless it says g or mg.
type weight struct{ measured }

// Type is what a page of help calls it.
func (w *weight) Type() string { return "weight" }

// caratsOf is how many carats the units of a weight are; 1 ct is 0.2 g by definition.
var caratsOf = []struct {
	unit   string
	carats float64
}{{"ct", 1}, {"mg", 0.005}, {"g", 5}}

// Set reads a weight.
func (w *weight) Set(text string) error {
	factor := 1.0
	for _, u := range caratsOf {
		if rest, ok := strings.CutSuffix(strings.TrimSpace(text), u.unit); ok {
			text, factor = rest, u.carats
			break
		}
	}
	if err := w.measured.Set(text); err != nil {
		return err
	}
	w.Value, w.U = w.Value*factor, w.U*factor
	return nil
}

// reckoned is a result with its budget, as JSON.
type reckoned struct {
	Format   int              `json:"format"`
	What     string           `json:"what"`
	Unit     string           `json:"unit"`
	Value    float64          `json:"value"`
	U        float64          `json:"standard_uncertainty"`
	Expanded float64          `json:"expanded_uncertainty"` // coverage factor 2
	First    float64          `json:"first_order"`          // standard uncertainty without the second order
	Budget   []component      `json:"budget"`
	Second   []secondOrder    `json:"second_order"`
	Source   string           `json:"source"`
	Cautions []string         `json:"cautions"`
	Besides  *besidesWeighing `json:"told_apart,omitempty"`
}

// component is a line of a budget, as in JCGM 100:2008, table H.1.
type component struct {
	Component    string  `json:"component"`
	Unit         string  `json:"unit"`
	Estimate     float64 `json:"estimate"`
	U            float64 `json:"standard_uncertainty"`
	From         string  `json:"from"`
	Sensitivity  float64 `json:"sensitivity"`
	Contribution float64 `json:"contribution"`
}

// secondOrder is what two components bring together; Variance may be below zero.
type secondOrder struct {
	Components [2]string `json:"components"`
	Variance   float64   `json:"variance"`
}

func reckonedOf(what, unit, source string, b *quantity.Budget) reckoned {
	out := reckoned{Format: catalog.Format, What: what, Unit: cmp.Or(unit, "1"), Source: source,
		Value: b.Value, U: b.U, Expanded: b.Expanded(), First: b.First,
		Budget: english.Each(b.Parts, func(p quantity.Part) component {
			return component{p.Name, cmp.Or(p.Unit, "1"), p.Value, p.U, p.From, p.Sensitivity, p.Contribution}
		}), Second: []secondOrder{}, Cautions: []string{}}
	for _, j := range b.Notable() {
		out.Second = append(out.Second, secondOrder{[2]string{b.Parts[j.A].Name, b.Parts[j.B].Name}, j.Variance})
	}
	return out
}

// cantReckon is what becomes of figures that can't be.
func cantReckon(err error) error {
	if _, ok := errors.AsType[*ended](err); ok {
		return err
	}
	says := err.Error()
	for _, kind := range []error{physics.ErrRange, physics.ErrFormula, quantity.ErrNotFinite, raytrace.ErrShape} {
		says = strings.TrimPrefix(says, kind.Error()+": ")
	}
	return &ended{status: unusable, says: says}
}

// missingFlag refuses a command line that lacks a figure.
func missingFlag(cmd *cobra.Command, flags ...string) error {
	for _, f := range flags {
		if !cmd.Flags().Changed(f) {
			return usageError("%s needs --%s", cmd.CommandPath(), f)
		}
	}
	return nil
}

// noArguments refuses what is given beside flags.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usageError("%s takes its figures as flags, and got %q", cmd.CommandPath(), args[0])
	}
	return nil
}
