package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/terminal"
	"whystone/engine/bench"
	"whystone/engine/picture"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/physics"
)

// weighed is what the flags of a weighing say.
type weighed struct {
	inAir, inLiquid, repeats                 weight
	celsius, density, pressure, humidity, sg measured
	liquid, picture, file                    string
}

func (a *app) reckonSG() *cobra.Command {
	var f weighed
	cmd := &cobra.Command{
		Use:   "sg",
		Short: "Specific gravity by weighing in a liquid",
		Long: `Specific gravity of a loose stone by its weight in air and hanging in a liquid:
(Wa rho_liquid - Wl rho_air)/(Wa - Wl), over the density of water at 4 °C. The
density of water is that of Tanaka and others (2001). What the balance repeats
to is taken from the house's instrument, or the sheet of the test, unless it is
given. Weights are in carat unless they say g or mg.

With --sg in place of --in-liquid: how well a stone of this specific gravity
could be weighed. With --case in place of both weights: what the uncertainty of
the reading in a case comes from.`,
		Example: `  whystone reckon sg --in-air 1.020 --in-liquid 0.730 --celsius 21
  whystone reckon sg --in-air 0.204g --in-liquid 0.1558g --liquid ethanol
  whystone reckon sg --in-air 0.30 --sg 3.52 --picture reach.html
  whystone reckon sg --case stone.yaml`,
		Args: noArguments,
		RunE: a.does(func(s *session, cmd *cobra.Command, _ []string) error {
			return s.reckonSG(cmd, &f)
		}),
	}
	fl := cmd.Flags()
	fl.Var(&f.inAir, "in-air", "the stone's weight in air")
	fl.Var(&f.inLiquid, "in-liquid", "its weight hanging in the liquid; below zero of one that floats, held down by "+
		"a sinker")
	fl.Var(&f.sg, "sg", "in place of --in-liquid: a specific gravity, for how well it could be weighed")
	fl.StringVar(&f.file, "case", "", "in place of the weights: the stone and the reading of this case `file`")
	fl.Var(&f.repeats, "repeats", "standard deviation of a weighing repeated")
	fl.StringVar(&f.liquid, "liquid", "water", "the liquid, by `name`: "+strings.Join(liquidNames(), ", "))
	fl.Var(&f.density, "liquid-density", "of another liquid: its density at the temperature of the weighing, in kg/m³")
	fl.Var(&f.celsius, "celsius", "temperature of the liquid, °C (default 20±1)")
	fl.Var(&f.pressure, "pressure", "of the air, in hPa, as a barometer on the spot shows it (default 1013.25±10)")
	fl.Var(&f.humidity, "humidity", "of the air, in percent (default 50±20)")
	fl.StringVar(&f.picture, "picture", "",
		"draw what the balance can tell apart, by weight of the stone, to this `file` (.svg or .html)")
	return cmd
}

func liquidNames() []string {
	return english.Each(physics.Liquids(), func(l physics.Liquid) string { return l.Name })
}

// weighing puts the flags together; what the balance repeats to is the house's unless it is given.
func (f *weighed) weighing(cmd *cobra.Command, rs *kb.Ruleset) (physics.Weighing, error) {
	w := physics.AtADesk(f.inAir.Value, f.repeats.Value)
	w.InLiquid = f.inLiquid.Value
	if !f.repeats.given {
		balances := bench.Balances(rs)
		if len(balances) == 0 {
			return w, usageError("%s needs --repeats, as no sheet of the ruleset says what a balance repeats to",
				cmd.CommandPath())
		}
		w.Repeats = balances[0]
	}
	if f.celsius.given {
		w.Celsius, w.CelsiusU = f.celsius.Value, f.celsius.U
		if f.celsius.U == 0 {
			w.CelsiusU = 0.5 // what a plain thermometer is good for (common practice)
		}
	}
	switch l, known := physics.FindLiquid(f.liquid); {
	case f.density.given && cmd.Flags().Changed("liquid"):
		return w, usageError("a liquid is known by its name or by its density: --liquid or --liquid-density")
	case f.density.given:
		w.Liquid = physics.KnownDensity(f.density.Value, f.density.U)
	case known:
		w.Liquid = l
	default:
		return w, usageError("no liquid is called %q; known are %s, any other by --liquid-density", f.liquid,
			strings.Join(liquidNames(), ", ")).near(f.liquid, liquidNames())
	}
	return w, f.air(&w)
}

// air takes over what is said of the air.
func (f *weighed) air(w *physics.Weighing) error {
	if !f.pressure.given && !f.humidity.given {
		return nil // as at any desk
	}
	pressure, humidity := f.pressure, f.humidity
	if !pressure.given {
		pressure = measured{Value: 1013.25, U: 10}
	}
	if !humidity.given {
		humidity = measured{Value: 50, U: 20}
	}
	b, err := physics.AirBudget(w.Celsius, 2, pressure.Value, pressure.U, humidity.Value, humidity.U)
	if err != nil {
		return cantReckon(err)
	}
	w.Air, w.AirU, w.Pascal = b.Value, b.U, 100*pressure.Value
	return nil
}

// besidesWeighing is what a weighing tells apart, as JSON.
type besidesWeighing struct {
	// Difference between a reading and a range that rules a material out on this stone.
	Difference float64          `json:"difference"`
	Materials  []besideMaterial `json:"materials"`
}

type besideMaterial struct {
	Material  string   `json:"material"`
	Gap       float64  `json:"gap"`
	RuledOut  bool     `json:"ruled_out"`
	FromCarat *float64 `json:"from_carat"` // null: within, or at no weight
}

func (s *session) reckonSG(cmd *cobra.Command, f *weighed) error {
	if err := f.weights(cmd); err != nil {
		return err
	}
	if f.picture != "" {
		if err := s.mayDraw(f.picture, f.file); err != nil {
			return err
		}
	}
	rs, err := s.ruleset(cmd.Context())
	if err != nil {
		return err
	}
	if err := s.weighedInCase(cmd.Context(), rs, f); err != nil {
		return err
	}
	w, err := f.weighing(cmd, rs)
	if err != nil {
		return err
	}
	sg := f.sg.Value
	if f.inLiquid.given {
		if sg, err = w.SpecificGravity(); err != nil {
			return cantReckon(err)
		}
	}
	b, err := w.Budget(sg)
	if err != nil {
		return cantReckon(err)
	}
	out := reckonedOf("specific gravity", "", w.Liquid.Source+"; JCGM 100:2008, 5.1.2", b)
	out.Cautions = append([]string{beforeWeighing}, w.Liquid.Cautions...)
	near := bench.Neighbours(rs, w, sg, b.U)
	if f.picture != "" {
		if err := toPicture(f.picture, "Weighing", picture.OfBalance(rs, w, sg, near).Draw()); err != nil {
			return err
		}
	}
	told := rs.Policy.Misfit * b.U
	out.Besides = besidesOf(near, told)
	return s.tell(out, func() {
		s.out.Reckoned("Specific gravity", "", b)
		s.out.Field("Weighed", terminal.Plain, weighedSays(f, w))
		s.out.ToldApart(near, told, rs.Policy.Misfit)
		s.out.Field("Caution", terminal.Plain, out.Cautions...)
		s.out.Field("Source", terminal.Dim, out.Source)
	})
}

// weights sees to it that the figures of a weighing are given in one way.
func (f *weighed) weights(cmd *cobra.Command) error {
	switch {
	case f.file != "" && (f.inAir.given || f.inLiquid.given || f.sg.given):
		return usageError("%s takes its figures from --case or from flags, not from both", cmd.CommandPath())
	case f.file != "":
		return nil
	case f.inLiquid.given == f.sg.given:
		return usageError("%s needs --in-liquid, the stone's weight in the liquid, or --sg in its place",
			cmd.CommandPath())
	}
	return missingFlag(cmd, "in-air")
}

// weighedInCase takes the weight of the stone, the reading and the balance from a case, if one is named.
func (s *session) weighedInCase(ctx context.Context, rs *kb.Ruleset, f *weighed) error {
	if f.file == "" {
		return nil
	}
	for it, err := range s.cases(ctx, []string{f.file}, rs) {
		if err != nil {
			return err
		}
		if it.Case == nil {
			return errors.Join(&ended{status: unusable}, s.notJudged(it))
		}
		r := bench.Weighed(it.Case)
		if r == nil || it.Case.Stone.Carat == nil {
			return usageError("%s has no specific gravity by weighing, or no weight of the stone", it.Case.ID)
		}
		f.inAir.Value, f.sg.Value = *it.Case.Stone.Carat, r.Value
		f.inAir.given, f.sg.given = true, true
		if own, ok := bench.RepeatsTo(rs, r); ok && !f.repeats.given {
			f.repeats.Value, f.repeats.given = own, true
		}
		return nil
	}
	return usageError("%s holds no case", f.file)
}

// beforeWeighing is common practice.
const beforeWeighing = "The stone is loose, clean, dry and without bubbles; its owner agrees before anything touches " +
	"it."

func weighedSays(f *weighed, w physics.Weighing) string {
	what := fmt.Sprintf("in %s of %g °C, on a balance that repeats to %g ct", w.Liquid.Name, w.Celsius, w.Repeats)
	if !f.inLiquid.given {
		return fmt.Sprintf("a stone of %g ct, as it would be %s", w.InAir, what)
	}
	return fmt.Sprintf("%g ct in air, %g ct %s", w.InAir, w.InLiquid, what)
}

func besidesOf(near []bench.Beside, told float64) *besidesWeighing {
	list := english.Each(near, func(n bench.Beside) besideMaterial {
		m := besideMaterial{Material: n.Material.ID, Gap: n.Gap, RuledOut: n.RuledOut}
		if n.FromCarat > 0 {
			m.FromCarat = &n.FromCarat
		}
		return m
	})
	return &besidesWeighing{told, append([]besideMaterial{}, list...)}
}
