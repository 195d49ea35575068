package casefile

import (
	"strings"
	"time"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Skimming is reading the cases of an archive fast. An archive says the same things over and over: a desk writes its
// readings in one form, with the words of the vocabulary and numbers of a few figures. A [Skimmer] therefore cuts a
// record into its members without making a tree of it, and looks up what the text of each member was read as before.
// What it has not seen yet it has read by the [Reader], so that the two agree by construction; what follows from the
// stone besides, or stands in a form that it does not know, it leaves to the Reader with each case, and a record in
// which anything is unusual or wrong altogether.
//
// What readings were read as is remembered in a [Memory], which skimmers share, so that each value is read once. It is
// bounded in bytes, what else is remembered in number. A reading that is remembered bears a number, by which others can
// remember what follows from it in their turn.

// Skimmer reads one record after another. One goroutine uses it at a time.
type Skimmer struct {
	rd          *Reader
	asks        asking
	observables map[string]*Remembered
	ordered     []*Remembered // as the vocabulary has them
	starts      []uint64      // of their names
	texts       [2]map[string]claimed
	truths      [2]map[string]string
	recorded    map[string]Recorded
	columns     map[recordedColumns]Recorded
	days        map[string]time.Time
	shared      map[string]string
	spoilers    spoilers
	memory      *Memory
	record
}

// record is what is known so far of the record at hand.
type record struct {
	room  *Room
	given uint64 // bits, by Place
	last  int    // which of the ordered observables was given last
	found []found
	cells [len(recordedKeys)]Member // of what was recorded, by a table that has a column for each
}

// mostTexts bounds what is remembered of each kind of text.
const mostTexts = 4096

// mostSkimmed is how long a record may be that is cut, in bytes. Longer ones may hold more values than are read.
const mostSkimmed = 10_000

// longest is how long a text may be that is remembered, in bytes: longer ones hardly come again.
const longest = 1024

// claimed is a claim as written, and folded.
type claimed struct{ says, folded string }

// NewSkimmer makes one that shares a memory with others whose readers are of the same ruleset.
func NewSkimmer(rd *Reader, memory *Memory) *Skimmer {
	s := &Skimmer{rd: rd, observables: map[string]*Remembered{}, recorded: map[string]Recorded{},
		columns: map[recordedColumns]Recorded{}, days: map[string]time.Time{}, shared: map[string]string{},
		memory: memory}
	for i := range s.texts {
		s.texts[i], s.truths[i] = map[string]claimed{}, map[string]string{}
	}
	s.asks.of(rd)
	s.spoilers.of(rd)
	for i, o := range rd.Vocabulary.Observables {
		r := &Remembered{of: o, place: i, values: [2]map[string]*Said{{}, {}}, numbers: map[uint64]*Reading{},
			names: quotedNames(o)}
		s.observables[o.Name], s.ordered, s.starts = r, append(s.ordered, r), append(s.starts, start(o.Name))
	}
	return s
}

// Read reads a record that is a JSON text into a room, which it then holds until it is read into again. It returns nil
// for a record that is to be read the general way: one that stands in another form, and one that is wrong.
func (s *Skimmer) Read(text string, room *Room) *Case {
	if len(text) > mostSkimmed {
		return nil
	}
	s.Begin(room)
	o := object{text: text}
	for o.next() {
		at, ok := part(o.key), false
		switch whole := at == partStone || at == partReadings; {
		case whole && s.given>>at&1 == 1:
		case whole && text[o.at] == '{':
			s.given |= 1 << at
			ok = s.within(&o, at)
		case whole:
			s.given |= 1 << at
			ok = o.pass() && o.value() == "null"
		default:
			ok = o.pass() && s.Put(at, Member{Raw: o.value()})
		}
		if !ok {
			return nil
		}
	}
	if !o.done || o.skip() != 0 || o.at < len(text) {
		return nil
	}
	return s.End()
}

// within reads what the stone or the readings hold, whose object is at hand.
func (s *Skimmer) within(outer *object, of Place) bool {
	o := object{text: outer.text, at: outer.at}
	for o.next() {
		ok := false
		if of == partReadings {
			ok = s.member(&o)
		} else {
			ok = o.pass() && s.Put(placeIn(stoneKeys[:], o.key, ofStone), Member{Raw: o.value()})
		}
		if !ok {
			return false
		}
	}
	outer.at = o.at
	return o.done
}

// Begin begins a record that is given value by value, and is read into a room. Whatever is false or nil from then on:
// the record is to be read the general way.
func (s *Skimmer) Begin(room *Room) {
	room.empty()
	s.record = record{room: room, found: s.found[:0], last: -1}
}

// Put takes in a value that is no reading.
func (s *Skimmer) Put(at Place, v Member) (ok bool) {
	if at >= OfReadings || s.given>>at&1 == 1 {
		return false
	}
	s.given |= 1 << at
	if at == partFormat {
		return v.Raw == "1"
	}
	if !v.given() {
		return true
	}
	c := &s.room.Case
	switch at {
	case partCase:
		c.ID, ok = v.text()
	case partClaim:
		var is claimed
		is, ok = s.claim(v, "claim")
		c.Claim, c.ClaimSays = is.folded, is.says
	case partTaken:
		ok = s.taken(c, v)
	case partDesk:
		c.Desk, ok = s.share(v)
	case partBy:
		c.By, ok = s.share(v)
	case partStake:
		c.Stake, ok = s.stake(v)
	case partTruth:
		c.Truth, ok = s.truth(v)
	case partRecorded:
		c.Recorded, ok = s.recordedAs(v)
	case partNote:
		c.Note, ok = v.text()
	case partCorrelations:
		return false
	default:
		if at < ofRecorded {
			return s.ofStone(int(at-ofStone), v)
		}
		s.cells[at-ofRecorded], ok = v, len(v.Raw) <= longest
	}
	return ok
}

// End is the case of a record of which all values were given.
func (s *Skimmer) End() *Case {
	c := &s.room.Case
	if c.ID == "" || !s.settle() {
		return nil
	}
	if s.given>>ofRecorded != 0 && !s.recordedIn(c) {
		return nil
	}
	if s.rd.Derive != nil {
		s.rd.Derive(c)
	}
	return c
}

// claim reads a claim, or another short text of a key, if it can be read.
func (s *Skimmer) claim(v Member, key string) (is claimed, ok bool) {
	if is, ok = s.texts[v.plain()][v.Raw]; ok {
		return is, true
	}
	var out diag.List
	says := shortText(v.alone(key), key, &out)
	if len(out) > 0 {
		return is, false
	}
	is = claimed{strings.Clone(says), vocab.Fold(says)}
	if len(s.texts[0])+len(s.texts[1]) < mostTexts && len(v.Raw) <= longest {
		s.texts[v.plain()][strings.Clone(v.Raw)] = is
	}
	return is, true
}

func (s *Skimmer) taken(c *Case, v Member) bool {
	text, ok := v.text()
	if !ok {
		return false
	}
	if len(text) > len(time.DateOnly) {
		c.Taken, c.HasTaken = ParseTime(text, s.rd.Zone)
		return c.HasTaken
	}
	if c.Taken, c.HasTaken = s.days[text]; c.HasTaken {
		return true
	}
	if c.Taken, c.HasTaken = ParseTime(text, s.rd.Zone); c.HasTaken && len(s.days) < mostTexts {
		s.days[strings.Clone(text)] = c.Taken
	}
	return c.HasTaken
}

// share gives one text for all that are alike, so that none keeps the records in memory that it stands in.
func (s *Skimmer) share(v Member) (string, bool) {
	text, ok := v.text()
	if was, known := s.shared[text]; known {
		return was, ok
	}
	text = strings.Clone(text)
	if len(s.shared) < mostTexts && len(text) <= longest {
		s.shared[text] = text
	}
	return text, ok
}

// truth reads what a case is known to be: for QA.
func (s *Skimmer) truth(v Member) (string, bool) {
	was, ok := s.truths[v.plain()][v.Raw]
	if !ok {
		var c *Case
		if c, ok = s.learn(v, partTruth); !ok {
			return "", false
		}
		was = strings.Clone(c.Truth)
		if len(s.truths[0])+len(s.truths[1]) < mostTexts && len(v.Raw) <= longest {
			s.truths[v.plain()][strings.Clone(v.Raw)] = was
		}
	}
	return was, true
}

// recordedAs reads what was recorded.
func (s *Skimmer) recordedAs(v Member) (Recorded, bool) {
	was, ok := s.recorded[v.Raw]
	if !ok {
		var c *Case
		if c, ok = s.learn(v, partRecorded); !ok {
			return was, false
		}
		was = c.Recorded
		if len(s.recorded) < mostTexts && len(v.Raw) <= longest {
			s.recorded[strings.Clone(v.Raw)] = was
		}
	}
	return was, ok
}

// recordedKeys are the keys of what was recorded, recordedColumns a value for each.
var recordedKeys = [...]string{"verdict", "claim", "named", "nodes", "ruleset", "method"}

type recordedColumns [len(recordedKeys)]string

// recordedIn reads what was recorded where each part of it stands in a column.
func (s *Skimmer) recordedIn(c *Case) bool {
	var key recordedColumns
	for i, v := range s.cells {
		key[i] = v.Raw
	}
	was, ok := s.columns[key]
	if !ok {
		of := &syntax.Node{Kind: syntax.Map}
		for i, v := range s.cells {
			if v.given() {
				of.Entries = append(of.Entries, syntax.Entry{Key: textNode(recordedKeys[i]), Value: v.node()})
			}
		}
		var out diag.List
		var alone Case
		s.rd.truth(&alone, &syntax.Node{Kind: syntax.Map,
			Entries: []syntax.Entry{{Key: textNode(caseKeys[partRecorded]), Value: of}}}, &out)
		if was = alone.Recorded; len(out) > 0 {
			return false
		}
		if len(s.columns) < mostTexts {
			for i := range key {
				key[i] = strings.Clone(key[i])
			}
			s.columns[key] = was
		}
	}
	c.Recorded = was
	return true
}

// learn has the Reader read a truth, or what was recorded.
func (s *Skimmer) learn(v Member, at Place) (*Case, bool) {
	var out diag.List
	c := &Case{}
	s.rd.truth(c, v.alone(caseKeys[at]), &out)
	return c, len(out) == 0
}

// alone is a tree of nothing but the value under a key, with its text copied; its value is nil when it can't be read.
func (v Member) alone(key string) *syntax.Node {
	return &syntax.Node{Kind: syntax.Map, Entries: []syntax.Entry{{Key: textNode(key), Value: v.node()}}}
}

// node is the value as a tree, or one that nobody can read.
func (v Member) node() *syntax.Node {
	if v.Plain {
		return textNode(strings.Clone(v.Raw))
	}
	var out diag.List
	if n := syntax.ParseJSON(diag.NewSource("", []byte(v.Raw)), &out); n != nil && len(out) == 0 {
		return n
	}
	return &syntax.Node{Kind: syntax.List, Items: []*syntax.Node{{Kind: syntax.List}}}
}

func textNode(text string) *syntax.Node {
	return &syntax.Node{Kind: syntax.Scalar, Style: syntax.JSONString, Text: text}
}
