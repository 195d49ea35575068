// Package logic is Kleene's strong three-valued logic, with the causes of what stays undecided.
//
// An absent reading is not a "no". A condition over readings therefore holds, fails, or is undecided, and an
// undecided one carries the causes: which reading is missing, was inconclusive, was set aside, disagrees with its
// repeat, or lies across a limit, and by how much. The tables are those of S. C. Kleene, Introduction to
// Metamathematics (1952), section 64 (from memory).
package logic

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Value is the truth of a condition. It is two planes of one bit each, so that three values cost two boolean
// operations: bit 0 is "holds", bit 1 is "fails", and neither is undecided.
type Value uint8

// The three truths.
const (
	Undecided Value = 0
	Holds     Value = 1
	Fails     Value = 2
)

// Of is the truth of something known.
func Of(b bool) Value {
	if b {
		return Holds
	}
	return Fails
}

// And holds when both hold and fails when either fails.
func And(a, b Value) Value { return a&b&Holds | (a|b)&Fails }

// Or holds when either holds and fails when both fail.
func Or(a, b Value) Value { return (a|b)&Holds | a&b&Fails }

// Not swaps holding and failing; the undecided stays undecided.
func Not(a Value) Value { return a>>1 | a<<1&Fails }

// String gives the word used in files, screens and output.
func (v Value) String() string {
	switch v {
	case Holds:
		return "holds"
	case Fails:
		return "fails"
	default:
		return "undecided"
	}
}

// MarshalText gives the same word.
func (v Value) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// Parse reads one of the three words.
func Parse(word string) (Value, bool) {
	switch word {
	case "holds":
		return Holds, true
	case "fails":
		return Fails, true
	case "undecided":
		return Undecided, true
	}
	return Undecided, false
}

// Why says why something is undecided.
type Why uint8

// The causes of "undecided", kept apart because each calls for something else from the person at the bench.
const (
	Absent       Why = iota // not read at all
	Inconclusive            // tried, and stayed inconclusive
	SetAside                // read, but a rule says that it does not count here
	Disagree                // repeats of one reading, or rules that give one fact, contradict each other
	Straddles               // the expanded interval lies across the limit
	TooCoarse               // the choice read covers outcomes on both sides
	NotLookedFor            // a feature that was not listed and not looked for
	NotDecided              // a truth that rules establish and that none of them decides
	Faulty                  // could not be evaluated
)

var whyWords = [...]string{"absent", "inconclusive", "set aside", "disagree", "straddles", "too coarse",
	"not looked for", "not decided", "faulty"}

// String gives the word used in output.
func (w Why) String() string {
	if int(w) < len(whyWords) {
		return whyWords[w]
	}
	return "unknown"
}

// MarshalText gives the same word.
func (w Why) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// Cause is one reason why a condition is undecided.
type Cause struct {
	Name string  `json:"name"`             // the reading, stone property or fact
	Why  Why     `json:"why"`              // what is the matter with it
	Says string  `json:"says,omitempty"`   // the reason that was given, or the limit it lies across
	By   float64 `json:"by,omitempty"`     // for Straddles: how far the interval reaches over the limit
	Of   string  `json:"detail,omitempty"` // for NotLookedFor: the feature
}

// String says it in words.
func (c Cause) String() string {
	switch c.Why {
	case Absent:
		return c.Name + c.number(" was", " were") + " not read"
	case Inconclusive:
		return c.Name + " stayed inconclusive" + because(c.Says)
	case SetAside:
		return c.Name + c.number(" is", " are") + " set aside" + because(c.Says)
	case Disagree:
		return c.Name + c.number(" disagrees with its", " disagree with their") + " repeat" + because(c.Says)
	case Straddles:
		return fmt.Sprintf("%s lies across %s by %s", c.Name, c.Says, strconv.FormatFloat(c.By, 'g', 3, 64))
	case TooCoarse:
		return fmt.Sprintf("%s %s read as %q, which leaves it open", c.Name, c.number("was", "were"), c.Says)
	case NotLookedFor:
		return fmt.Sprintf("%s: nobody says whether %q was looked for", c.Name, c.Of)
	case NotDecided:
		return c.Name + " is not decided"
	default:
		return c.Name + " could not be evaluated" + because(c.Says)
	}
}

// number is one of two words, by whether the name is of several things: inclusions, facet edges.
func (c Cause) number(one, many string) string {
	if strings.HasSuffix(c.Name, "s") && !strings.HasSuffix(c.Name, "ss") {
		return many
	}
	return one
}

func because(reason string) string {
	if reason == "" {
		return ""
	}
	return ": " + reason
}

func compare(a, b Cause) int {
	return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Why, b.Why), cmp.Compare(a.Of, b.Of),
		cmp.Compare(a.Says, b.Says), cmp.Compare(a.By, b.By))
}

// Merge joins causes into one sorted set without repeats.
func Merge(sets ...[]Cause) []Cause {
	all := slices.Concat(sets...)
	slices.SortFunc(all, compare)
	return slices.Compact(all)
}
