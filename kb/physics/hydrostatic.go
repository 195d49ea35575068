package physics

import (
	"fmt"
	"math"

	"whystone/kb/quantity"
)

// Weighing is a stone weighed in air and hanging in a liquid, with what the result depends on. Uncertainties are
// standard.
type Weighing struct {
	InAir, InLiquid   float64 // ct; of a stone that floats, held down by a sinker, less than zero in the liquid
	Repeats           float64 // to what either weighing repeats, ct
	Liquid            Liquid
	Celsius, CelsiusU float64 // of the liquid
	Pascal            float64 // of the air
	Air, AirU         float64 // density of the air, kg/m³
}

// AtADesk is a weighing as a reading is taken to be made of which nothing else was written down: in boiled water of
// 20 °C, its temperature read to 1 °C, in air of 1.2 kg/m³ as the weather changes it (common practice).
func AtADesk(inAir, repeats float64) Weighing {
	return Weighing{InAir: inAir, Repeats: repeats, Liquid: liquids[0], Celsius: 20, CelsiusU: 1, Pascal: 101325,
		Air: 1.2, AirU: 0.03}
}

// SpecificGravity is the stone's density over that of water at its densest (common practice of the trade: water at 4
// °C).
func (w Weighing) SpecificGravity() (float64, error) {
	liquid, err := w.Liquid.Density(w.Celsius, w.Pascal)
	if err != nil {
		return 0, err
	}
	return w.gravity([]float64{w.InAir, w.InLiquid, w.Celsius, 0, w.Air}, liquid)
}

func (w *Weighing) gravity(x []float64, liquid float64) (float64, error) {
	rho, err := HydrostaticDensity(x[0], x[1], liquid+x[3], x[4])
	return rho / MaximumWaterDensity, err
}

// Budget is the uncertainty of such a weighing of a stone of this specific gravity; what it weighs in the liquid
// follows from that. It is told of the stone and not of the second weighing so that whoever knows only the reading
// and the stone's weight gets the same figures.
func (w Weighing) Budget(sg float64) (*quantity.Budget, error) {
	in, liquid, err := w.inputs(sg)
	if err != nil {
		return nil, err
	}
	of := asked{weighing: &w}
	b, err := quantity.Propagate(in[:], of.gravity)
	if err != nil {
		return nil, err
	}
	b.Parts[3].Value, b.Value = liquid, sg // the input is how far the liquid is off its formula
	return b, nil
}

// inputs are what such a weighing comes from, and the density of the liquid.
func (w Weighing) inputs(sg float64) (in [5]quantity.Input, liquid float64, err error) {
	if liquid, err = w.Liquid.Density(w.Celsius, w.Pascal); err != nil {
		return in, 0, err
	}
	rho := sg * MaximumWaterDensity
	if !(rho > w.Air && w.InAir > 0 && w.Repeats >= 0) || math.IsInf(rho, 0) || math.IsInf(w.InAir, 0) {
		return in, 0, fmt.Errorf("%w: a stone of %g ct and specific gravity %g on a balance that repeats to %g ct",
			ErrRange, w.InAir, sg, w.Repeats)
	}
	inLiquid := w.InAir * (rho - liquid) / (rho - w.Air)
	if loss := w.InAir - inLiquid; w.Repeats > loss {
		return in, 0, fmt.Errorf("%w: the stone loses %.2g ct in the liquid, and the balance repeats to %g ct: that "+
			"tells nothing",
			ErrRange, loss, w.Repeats)
	}
	const repeats = "what the balance repeats to"
	return [5]quantity.Input{
		{Name: "weight in air", Unit: "ct", Value: w.InAir, U: w.Repeats, From: repeats},
		{Name: "weight in the liquid", Unit: "ct", Value: inLiquid, U: w.Repeats, From: repeats},
		{Name: "temperature of the liquid", Unit: "°C", Value: w.Celsius, U: w.CelsiusU,
			From: "the thermometer, and where it hangs"},
		{Name: "density of the liquid itself", Unit: "kg/m³", U: w.Liquid.U, From: "its purity"},
		{Name: "density of the air", Unit: "kg/m³", Value: w.Air, U: w.AirU, From: "weather, height and room"},
	}, liquid, nil
}

// asked is a weighing that is asked over and over, mostly at one temperature.
type asked struct {
	weighing *Weighing
	celsius  float64
	liquid   float64 // its density there; 0: not known yet
}

func (a *asked) gravity(x []float64) (float64, error) {
	if a.liquid == 0 || x[2] != a.celsius {
		liquid, err := a.weighing.Liquid.Density(x[2], a.weighing.Pascal)
		if err != nil {
			return 0, err
		}
		a.celsius, a.liquid = x[2], liquid
	}
	return a.weighing.gravity(x, a.liquid)
}

// WeighingUncertainty is the standard uncertainty of a specific gravity from weighing at a desk, for a stone of this
// weight in carat on a balance that repeats to so many carats. For a balance that repeats to more than half of what
// the stone loses in water, where a weighing tells next to nothing, it goes on in proportion. ErrRange of what is no
// stone.
func WeighingUncertainty(sg, carat, repeats float64) (float64, error) {
	most := min(repeats, carat/sg/2) // about half of what it loses
	w := AtADesk(carat, most)
	in, _, err := w.inputs(sg)
	if err != nil {
		return 0, err
	}
	of := asked{weighing: &w}
	u, err := quantity.Uncertainty(in[:], of.gravity)
	if most < repeats {
		u = u * repeats / most
	}
	return u, err
}

// LeastCarat is the weight in carat from which on such a weighing has a standard uncertainty of u or less; ErrRange
// where it has not at any weight up to 100 ct.
func (w Weighing) LeastCarat(sg, u float64) (float64, error) {
	good := func(carat float64) bool {
		w.InAir = carat
		b, err := w.Budget(sg)
		return err == nil && b.U <= u
	}
	low, high := 1e-3, 100.0
	if !good(high) {
		return 0, fmt.Errorf("%w: no weight up to 100 ct gives a specific gravity of %g to ± %g", ErrRange, sg, u)
	}
	for high/low > 1.0001 {
		if middle := math.Sqrt(low * high); good(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high, nil
}
