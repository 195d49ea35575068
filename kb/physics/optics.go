package physics

import (
	"fmt"
	"math"
)

// Reflectance is what a polished face in air reflects of light that falls on it straight, in percent: 100
// ((n-1)/(n+1))², Fresnel's equation for one face of a substance that absorbs little. n is the index of refraction, 1
// or more.
func Reflectance(n float64) float64 {
	if math.IsInf(n, 1) {
		return 100
	}
	r := (n - 1) / (n + 1)
	return 100 * r * r
}

// IndexFromReflectance is the inverse of Reflectance: the index of a face that reflects the given percent of light
// falling on it straight, from 0 up to but not including 100: (1+r)/(1-r) with r = sqrt(percent/100).
func IndexFromReflectance(percent float64) float64 {
	r := math.Sqrt(percent / 100)
	return (1 + r) / (1 - r)
}

// CriticalAngle is the angle, in degrees from the normal, beyond which light within a stone of index n in air is
// reflected totally: asin(1/n) (Snell's law). NaN for n below 1.
func CriticalAngle(n float64) float64 { return degrees(math.Asin(1 / n)) }

// BrewsterAngle is the angle of incidence, in degrees from the normal, at which light reflected from a face of index
// n in air is fully polarised: atan(n) (Brewster's law).
func BrewsterAngle(n float64) float64 { return degrees(math.Atan(n)) }

// ApparentDepth is how deep, in the unit of the real depth, something seems to lie that is looked at straight down
// through a flat face of index n: real/n, Snell's law for small angles.
func ApparentDepth(real, n float64) float64 { return real / n }

// DepthRatio is the inverse of ApparentDepth: the index of a plate that is looked at through, by its real depth and
// the one that it seems to have, both in one unit. ErrRange unless it seems less deep than it is.
func DepthRatio(real, apparent float64) (float64, error) {
	if !(apparent > 0 && real >= apparent) {
		return 0, fmt.Errorf("%w: a depth of %g that seems to be %g; a stone seems less deep than it is", ErrRange,
			real, apparent)
	}
	return real / apparent, nil
}

// LeastDeviation is the index of a prism of an angle between two polished faces, by the least angle by which it
// deviates light of one colour, both in degrees: sin((A+D)/2)/sin(A/2), which follows from Snell's law for the
// symmetrical path. ErrRange where no light can pass so.
func LeastDeviation(angle, deviation float64) (float64, error) {
	if !(angle > 0 && deviation >= 0 && angle+deviation <= 180) {
		return 0, fmt.Errorf("%w: a prism of %g degrees that deviates by %g", ErrRange, angle, deviation)
	}
	half := func(a float64) float64 { return math.Sin(a * math.Pi / 360) }
	return half(angle+deviation) / half(angle), nil
}

// DeviationOf is the inverse of LeastDeviation: by how many degrees a prism of an index, 1 or more, and of an angle
// between its two polished faces deviates light at least. ErrRange where no light passes: it is reflected totally.
func DeviationOf(index, angle float64) (float64, error) {
	sine := index * math.Sin(angle*math.Pi/360)
	if !(index >= 1 && angle > 0 && angle < 180 && sine <= 1) {
		return 0, fmt.Errorf("%w: a prism of %g degrees and index %g lets no light through", ErrRange, angle, index)
	}
	return 2*degrees(math.Asin(sine)) - angle, nil
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
