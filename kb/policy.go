package kb

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // a house's zone must be known on a machine without a zone database

	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/vocab"
)

// Policy is what a house decides: how sure it wants to be, what it sees at its counter, its instruments.
type Policy struct {
	Zone          *time.Location
	Currency      string // ISO 4217
	Wording       string // iso-18323 or us-16-cfr-23
	Unlisted      float64
	Misfit        float64 // standard uncertainties beyond which a reading excludes
	Rival         float64 // how many times less likely a rival must be
	FurtherWeight float64 // of what a family already said
	MissedTurn    float64 // how often a full turn misses the extreme rays
	Frequency     map[string]float64
	Strength      map[string]float64
	Scale         []Band // by rising From
	SeenAtCounter map[string]float64
	Priors        map[string]float64
	Required      []Requirement // by rising Stake
	Claims        []ClaimEntry  // sorted by word
	Instruments   []*vocab.Instrument
	Costs         map[string]float64
	Gate          []string
	// EverySheetSays lists the observables and properties that proofreading asks every material for.
	EverySheetSays []string
}

// Band is a step of the verbal scale of support.
type Band struct {
	From float64
	Says string
}

// Requirement is how sure the house wants to be from a stake on.
type Requirement struct{ Stake, Share, DoubtLimit float64 }

// ClaimEntry is what a word of the trade claims.
type ClaimEntry struct {
	Word, Node, Origin string
	Colours            []string
	Span               diag.Span

	node    *doc.Node
	colours []*doc.Node
}

// FrequencyWords are the words for how often an outcome is seen, from the most frequent.
var FrequencyWords = []string{"always", "usually", "often", "sometimes", "rarely", "never"}

// Origins are the places a stone can come from.
var Origins = []string{"natural", "laboratory-grown", "imitation", "assembled"}

var policyKeys = []string{"time_zone", "currency", "wording", "unlisted", "misfit", "rival", "further_weight", "missed_turn",
	"frequency", "strength", "scale", "seen_at_counter", "priors", "required", "claims", "instruments", "costs", "gate",
	"every_sheet_says"}

var instrumentKeys = []string{"instrument", "name", "test", "observable", "uncertainty", "limits", "blunder", "note"}

// RequiredFor is the requirement at a stake.
func (p *Policy) RequiredFor(stake float64) Requirement {
	out := p.Required[0]
	for _, r := range p.Required {
		if stake >= r.Stake {
			out = r
		}
	}
	return out
}

// Words is the verbal scale's word for a likelihood ratio of at least 1.
func (p *Policy) Words(ratio float64) string {
	out := ""
	for _, b := range p.Scale {
		if ratio >= b.From {
			out = b.Says
		}
	}
	return out
}

// buildPolicy reads the merged policy. Every key that has no default must be there.
func buildPolicy(s *sheet, v *vocabBuilder) *Policy {
	n := s.Node
	n.Keys(s.out, policyKeys...)
	p := &Policy{
		Currency:      s.text(n, "currency"),
		Wording:       s.oneOf(n, "wording", "iso-18323", "iso-18323", "us-16-cfr-23"),
		Unlisted:      s.within(n, "unlisted", 0.003, 0, 1),
		Misfit:        s.within(n, "misfit", 4, 0, 100),
		Rival:         s.within(n, "rival", 10, 1, 1e6),
		FurtherWeight: s.atMost(n, "further_weight", 0.25, 1),
		MissedTurn:    s.within(n, "missed_turn", 0.1, 0, 1),
		Frequency:     s.numbers(n.Get("frequency"), 0, 1, FrequencyWords),
		Strength:      s.numbers(n.Get("strength"), 1, 1e12, nil),
		SeenAtCounter: s.numbers(n.Get("seen_at_counter"), math.SmallestNonzeroFloat64, 1e12, nil),
		Priors:        s.numbers(n.Get("priors"), math.SmallestNonzeroFloat64, 1e12, nil),
		Costs:         s.numbers(n.Get("costs"), 0, 1e12, nil),
		Gate:          s.texts(n, "gate"),
	}
	p.zone(s, n)
	p.scale(s, n.Get("scale"))
	p.requirements(s, n.Get("required"))
	p.claims(s, n.Get("claims"))
	p.instruments(s, n.Get("instruments"), v)
	p.everySheetSays(s, v)
	for _, key := range []string{"frequency", "strength", "scale", "seen_at_counter", "required"} {
		if n.Get(key).IsNull() {
			s.errorf(diag.MissingKey, n, "the policy says nothing of %q", key)
		}
	}
	if p.Frequency["never"] > 0 {
		s.errorf(diag.BadPolicy, n.Get("frequency").Get("never"), "never is nought: it is for what physics forbids, and excludes")
	}
	for _, w := range FrequencyWords {
		if _, ok := p.Frequency[w]; !ok && !n.Get("frequency").IsNull() {
			s.errorf(diag.MissingKey, n.Get("frequency"), "the word %q has no number", w)
		}
	}
	return p
}

// numbers reads a map of words to numbers.
func (s *sheet) numbers(n *doc.Node, low, high float64, known []string) map[string]float64 {
	out := map[string]float64{}
	if n.IsNull() {
		return out
	}
	entries, _ := n.Map(s.out)
	for _, e := range entries {
		x, ok := e.Value.Num(s.out)
		switch {
		case !ok:
		case known != nil && !slices.Contains(known, e.Key.Text):
			s.errorf(diag.UnknownKey, e.Key, "%q is not one of %s", e.Key.Text, strings.Join(known, ", ")).Nearest = diag.Nearest(e.Key.Text, known)
		case x < low || x > high:
			s.errorf(diag.BadNumber, e.Value, "%q must lie from %g to %g", e.Key.Text, low, high)
		default:
			out[e.Key.Text] = x
		}
	}
	return out
}

func (p *Policy) zone(s *sheet, n *doc.Node) {
	name := cmp.Or(s.text(n, "time_zone"), "UTC")
	z, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		s.errorf(diag.BadPolicy, n.Get("time_zone"), "%q is no IANA time zone", name).Detail = "Write it like Europe/London."
		z = time.UTC
	}
	p.Zone = z
	if c := n.Get("currency"); !c.IsNull() && (len(p.Currency) != 3 || strings.ToUpper(p.Currency) != p.Currency) {
		s.errorf(diag.BadPolicy, c, "a currency is three capital letters (ISO 4217)")
	}
}

func (p *Policy) scale(s *sheet, n *doc.Node) {
	if n.IsNull() {
		return
	}
	items, _ := n.List(s.out)
	for _, it := range items {
		if !it.Keys(s.out, "from", "says") {
			continue
		}
		p.Scale = append(p.Scale, Band{From: s.number(it, "from", 1), Says: s.needText(it, "says")})
	}
	for i := 1; i < len(p.Scale); i++ {
		if p.Scale[i].From <= p.Scale[i-1].From {
			s.errorf(diag.BadPolicy, items[i], "the bands of the scale must rise")
		}
	}
	if len(p.Scale) > 0 && p.Scale[0].From > 1 {
		s.errorf(diag.BadPolicy, n, "the scale begins at 1")
	}
}

func (p *Policy) requirements(s *sheet, n *doc.Node) {
	if n.IsNull() {
		return
	}
	items, _ := n.List(s.out)
	for _, it := range items {
		if it.Keys(s.out, "stake", "share", "doubt_limit") {
			p.Required = append(p.Required, Requirement{Stake: s.number(it, "stake", 0),
				Share: s.within(it, "share", 0.95, 0.5, 1), DoubtLimit: s.within(it, "doubt_limit", 0.15, 0, 1)})
		}
	}
	for i := 1; i < len(p.Required); i++ {
		a, b := p.Required[i-1], p.Required[i]
		if b.Stake <= a.Stake || b.Share < a.Share || b.DoubtLimit > a.DoubtLimit {
			s.errorf(diag.BadPolicy, items[i], "from line to line the stake rises, and no less may be required")
		}
	}
	if len(p.Required) == 0 || p.Required[0].Stake != 0 {
		s.errorf(diag.BadPolicy, n, "the table of what is required begins at a stake of 0")
	}
}

func (p *Policy) claims(s *sheet, n *doc.Node) {
	if n.IsNull() {
		return
	}
	entries, _ := n.Map(s.out)
	for _, e := range entries {
		if !e.Value.Keys(s.out, "node", "origin", "colour") {
			continue
		}
		c := ClaimEntry{Word: vocab.Fold(e.Key.Text), Node: s.needText(e.Value, "node"), Origin: s.oneOf(e.Value, "origin", "", Origins...),
			Span: e.Key.Span, node: e.Value.Get("node"), colours: s.textNodes(e.Value, "colour")}
		for _, n := range c.colours {
			c.Colours = append(c.Colours, n.Text)
		}
		p.Claims = append(p.Claims, c)
	}
	slices.SortFunc(p.Claims, func(a, b ClaimEntry) int { return cmp.Compare(a.Word, b.Word) })
}

// everySheetSays reads what proofreading is to ask every material for.
func (p *Policy) everySheetSays(s *sheet, v *vocabBuilder) {
	known := v.names()
	for _, o := range v.observables {
		if o.Kind == vocab.Quantity && !slices.Contains(known, o.Property) {
			known = append(known, o.Property)
		}
	}
	for _, n := range s.textNodes(s.Node, "every_sheet_says") {
		if !slices.Contains(known, n.Text) {
			d := s.errorf(diag.UnknownName, n, "no test gives an observable %q, or measures such a property", n.Text)
			d.Nearest = diag.NearestOrAbbreviated(n.Text, known)
			continue
		}
		p.EverySheetSays = append(p.EverySheetSays, n.Text)
	}
}

func (p *Policy) instruments(s *sheet, n *doc.Node, v *vocabBuilder) {
	if n.IsNull() {
		return
	}
	items, _ := n.List(s.out)
	for _, it := range items {
		var figures []string
		if test := it.Get("test"); test != nil {
			figures = v.figuresOf(test.Text)
		}
		if !it.Keys(s.out, slices.Concat(instrumentKeys, figures)...) {
			continue
		}
		in := &vocab.Instrument{ID: s.needText(it, "instrument"), Test: s.needText(it, "test"), Figures: s.instrumentFigures(it, figures),
			Uncertainty: s.within(it, "uncertainty", 0, 0, math.Inf(1)), Blunder: s.within(it, "blunder", 0, 0, 1)}
		if l := it.Get("limits"); !l.IsNull() {
			if pair, ok := s.pair(l, "limits"); ok {
				in.Limits = &pair
			}
		}
		if in.ID != "" && !idShape.MatchString(in.ID) {
			s.errorf(diag.BadID, it.Get("instrument"), "an id is lower-case letters, digits and hyphens")
		}
		if in.Test != "" && v.test(in.Test) == nil {
			s.errorf(diag.UnknownTest, it.Get("test"), "no test is called %q", in.Test).Nearest = diag.Nearest(in.Test, v.testIDs())
			continue
		}
		in.Observable = s.text(it, "observable")
		if !p.instrumentGives(s, it, in, v) {
			continue
		}
		if slices.ContainsFunc(p.Instruments, func(o *vocab.Instrument) bool { return o.ID == in.ID }) {
			s.errorf(diag.DuplicateID, it.Get("instrument"), "the instrument %q is there twice", in.ID)
			continue
		}
		p.Instruments = append(p.Instruments, in)
	}
}

// instrumentGives sees to it that an instrument's figures are of something that its test gives. Limits are in one unit, so
// that one observable must be told apart where there are several quantities.
func (p *Policy) instrumentGives(s *sheet, it *doc.Node, in *vocab.Instrument, v *vocabBuilder) bool {
	var gives, quantities []string
	for _, y := range v.yields {
		if y.Test == in.Test {
			gives = append(gives, y.Observable.Name)
			if y.Observable.Kind == vocab.Quantity {
				quantities = append(quantities, y.Observable.Name)
			}
		}
	}
	slices.Sort(quantities)
	switch {
	case in.Observable != "" && !slices.Contains(gives, in.Observable):
		s.errorf(diag.UnknownName, it.Get("observable"), "the test %s does not give %q", in.Test, in.Observable).Nearest = diag.Nearest(in.Observable, gives)
		return false
	case in.Observable == "" && in.Limits != nil && len(quantities) > 1:
		s.errorf(diag.MissingKey, it, "%s gives several quantities: say of which \"observable\" the limits are", in.Test).
			Detail = "They are: " + strings.Join(quantities, ", ") + "."
		return false
	}
	return true
}
