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

// Joint is what two inputs bring together (or one by itself, A and B alike) in the second order: the terms of JCGM
// 100:2008, note to 5.1.2, as a variance. It counts where a sensitivity vanishes, and it can be negative.
type Joint struct {
	A, B     int
	Variance float64
}

// Budget is a result with its uncertainty, and which part of that comes from what, as in JCGM 100:2008, table H.1.
type Budget struct {
	Value  float64
	Parts  []Part
	Joints []Joint // all pairs that vary, A <= B
	First  float64 // combined standard uncertainty of first order alone
	U      float64 // combined standard uncertainty with the second order
}

// Expanded is the expanded uncertainty, coverage factor k = 2.
func (b *Budget) Expanded() float64 { return coverage * b.U }

// Notable are the joint terms that matter: a hundredth of the variance or more.
func (b *Budget) Notable() []Joint {
	var out []Joint
	for _, j := range b.Joints {
		if math.Abs(j.Variance) >= 0.01*b.U*b.U && j.Variance != 0 {
			out = append(out, j)
		}
	}
	return out
}

// fine is the step of differences, as a part of an input's standard uncertainty: small enough that they are
// derivatives, large enough that rounding leaves ten figures of a first derivative and five of a third.
const fine = 1.0 / 16

// Propagate is the budget of f of independent inputs: first order (JCGM 100:2008, 5.1.2) and second (the note to it:
// the sum over all ordered pairs of (f_ij²/2 + f_i f_ijj) u_i² u_j²), with derivatives by central differences. f is
// asked up to an eighth of an input's uncertainty beside its value; where it can't be there, its error is given back.
func Propagate(inputs []Input, f func(x []float64) (float64, error)) (*Budget, error) {
	n := len(inputs)
	b := &Budget{Parts: make([]Part, n), Joints: make([]Joint, 0, n*(n+1)/2)}
	if err := propagate(inputs, f, b); err != nil {
		return nil, err
	}
	return b, nil
}

// Uncertainty is the U of Propagate's budget, for those who want no more of it.
func Uncertainty(inputs []Input, f func(x []float64) (float64, error)) (float64, error) {
	var b Budget
	err := propagate(inputs, f, &b)
	return b.U, err
}

// propagate fills a budget; the parts and the joint terms of one that has room for them.
func propagate(inputs []Input, f func(x []float64) (float64, error), b *Budget) error {
	n := len(inputs)
	memory, owner := room(4 * n)
	defer leave(owner)
	x := memory[:n]
	var failed error
	d := &differences{f: f, failed: &failed, inputs: inputs, up: memory[n : 2*n], down: memory[2*n : 3*n],
		slope: memory[3*n:]}
	for i, in := range inputs {
		if !finite(in.Value) || !finite(in.U) || in.U < 0 {
			return fmt.Errorf("%w: %s is %g ± %g", ErrNotFinite, in.Name, in.Value, in.U)
		}
		x[i] = in.Value
	}
	b.Value = d.ask(x)
	d.middle = b.Value
	first, second := 0.0, 0.0
	for i, in := range inputs {
		d.up[i], d.down[i] = d.at(x, i, 1), d.at(x, i, -1)
		d.slope[i] = (d.up[i] - d.down[i]) / (2 * fine)
		if b.Parts != nil {
			b.Parts[i] = Part{Input: in, Contribution: math.Abs(d.slope[i])}
			if in.U > 0 {
				b.Parts[i].Sensitivity = d.slope[i] / in.U
			}
		}
		first += d.slope[i] * d.slope[i]
	}
	for i := range inputs {
		for j := i; j < n; j++ {
			if inputs[i].U == 0 || inputs[j].U == 0 {
				continue
			}
			v := d.joint(x, i, j)
			if b.Joints != nil {
				b.Joints = append(b.Joints, Joint{i, j, v})
			}
			second += v
		}
	}
	b.First, b.U = math.Sqrt(first), math.Sqrt(max(first+second, 0))
	switch {
	case failed != nil:
		return failed
	case !finite(b.Value) || !finite(b.U):
		return fmt.Errorf("%w: the result is %g ± %g", ErrNotFinite, b.Value, b.U)
	}
	return nil
}

// differences asks a function beside a point x, which it moves and puts back. Derivatives are in units of each input's
// standard uncertainty.
type differences struct {
	f               func([]float64) (float64, error)
	inputs          []Input
	middle          float64
	up, down, slope []float64 // by input: f a step beside the point, and the first derivative
	failed          *error    // why f could not be asked
}

func (d *differences) ask(x []float64) float64 {
	if *d.failed != nil {
		return 0
	}
	v, err := d.f(x)
	*d.failed = err
	return v
}

// at is f with one input moved by some steps.
func (d *differences) at(x []float64, i int, steps float64) float64 {
	x[i] += steps * fine * d.inputs[i].U
	v := d.ask(x)
	x[i] = d.inputs[i].Value
	return v
}

// joint is the second-order variance of a pair: its two ordered pairs together, or the one of an input by itself.
func (d *differences) joint(x []float64, i, j int) float64 {
	if i == j {
		curve := (d.up[i] - 2*d.middle + d.down[i]) / (fine * fine)
		third := (d.at(x, i, 2) - 2*d.up[i] + 2*d.down[i] - d.at(x, i, -2)) / (2 * fine * fine * fine)
		return curve*curve/2 + d.slope[i]*third
	}
	moved := func(steps float64) (up, down float64) {
		x[i] += steps * fine * d.inputs[i].U
		up, down = d.at(x, j, 1), d.at(x, j, -1)
		x[i] = d.inputs[i].Value
		return up, down
	}
	upUp, upDown := moved(1)
	downUp, downDown := moved(-1)
	mixed := (upUp - upDown - downUp + downDown) / (4 * fine * fine)
	third := func(plus, beside, minus, plus2, beside2, minus2 float64) float64 {
		return ((plus - 2*beside + minus) - (plus2 - 2*beside2 + minus2)) / (2 * fine * fine * fine)
	}
	ijj := third(upUp, d.up[i], upDown, downUp, d.down[i], downDown)
	jii := third(upUp, d.up[j], downUp, upDown, d.down[j], downDown)
	return mixed*mixed + d.slope[i]*ijj + d.slope[j]*jii
}
