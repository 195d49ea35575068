// Package physics is the physics behind the properties that sheets, checks and bench arithmetic use: index of
// refraction from a published dispersion formula, X-ray density from a unit cell, hydrostatic weighing, and what an
// index implies for reflected and refracted light. All functions are pure. Units stand in each name or comment; the
// source of each equation stands beside it.
//
// What rules may call is in Functions.
package physics

import "errors"

// What a calculation can refuse; errors wrap one of these and give the values.
var (
	// ErrFormula: a dispersion formula or a chemical formula that can't be read.
	ErrFormula = errors.New("unusable formula")
	// ErrRange: an argument outside the range in which the equation is valid or physically possible.
	ErrRange = errors.New("outside the valid range")
)
