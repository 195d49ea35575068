package load

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // a house's zone must be known on a machine without a zone database

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

var policyKeys = []string{"time_zone", "currency", "wording", "unlisted", "misfit", "rival", "further_weight",
	"missed_turn", "frequency", "strength", "scale", "seen_at_counter", "priors", "required", "claims", "instruments",
	"costs", "gate", "every_sheet_says", "review"}

var instrumentKeys = []string{"instrument", "name", "test", "observable", "uncertainty", "limits", "blunder", "note"}

// policySheet is the merged policy as it is read.
type policySheet struct {
	*sheet
	*kb.Policy
}

// buildPolicy reads the merged policy. Every key that has no default must be there.
func buildPolicy(s *sheet, v *vocabBuilder) *kb.Policy {
	n := s.Node
	n.Keys(s.out, policyKeys...)
	p := &kb.Policy{
		Currency:      s.text(n, "currency"),
		Wording:       oneOf(s, n, "wording", "iso-18323", "iso-18323", "us-16-cfr-23"),
		Unlisted:      s.within(n, "unlisted", 0.003, 0, 1),
		Misfit:        s.within(n, "misfit", 4, 0, 100),
		Rival:         s.within(n, "rival", 10, 1, 1e6),
		FurtherWeight: s.atMost(n, "further_weight", 0.25, 1),
		MissedTurn:    s.within(n, "missed_turn", 0.1, 0, 1),
		Frequency:     numbers(s, n.Get("frequency"), 0, 1, kb.FrequencyWords...),
		Strength:      numbers[string](s, n.Get("strength"), 1, 1e12),
		SeenAtCounter: numbers[string](s, n.Get("seen_at_counter"), math.SmallestNonzeroFloat64, 1e12),
		Priors:        numbers[string](s, n.Get("priors"), math.SmallestNonzeroFloat64, 1e12),
		Costs:         numbers[string](s, n.Get("costs"), 0, 1e12),
		Gate:          s.texts(n, "gate"),

		ReviewRequired: oneOf(s, n, "review", "optional", "optional", "required") == "required",
	}
	p.GateSpans = english.Each(s.quiet().textNodes(n, "gate"), func(says *syntax.Node) diag.Span { return says.Span })
	read := policySheet{s, p}
	read.zone()
	read.scale(n.Get("scale"))
	read.requirements(n.Get("required"))
	read.claims(n.Get("claims"))
	read.instruments(n.Get("instruments"), v)
	read.everySheetSays(v)
	for _, key := range []string{"frequency", "strength", "scale", "seen_at_counter", "required"} {
		s.has(n, key, "the policy says nothing of %q", key)
	}
	if p.Frequency[kb.Never] > 0 {
		s.errorf(diag.BadPolicy, n.Get("frequency").Get("never"),
			"never is zero: it is for what physics forbids, and excludes")
	}
	for _, w := range kb.FrequencyWords {
		if _, ok := p.Frequency[w]; !ok && !n.Get("frequency").IsNull() {
			s.errorf(diag.MissingKey, n.Get("frequency"), "the word %q has no number", w)
		}
	}
	return p
}

// numbers reads a map of words to numbers.
func numbers[K ~string](s *sheet, n *syntax.Node, low, high float64, known ...K) map[K]float64 {
	out := map[K]float64{}
	for _, e := range s.entries(n) {
		x, ok := e.Value.Num(s.out)
		switch {
		case !ok:
		case known != nil && !slices.Contains(known, K(e.Key.Text)):
			s.errorf(diag.UnknownKey, e.Key, "%q is not one of %s", e.Key.Text, strings.Join(texts(known), ", ")).
				Nearest = diag.Nearest(e.Key.Text, texts(known))
		case x < low || x > high:
			s.errorf(diag.BadNumber, e.Value, "%q must lie from %g to %g", e.Key.Text, low, high)
		default:
			out[K(e.Key.Text)] = x
		}
	}
	return out
}

func (p policySheet) zone() {
	n := p.Node
	name := cmp.Or(p.text(n, "time_zone"), "UTC")
	z, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		p.errorf(diag.BadPolicy, n.Get("time_zone"), "%q is no IANA time zone",
			name).Detail = "Write it like Europe/London."
		z = time.UTC
	}
	p.Zone = z
	if c := n.Get("currency"); !c.IsNull() && (len(p.Currency) != 3 || strings.ToUpper(p.Currency) != p.Currency) {
		p.errorf(diag.BadPolicy, c, "a currency is three capital letters (ISO 4217)")
	}
}

func (p policySheet) scale(n *syntax.Node) {
	items := p.list(n)
	for _, it := range items {
		if !it.Keys(p.out, "from", "says") {
			continue
		}
		p.Scale = append(p.Scale, kb.Band{From: p.number(it, "from", 1), Says: p.needText(it, "says")})
	}
	for i := 1; i < len(p.Scale); i++ {
		if p.Scale[i].From <= p.Scale[i-1].From {
			p.errorf(diag.BadPolicy, items[i], "the bands of the scale must rise")
		}
	}
	if len(p.Scale) > 0 && p.Scale[0].From > 1 {
		p.errorf(diag.BadPolicy, n, "the scale begins at 1")
	}
}

func (p policySheet) requirements(n *syntax.Node) {
	items := p.list(n)
	for _, it := range items {
		if it.Keys(p.out, "stake", "share", "doubt_limit") {
			p.Required = append(p.Required, kb.Requirement{Stake: p.number(it, "stake", 0),
				Share: p.within(it, "share", 0.95, 0.5, 1), DoubtLimit: p.within(it, "doubt_limit", 0.15, 0, 1)})
		}
	}
	for i := 1; i < len(p.Required); i++ {
		a, b := p.Required[i-1], p.Required[i]
		if b.Stake <= a.Stake || b.Share < a.Share || b.DoubtLimit > a.DoubtLimit {
			p.errorf(diag.BadPolicy, items[i], "from line to line the stake rises, and no less may be required")
		}
	}
	if !n.IsNull() && (len(p.Required) == 0 || p.Required[0].Stake != 0) {
		p.errorf(diag.BadPolicy, n, "the table of what is required begins at a stake of 0")
	}
}

func (p policySheet) claims(n *syntax.Node) {
	for _, e := range p.entries(n) {
		if !e.Value.Keys(p.out, "node", "origin", "colour") {
			continue
		}
		c := kb.ClaimEntry{Word: vocab.Fold(e.Key.Text), Node: p.needText(e.Value, "node"),
			Origin: oneOf(p.sheet, e.Value, "origin", "", kb.Origins...), Span: e.Key.Span}
		c.Colours = english.Each(p.textNodes(e.Value, "colour"), textOf)
		p.Claims = append(p.Claims, c)
	}
	slices.SortFunc(p.Claims, func(a, b kb.ClaimEntry) int { return cmp.Compare(a.Word, b.Word) })
}

// everySheetSays reads what proofreading is to ask every material for.
func (p policySheet) everySheetSays(v *vocabBuilder) {
	known := v.names()
	for _, o := range v.observables {
		if o.Kind == vocab.Quantity && !slices.Contains(known, o.Property) {
			known = append(known, o.Property)
		}
	}
	for _, n := range p.textNodes(p.Node, "every_sheet_says") {
		if !slices.Contains(known, n.Text) {
			d := p.errorf(diag.UnknownName, n, "no test gives an observable %q, or measures such a property", n.Text)
			d.Nearest, d.Lacks = diag.NearestOrAbbreviated(n.Text, known), n.Text
			continue
		}
		p.EverySheetSays = append(p.EverySheetSays, n.Text)
	}
}

func (p policySheet) instruments(n *syntax.Node, v *vocabBuilder) {
	items := p.list(n)
	for _, it := range items {
		var figures []string
		if test := it.Get("test"); test != nil {
			figures = v.figuresOf(test.Text)
		}
		if !it.Keys(p.out, slices.Concat(instrumentKeys, figures)...) {
			continue
		}
		in := &vocab.Instrument{ID: p.needText(it, "instrument"), Test: p.needText(it, "test"),
			Figures: p.instrumentFigures(it, figures), Uncertainty: p.within(it, "uncertainty", 0, 0, math.Inf(1)),
			Blunder: p.within(it, "blunder", 0, 0, 1)}
		if l := it.Get("limits"); !l.IsNull() {
			if pair, ok := p.pair(l, "limits"); ok {
				in.Limits = &pair
			}
		}
		if in.ID != "" && !idShape.MatchString(in.ID) {
			p.errorf(diag.BadID, it.Get("instrument"), "an id is lower-case letters, digits and hyphens")
		}
		if in.Test != "" && v.sheets[in.Test] == nil {
			p.unknown(diag.UnknownTest, it.Get("test"), in.Test, v.testIDs(), "no test is called %q", in.Test)
			continue
		}
		in.Observable = p.text(it, "observable")
		if !p.instrumentGives(it, in, v) {
			continue
		}
		if slices.ContainsFunc(p.Instruments, func(o *vocab.Instrument) bool { return o.ID == in.ID }) {
			p.errorf(diag.DuplicateID, it.Get("instrument"), "the instrument %q is there twice", in.ID)
			continue
		}
		p.Instruments = append(p.Instruments, in)
	}
}

// instrumentGives sees to it that an instrument's figures are of something that its test gives. Limits are in one unit,
// so that one observable must be told apart where there are several quantities.
func (p policySheet) instrumentGives(it *syntax.Node, in *vocab.Instrument, v *vocabBuilder) bool {
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
	for _, y := range v.yields {
		if o := y.Observable; y.Test == in.Test && (in.Observable == o.Name || in.Observable == "" &&
			len(quantities) == 1) {
			p.coarse(it, o, in.Uncertainty)
		}
	}
	for _, key := range []string{"uncertainty", "limits"} {
		if x := it.Get(key); x != nil && len(gives) > 0 && len(quantities) == 0 {
			p.errorf(diag.NotAllowed, x, "%s measures no quantity, so that it has no %s", in.Test, key).
				Detail = "It gives " + strings.Join(gives, ", ") + ". How often it is wrong is its blunder rate."
			return false
		}
	}
	switch {
	case in.Observable != "" && !slices.Contains(gives, in.Observable):
		p.unknown(diag.UnknownName, it.Get("observable"), in.Observable, gives, "the test %s does not give %q", in.Test,
			in.Observable)
		return false
	case in.Observable == "" && in.Limits != nil && len(quantities) > 1:
		p.errorf(diag.MissingKey, it, "%s gives several quantities: say of which \"observable\" the limits are",
			in.Test).
			Detail = "They are: " + strings.Join(quantities, ", ") + "."
		return false
	}
	return true
}
