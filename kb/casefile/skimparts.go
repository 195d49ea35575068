package casefile

import (
	"strings"
	"unicode/utf8"
)

// Member is a member of a record: a key, and the text of its value.
type Member struct {
	Key string
	Raw string // as written; empty when there is none
	// Plain: Raw is the text itself, as a cell of a table has it. Else it is JSON.
	Plain bool
	// Of is what the skimmer remembers of the observable of that name, if whoever cut the record has asked for it. Was is
	// where it keeps what this very value was read as; nil: it is looked up by its text.
	Of  *Remembered
	Was **Said
}

// Parts are the members of a record, each text a part of the record's own.
type Parts struct {
	// those of the case, by place in partKeys; of stone and readings what they hold is below
	Top      [len(partKeys)]Member
	Stone    []Member
	Readings []Member
	Recorded []Member // of a table, which has a column for each
}

// partKeys are the keys of a case.
var partKeys = [...]string{"format", "case", "claim", "taken", "desk", "by", "stone", "stake", "readings",
	"correlations", "truth", "recorded", "note"}

const (
	partFormat = iota
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
)

// Place is where a member stands in a case.
type Place int

// The places of members that stand in an object of the case. Those of the case itself have theirs in partKeys.
const (
	ofStone Place = Place(len(partKeys)) + iota
	OfReadings
	ofRecorded
	nowhere
)

// PlaceOf is the place of a member of the case by its path: its key, or that of an object of the case and its key in
// there.
func PlaceOf(path ...string) Place {
	i := part(path[0])
	switch under := len(path) > 1; {
	case i < 0, under && i != partStone && i != partReadings && i != partRecorded:
		return nowhere
	case under && i == partStone:
		return ofStone
	case under && i == partReadings:
		return OfReadings
	case under:
		return ofRecorded
	case i == partStone || i == partReadings || i == partRecorded:
		return nowhere // each of what they hold has a place of its own
	}
	return Place(i)
}

// Put puts a member in its place, if there is one.
func (p *Parts) Put(at Place, m Member) bool {
	switch at {
	case ofStone:
		p.Stone = append(p.Stone, m)
	case OfReadings:
		p.Readings = append(p.Readings, m)
	case ofRecorded:
		p.Recorded = append(p.Recorded, m)
	case nowhere:
		return false
	default:
		p.Top[at] = m
	}
	return true
}

// part is the place of a key of a case, or -1.
func part(key string) int {
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
	return -1
}

// Empty makes room for another record.
func (p *Parts) Empty() {
	clear(p.Top[:])
	p.Stone, p.Readings, p.Recorded = p.Stone[:0], p.Readings[:0], p.Recorded[:0]
}

// mostSkimmed is how long a record may be that is cut, in bytes. Longer ones may hold more values than are read.
const mostSkimmed = 10_000

// Cut cuts a JSON text into the members of a case. It is false for a text that is no case, or that stands in a form
// which this does not know. What it cuts out as a value is one if it is JSON at all; that is found by who reads it.
func (p *Parts) Cut(text string) bool {
	if len(text) > mostSkimmed {
		return false
	}
	p.Empty()
	o := object{text: text}
	for o.next() {
		i := part(o.key)
		if i < 0 || p.Top[i].Raw != "" {
			return false
		}
		var ok bool
		switch {
		case i == partStone && o.text[o.at] == '{':
			ok = o.within(&p.Stone)
		case i == partReadings && o.text[o.at] == '{':
			ok = o.within(&p.Readings)
		default:
			ok = o.pass() && (i != partStone && i != partReadings || o.value() == "null")
		}
		if !ok {
			return false
		}
		p.Top[i] = Member{Key: o.key, Raw: o.value()}
	}
	return o.done && o.skip() == 0 && o.at == len(text)
}

// within cuts the value at hand, which is an object itself.
func (o *object) within(to *[]Member) bool {
	inner := object{text: o.text, at: o.at}
	for inner.next() {
		if !inner.pass() {
			return false
		}
		*to = append(*to, Member{Key: inner.key, Raw: inner.value()})
	}
	o.at = inner.at
	return inner.done
}

// given tells whether there is a value: null is none.
func (m *Member) given() bool { return m.Raw != "" && (m.Plain || m.Raw != "null") }

// plain is the place of what is remembered of a plain text, or of JSON.
func (m *Member) plain() int {
	if m.Plain {
		return 1
	}
	return 0
}

// text is a text without escapes; not ok for another one, and for what is no text.
func (m *Member) text() (string, bool) {
	s := m.Raw
	if m.Plain {
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
func (m *Member) number() (float64, bool) {
	s, negative := m.Raw, false
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
	key  string
	from int  // where the value of the member at hand begins
	open bool // its brace was passed
	done bool // so was the other one
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
	if o.key, ok = o.string(); !ok || o.skip() != ':' {
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

// string passes over a text without escapes, and gives it.
func (o *object) string() (string, bool) {
	if o.skip() != '"' {
		return "", false
	}
	from := o.at + 1
	n := strings.IndexByte(o.text[from:], '"')
	if n < 0 {
		return "", false
	}
	o.at = from + n + 1
	s := o.text[from : from+n]
	return s, strings.IndexByte(s, '\\') < 0
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
