package casefile

import (
	"slices"
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
	texts       [2]map[string]claimed
	truths      [2]map[string]string
	recorded    map[string]Recorded
	columns     map[recordedColumns]Recorded
	days        map[string]time.Time
	shared      map[string]string
	spoilers    spoilers
	memory      *Memory
	parts       Parts
}

// mostTexts bounds what is remembered of each kind of text.
const mostTexts = 4096

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
	for _, o := range rd.Vocabulary.Observables {
		s.observables[o.Name] = &Remembered{of: o, values: [2]map[string]*Said{{}, {}}}
	}
	return s
}

// Read reads a record that is a JSON text into a room, which it then holds until it is read into again. It returns nil
// for a record that is to be read the general way: one that stands in another form, and one that is wrong.
func (s *Skimmer) Read(text string, room *Room) *Case {
	if !s.parts.Cut(text) {
		return nil
	}
	return s.ReadParts(&s.parts, room)
}

// ReadParts is Read for a record that is cut into its members already.
func (s *Skimmer) ReadParts(p *Parts, room *Room) *Case {
	room.empty()
	c := &room.Case
	if f := &p.Top[partFormat]; f.Raw != "" && f.Raw != "1" || p.Top[partCorrelations].given() {
		return nil
	}
	var ok bool
	if c.ID, ok = p.Top[partCase].text(); !ok || c.ID == "" {
		return nil
	}
	if !s.about(c, p) || !s.stone(p, room) || !s.readings(p, room) || !s.known(c, p) {
		return nil
	}
	if s.rd.Derive != nil {
		s.rd.Derive(c)
	}
	return c
}

// about reads what a case says beside its stone and readings.
func (s *Skimmer) about(c *Case, p *Parts) bool {
	var ok bool
	if m := &p.Top[partClaim]; m.given() {
		was, ok := s.claim(m)
		if !ok {
			return false
		}
		c.Claim, c.ClaimSays = was.folded, was.says
	}
	if m := &p.Top[partTaken]; m.given() && !s.taken(c, m) {
		return false
	}
	for _, named := range [...]struct {
		part int
		to   *string
	}{{partDesk, &c.Desk}, {partBy, &c.By}} {
		if m := &p.Top[named.part]; m.given() {
			if *named.to, ok = m.text(); !ok {
				return false
			}
			*named.to = s.share(*named.to)
		}
	}
	if m := &p.Top[partNote]; m.given() {
		if c.Note, ok = m.text(); !ok {
			return false
		}
	}
	return true
}

// claim reads a claim, if it can be read.
func (s *Skimmer) claim(m *Member) (is claimed, ok bool) {
	if is, ok = s.texts[m.plain()][m.Raw]; ok {
		return is, true
	}
	var out diag.List
	says := shortText(m.alone(), m.Key, &out)
	if len(out) > 0 {
		return is, false
	}
	is = claimed{strings.Clone(says), vocab.Fold(says)}
	if len(s.texts[0])+len(s.texts[1]) < mostTexts && len(m.Raw) <= longest {
		s.texts[m.plain()][strings.Clone(m.Raw)] = is
	}
	return is, true
}

func (s *Skimmer) taken(c *Case, m *Member) bool {
	text, ok := m.text()
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
func (s *Skimmer) share(text string) string {
	if was, ok := s.shared[text]; ok {
		return was
	}
	text = strings.Clone(text)
	if len(s.shared) < mostTexts && len(text) <= longest {
		s.shared[text] = text
	}
	return text
}

// known reads what is known of a case besides: for QA.
func (s *Skimmer) known(c *Case, p *Parts) bool {
	if m := &p.Top[partTruth]; m.given() {
		was, ok := s.truths[m.plain()][m.Raw]
		if !ok {
			was, ok = learn(s, m, func(c *Case) string { return strings.Clone(c.Truth) })
			if !ok {
				return false
			}
			if len(s.truths[0])+len(s.truths[1]) < mostTexts && len(m.Raw) <= longest {
				s.truths[m.plain()][strings.Clone(m.Raw)] = was
			}
		}
		c.Truth = was
	}
	if m := &p.Top[partRecorded]; m.given() {
		was, ok := s.recorded[m.Raw]
		if !ok {
			if was, ok = learn(s, m, func(c *Case) Recorded { return c.Recorded }); !ok {
				return false
			}
			if len(s.recorded) < mostTexts && len(m.Raw) <= longest {
				s.recorded[strings.Clone(m.Raw)] = was
			}
		}
		c.Recorded = was
	}
	return len(p.Recorded) == 0 || s.recordedIn(c, p.Recorded)
}

// recordedKeys are the keys of what was recorded, recordedColumns a value for each.
var recordedKeys = [...]string{"verdict", "claim", "named", "nodes", "ruleset", "method"}

type recordedColumns [len(recordedKeys)]string

// recordedIn reads what was recorded where each part of it stands in a column.
func (s *Skimmer) recordedIn(c *Case, given []Member) bool {
	var key recordedColumns
	for i := range given {
		at := slices.Index(recordedKeys[:], given[i].Key)
		if at < 0 || key[at] != "" || len(given[i].Raw) > longest {
			return false
		}
		key[at] = given[i].Raw
	}
	was, ok := s.columns[key]
	if !ok {
		of := &syntax.Node{Kind: syntax.Map}
		for i := range given {
			of.Entries = append(of.Entries, syntax.Entry{Key: textNode(given[i].Key), Value: given[i].node()})
		}
		var out diag.List
		var alone Case
		s.rd.truth(&alone, &syntax.Node{Kind: syntax.Map,
			Entries: []syntax.Entry{{Key: textNode(partKeys[partRecorded]), Value: of}}}, &out)
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
func learn[T any](s *Skimmer, m *Member, is func(*Case) T) (T, bool) {
	var out diag.List
	var c Case
	if m.Plain && m.Key != partKeys[partTruth] {
		return is(&c), false
	}
	s.rd.truth(&c, m.alone(), &out)
	return is(&c), len(out) == 0
}

// alone is a tree of nothing but the member, with the member's text copied; its value is nil when it can't be read.
func (m *Member) alone() *syntax.Node {
	return &syntax.Node{Kind: syntax.Map, Entries: []syntax.Entry{{Key: textNode(m.Key), Value: m.node()}}}
}

// node is the member's value as a tree, or one that nobody can read.
func (m *Member) node() *syntax.Node {
	if m.Plain {
		return textNode(strings.Clone(m.Raw))
	}
	var out diag.List
	if n := syntax.ParseJSON(diag.NewSource("", []byte(m.Raw)), &out); n != nil && len(out) == 0 {
		return n
	}
	return &syntax.Node{Kind: syntax.List, Items: []*syntax.Node{{Kind: syntax.List}}}
}

func textNode(text string) *syntax.Node {
	return &syntax.Node{Kind: syntax.Scalar, Style: syntax.JSONString, Text: text}
}
