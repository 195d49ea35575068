package physics

import (
	"fmt"
	"math"

	"whystone/kb/quantity"
)

// Reflectance is what a polished face in air reflects of light that falls on it straight, in percent: 100 ((n-1)/(n+1))²,
// Fresnel's equation for one face of a substance that absorbs little. n is the index of refraction, 1 or more.
func Reflectance(n float64) float64 {
	if math.IsInf(n, 1) {
		return 100
	}
	r := (n - 1) / (n + 1)
	return 100 * r * r
}

// IndexFromReflectance is the inverse of Reflectance: the index of a face that reflects the given percent of light falling on it
// straight, from 0 up to but not including 100: (1+r)/(1-r) with r = sqrt(percent/100).
func IndexFromReflectance(percent float64) float64 {
	r := math.Sqrt(percent / 100)
	return (1 + r) / (1 - r)
}

// CriticalAngle is the angle, in degrees from the normal, beyond which light within a stone of index n in air is reflected
// totally: asin(1/n) (Snell's law). NaN for n below 1.
func CriticalAngle(n float64) float64 { return degrees(math.Asin(1 / n)) }

// BrewsterAngle is the angle of incidence, in degrees from the normal, at which light reflected from a face of index n in air is
// fully polarised: atan(n) (Brewster's law).
func BrewsterAngle(n float64) float64 { return degrees(math.Atan(n)) }

// ReflectanceQ is Reflectance of a reading. ErrRange unless n is 1 or more.
func ReflectanceQ(ctx *quantity.Context, n quantity.Q) (quantity.Q, error) {
	return ofIndex(ctx, n, Reflectance, func(n float64) float64 { return 400 * (n - 1) / ((n + 1) * (n + 1) * (n + 1)) })
}

// CriticalAngleQ is CriticalAngle of a reading. ErrRange unless n is 1 or more.
func CriticalAngleQ(ctx *quantity.Context, n quantity.Q) (quantity.Q, error) {
	return ofIndex(ctx, n, CriticalAngle, func(n float64) float64 { return degrees(-1 / (n * math.Sqrt(n*n-1))) })
}

// BrewsterAngleQ is BrewsterAngle of a reading. ErrRange unless n is 1 or more.
func BrewsterAngleQ(ctx *quantity.Context, n quantity.Q) (quantity.Q, error) {
	return ofIndex(ctx, n, BrewsterAngle, func(n float64) float64 { return degrees(1 / (1 + n*n)) })
}

// IndexFromReflectanceQ is IndexFromReflectance of a reading. ErrRange unless percent is from 0 to below 100.
func IndexFromReflectanceQ(ctx *quantity.Context, percent quantity.Q) (quantity.Q, error) {
	lo, hi := limits(percent)
	if !(lo >= 0 && hi < 100) {
		return quantity.Q{}, fmt.Errorf("%w: a reflectance of %s percent, wanted 0 to below 100", ErrRange, between(lo, hi))
	}
	return quantity.Monotone(ctx, percent, IndexFromReflectance, func(p float64) float64 {
		r := math.Sqrt(p / 100)
		return 0.01 / (r * (1 - r) * (1 - r))
	})
}

// ofIndex applies a monotone function of an index of refraction, which must be 1 or more.
func ofIndex(ctx *quantity.Context, n quantity.Q, f, derivative func(float64) float64) (quantity.Q, error) {
	if lo, hi := limits(n); !(lo >= 1) {
		return quantity.Q{}, fmt.Errorf("%w: an index of refraction of %s, wanted 1 or more", ErrRange, between(lo, hi))
	}
	return quantity.Monotone(ctx, n, f, derivative)
}

// limits is where q may lie, first order looking no further than the value.
func limits(q quantity.Q) (lo, hi float64) {
	if q.Bounded {
		return q.Lo, q.Hi
	}
	return q.Value, q.Value
}

func between(lo, hi float64) string {
	if lo == hi {
		return fmt.Sprintf("%g", lo)
	}
	return fmt.Sprintf("%g to %g", lo, hi)
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
