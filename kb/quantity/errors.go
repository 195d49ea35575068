package quantity

import "errors"

// What arithmetic can refuse. An error returned by this package wraps one of these and names the offending values.
var (
	// ErrDivideByZero: the divisor is 0 or its interval contains 0, or 0 is raised to a negative power.
	ErrDivideByZero = errors.New("division by zero")
	// ErrNegativeRoot: a square root, or a power that is not a whole exact number, of something that is or may be
	// negative.
	ErrNegativeRoot = errors.New("root of a negative number")
	// ErrNotFinite: a value that is not a finite number went in or would come out, or a derivative is infinite (the
	// square root of 0 ± u).
	ErrNotFinite = errors.New("not a finite number")
)
