package quantity

import (
	"fmt"
	"math"
)

// Input is one component of a measurement: a quantity that goes into it, with its standard uncertainty.
type Input struct {
	Name, Unit string
	Value, U   float64
	From       string // where the uncertainty comes from
}

// Part is what one input brings to the result: |c| u, with c the partial derivative of the result by the input.
type Part struct {
	Input
	Sensitivity, Contribution float64
}

// Joint is what two inputs bring together (or one by itself, A and B alike) in the second order: the terms of JCGM 100:2008, note
// to 5.1.2, as a variance. It counts where a sensitivity vanishes, and it can be negative.
type Joint struct {
	A, B     int
	Variance float64
}

// Budget is a result with its uncertainty, and which part of that comes from what, as in JCGM 100:2008, table H.1.
type Budget struct {
	Value  float64
	Parts  []Part
	Joints []Joint // all pairs, A <= B
	First  float64 // combined standard uncertainty of first order alone
	U      float64 // combined standard uncertainty with the second order
}

// Expanded is the expanded uncertainty, coverage factor k = 2.
func (b *Budget) Expanded() float64 { return coverage * b.U }

// fine is the step of differences, as a part of an input's standard uncertainty: small enough that they are derivatives, large
// enough that rounding leaves ten figures of a first derivative and five of a third.
const fine = 1.0 / 16

// Propagate is the budget of f of independent inputs: first order (JCGM 100:2008, 5.1.2) and second (the note to it: the sum over all
// ordered pairs of (f_ij²/2 + f_i f_ijj) u_i² u_j², exact for f of second degree in normal variables), with derivatives by central differences. f is asked up to an
// eighth of an input's uncertainty beside its value; where it can't be there, its error is given back.
func Propagate(inputs []Input, f func(x []float64) (float64, error)) (*Budget, error) {
	d := &differences{f: f, x: make([]float64, len(inputs)), inputs: inputs}
	for i, in := range inputs {
		if !finite(in.Value) || !finite(in.U) || in.U < 0 {
			return nil, fmt.Errorf("%w: %s is %g ± %g", ErrNotFinite, in.Name, in.Value, in.U)
		}
		d.x[i] = in.Value
	}
	b := &Budget{Value: d.at(0, 0, 0, 0)}
	slopes := make([]float64, len(inputs))
	first := 0.0
	for i, in := range inputs {
		slopes[i] = (d.at(i, 1, i, 0) - d.at(i, -1, i, 0)) / (2 * fine)
		p := Part{Input: in, Contribution: math.Abs(slopes[i])}
		if in.U > 0 {
			p.Sensitivity = slopes[i] / in.U
		}
		b.Parts = append(b.Parts, p)
		first += slopes[i] * slopes[i]
	}
	second := 0.0
	for i := range inputs {
		for j := i; j < len(inputs); j++ {
			v := d.joint(i, j, slopes, b.Value)
			b.Joints = append(b.Joints, Joint{i, j, v})
			second += v
		}
	}
	b.First, b.U = math.Sqrt(first), math.Sqrt(max(first+second, 0))
	switch {
	case d.err != nil:
		return nil, d.err
	case !finite(b.Value) || !finite(b.U):
		return nil, fmt.Errorf("%w: the result is %g ± %g", ErrNotFinite, b.Value, b.U)
	}
	return b, nil
}

// differences asks a function beside a point.
type differences struct {
	f      func([]float64) (float64, error)
	inputs []Input
	x      []float64
	err    error
}

// at is f with input i moved by m steps and input j by n more.
func (d *differences) at(i int, m float64, j int, n float64) float64 {
	if d.err != nil {
		return 0
	}
	if len(d.inputs) > 0 {
		d.x[i] += m * fine * d.inputs[i].U
		d.x[j] += n * fine * d.inputs[j].U
	}
	v, err := d.f(d.x)
	if len(d.inputs) > 0 {
		d.x[i], d.x[j] = d.inputs[i].Value, d.inputs[j].Value
	}
	d.err = err
	return v
}

// joint is the second-order variance of a pair: its two ordered pairs together, or the one of an input by itself.
func (d *differences) joint(i, j int, slopes []float64, middle float64) float64 {
	if d.inputs[i].U == 0 || d.inputs[j].U == 0 {
		return 0
	}
	if i == j {
		up, down := d.at(i, 1, i, 0), d.at(i, -1, i, 0)
		curve := (up - 2*middle + down) / (fine * fine)
		third := (d.at(i, 2, i, 0) - 2*up + 2*down - d.at(i, -2, i, 0)) / (2 * fine * fine * fine)
		return curve*curve/2 + slopes[i]*third
	}
	var f [3][3]float64
	for m := range f {
		for n := range f[m] {
			f[m][n] = d.at(i, float64(m-1), j, float64(n-1))
		}
	}
	mixed := (f[2][2] - f[2][0] - f[0][2] + f[0][0]) / (4 * fine * fine)
	along := func(a, b, c, e, g, h float64) float64 {
		return ((a - 2*b + c) - (e - 2*g + h)) / (2 * fine * fine * fine)
	}
	ijj := along(f[2][2], f[2][1], f[2][0], f[0][2], f[0][1], f[0][0])
	jii := along(f[2][2], f[1][2], f[0][2], f[2][0], f[1][0], f[0][0])
	return mixed*mixed + slopes[i]*ijj + slopes[j]*jii
}
