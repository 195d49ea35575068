package casefile

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Member is a value of a record, its text a part of the record's own.
type Member struct {
	Raw string // as written; empty when there is none
	// Plain: Raw is the text itself, as a cell of a table has it. Else it is JSON.
	Plain bool
}

// Place is where a value stands in a case: by a key of the case, of its stone or of what was recorded; or it is a
// reading.
type Place int

// caseKeys, stoneKeys and recordedKeys have a place each, in this order.
const (
	partFormat Place = iota
	partCase
	partClaim
	partTaken
	partDesk
	partBy
	partStone
	partStake
	partReadings
	partCorrelations
	partTruth
	partRecorded
	partNote
	ofStone
)

// OfReadings is the place of all readings, each of which is of an observable by its name.
const (
	ofRecorded = ofStone + Place(len(stoneKeys))
	OfReadings = ofRecorded + Place(len(recordedKeys))
	nowhere    = OfReadings + 1
)

// PlaceOf is the place of a value by its path: a key of a case, or that of an object of the case and a key in there.
// Each value that a stone, the readings or what was recorded hold has a place of its own; they themselves have none.
func PlaceOf(path ...string) Place {
	at := part(path[0])
	switch under := len(path) > 1; {
	case under && at == partStone:
		return placeIn(stoneKeys[:], path[1], ofStone)
	case under && at == partRecorded:
		return placeIn(recordedKeys[:], path[1], ofRecorded)
	case under && at == partReadings:
		return OfReadings
	case under, at == partStone, at == partReadings, at == partRecorded:
		return nowhere
	}
	return at
}

func placeIn(keys []string, key string, first Place) Place {
	if i := slices.Index(keys, key); i >= 0 {
		return first + Place(i)
	}
	return nowhere
}

// part is the place of a key of a case.
func part(key string) Place {
	switch key {
	case "format":
		return partFormat
	case "case":
		return partCase
	case "claim":
		return partClaim
	case "taken":
		return partTaken
	case "desk":
		return partDesk
	case "by":
		return partBy
	case "stone":
		return partStone
	case "stake":
		return partStake
	case "readings":
		return partReadings
	case "correlations":
		return partCorrelations
	case "truth":
		return partTruth
	case "recorded":
		return partRecorded
	case "note":
		return partNote
	}
	return nowhere
}

// given tells whether there is a value: null is none.
func (v Member) given() bool { return v.Raw != "" && (v.Plain || v.Raw != "null") }

// plain is the place of what is remembered of a plain text, or of JSON.
func (v Member) plain() int {
	if v.Plain {
		return 1
	}
	return 0
}

// text is a text without escapes; not ok for another one, and for what is no text.
func (v Member) text() (string, bool) {
	s := v.Raw
	if v.Plain {
		return s, true // whoever cut it has looked at its letters
	}
	if len(s) < 2 || s[0] != '"' {
		return "", false
	}
	s = s[1 : len(s)-1]
	ascii := true
	for i := range len(s) {
		c := s[i]
		if c < ' ' || c == '\\' {
			return "", false
		}
		ascii = ascii && c < utf8.RuneSelf
	}
	return s, ascii || utf8.ValidString(s)
}

// number is a number in the form that JSON has without an exponent, of so few figures that one division makes it exact;
// not ok for others, which may be numbers all the same.
func (v Member) number() (float64, bool) {
	s, negative := v.Raw, false
	if strings.HasPrefix(s, "-") {
		s, negative = s[1:], true
	}
	if s == "" || len(s) > 16 || s[0] == '0' && len(s) > 1 && s[1] != '.' {
		return 0, false
	}
	figures, point := uint64(0), -1
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			figures = figures*10 + uint64(c-'0')
		case c == '.' && point < 0 && i > 0:
			point = i
		default:
			return 0, false
		}
	}
	x := float64(figures)
	if point >= 0 {
		after := len(s) - 1 - point
		if after == 0 || point == 0 {
			return 0, false
		}
		x /= powers[after]
	}
	if negative {
		x = -x
	}
	return x, figures < 1<<53
}

// powers of ten, all exact.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16}

// object goes through the members of a JSON object.
type object struct {
	text string
	at   int
	key  string // as it is written
	from int    // where the value of the member at hand begins
	open bool   // its brace was passed
	done bool   // so was the other one
}

// next goes to the next member, and stands at its value, which is to be passed over then. It is false after the last,
// and where the text is no object of a known form.
func (o *object) next() bool {
	opens := byte(',')
	if !o.open {
		opens = '{'
	}
	switch c := o.skip(); {
	case c == '}' && o.open:
		o.at++
		o.done = true
		return false
	case c != opens:
		return false
	}
	o.at++
	if !o.open {
		if o.open = true; o.skip() == '}' {
			o.at++
			o.done = true
			return false
		}
	}
	var ok bool
	if o.key, ok = o.word(); !ok || o.skip() != ':' {
		return false
	}
	o.at++
	if o.skip() == 0 {
		return false
	}
	o.from = o.at
	return true
}

// value is the value that was passed over last.
func (o *object) value() string { return o.text[o.from:o.at] }

// skip passes over white space, and gives the byte that stands there, or 0 at the end.
func (o *object) skip() byte {
	for ; o.at < len(o.text); o.at++ {
		if c := o.text[o.at]; c > ' ' || c != ' ' && c != '\t' && c != '\r' && c != '\n' {
			return c
		}
	}
	return 0
}

// word passes over a text as it is written, up to the next quote. Where that is part of it, the text is no word that
// anybody looks for.
func (o *object) word() (string, bool) {
	if o.skip() != '"' {
		return "", false
	}
	from := o.at + 1
	n := strings.IndexByte(o.text[from:], '"')
	if n < 0 {
		return "", false
	}
	o.at = from + n + 1
	return o.text[from : from+n], true
}

// pass passes over a value, of which there is something.
func (o *object) pass() bool {
	text, at, depth := o.text, o.at, 0
	for at < len(text) {
		switch c := text[at]; {
		case c == '"':
			if at = closing(text, at+1); at < 0 {
				return false
			}
		case c == '{' || c == '[':
			depth++
		case depth > 0 && (c == '}' || c == ']'):
			depth--
		case depth == 0 && (c <= ' ' || c == ',' || c == '}' || c == ']'): // the end of a number or a word
			o.at = at
			return at > o.from
		default:
			at++
			continue
		}
		at++
		if depth == 0 {
			o.at = at
			return true
		}
	}
	return false
}

// closing is where the quote stands that closes a text which begins at at, or -1.
func closing(text string, at int) int {
	n := strings.IndexByte(text[at:], '"')
	switch {
	case n < 0:
		return -1
	case n == 0 || text[at+n-1] != '\\':
		return at + n
	}
	for ; at < len(text); at++ {
		switch text[at] {
		case '"':
			return at
		case '\\':
			at++
		}
	}
	return -1
}
