package proofread

import (
	"fmt"
	"strconv"

	"whystone/kb/english"
	"whystone/kb/vocab"
)

// says tells in words what lies at some places: "facet_doubling none or slight".
func (x *axis) says(at spans) string {
	var parts []string
	if x.ordered() {
		parts = english.Each(at, x.stretch)
	} else {
		parts = x.wordsAt(at)
	}
	verb := " "
	if x.column.Kind == vocab.Features {
		verb = " showing "
	}
	return x.column.Name + verb + english.List(parts, "or")
}

// stretch is a run of places of a quantity in the words of cells, as far as those go.
func (x *axis) stretch(s span) string {
	number := func(i int) string {
		cut, _ := x.place(i)
		return strconv.FormatFloat(cut, 'g', -1, 64)
	}
	low, high := "", ""
	_, atLow := x.place(s.from)
	if s.from > 0 {
		low = number(s.from)
	}
	atHigh := s.to < x.size && s.to%2 == 0 // the last place is a number
	switch {
	case s.to == x.size:
	case atHigh:
		high = number(s.to - 1)
	default:
		high = number(s.to)
	}
	switch {
	case low == "" && high == "":
		return "whatever it is"
	case low == "" && atHigh:
		return high + " or below"
	case low == "":
		return "below " + high
	case high == "" && atLow:
		return "from " + low
	case high == "":
		return "above " + low
	case low == high:
		return "exactly " + low
	case atLow && !atHigh:
		return "from " + low + " to " + high
	case atLow:
		return fmt.Sprintf("from %s to %s, %s too", low, high, high)
	case atHigh:
		return fmt.Sprintf("above %s to %s, %s too", low, high, high)
	}
	return "above " + low + " and below " + high
}
