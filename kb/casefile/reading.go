package casefile

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/quantity"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

var readingKeys = []string{"value", "uncertainty", "between", "above", "below", "choice", "features", "looked_for",
	"inconclusive", "test", "instrument", "where", "by", "at", "note"}

// MaxRepeats bounds how often one observable is read in a case: repeats are compared with each other.
const MaxRepeats = 100

// MaxReadings bounds the readings of a case, repeats in one place combined: the judging compares them with each other.
const MaxReadings = 300

// observable reads what is given for one observable: one reading, or repeats, which are combined place by place. The
// stone of the case was read before.
func (rd *Reader) observable(c *Case, o *vocab.Observable, n *syntax.Node, out *diag.List) []*Reading {
	items := []*syntax.Node{n}
	noMap := func(it *syntax.Node) bool { return it.Kind != syntax.Map }
	if n.Kind == syntax.List && len(n.Items) > 0 && !slices.ContainsFunc(n.Items, noMap) {
		items = n.Items
	}
	if len(items) > MaxRepeats {
		out.Errorf(diag.TooLong, n.Span, "%s is read %d times; at most %d are combined", diag.Name(o.Name),
			len(items), MaxRepeats)
		return nil
	}
	var given []*Reading
	for _, item := range items {
		before := len(*out)
		r := rd.reading(c, o, item, out)
		if r == nil && len(*out) > before && item.CommaHint() == "" {
			if how := howWritten(o, item); how != "" {
				d := &(*out)[before]
				d.Detail, d.Write = "", how
			}
		}
		if r != nil {
			if rd.Spoils != nil && r.Usable() {
				r.Spoilt = rd.Spoils(c, r.Tests[0])
			}
			given = append(given, r)
		}
	}
	return Combine(given)
}

// reading reads one reading: a bare number, word or list, or a map that says more.
func (rd *Reader) reading(c *Case, o *vocab.Observable, n *syntax.Node, out *diag.List) *Reading {
	r := &Reading{Observable: o, Repeats: 1, Span: n.Span}
	y := rd.Vocabulary.Yield(o.Test, o)
	if n.Kind != syntax.Map {
		if !rd.over(r, y, n) && !rd.bare(r, n, out) {
			return nil
		}
		return rd.settle(c, r, y, 0, n, out)
	}
	if !n.Keys(out, readingKeys...) {
		return nil
	}
	before := out.Errors()
	r.Where, r.By = vocab.Fold(optionalText(n, "where", out)), optionalText(n, "by", out)
	if at := n.Get("at"); !at.IsNull() {
		rd.moment(at, out)
		r.At = at.Text // as written
	}
	r.Note = optionalText(n, "note", out)
	y = rd.source(r, n, y, out)
	u := rd.uncertainty(o, n.Get("uncertainty"), out)
	if y == nil || !rd.form(r, n, out) || out.Errors() > before {
		return nil
	}
	return rd.settle(c, r, y, u, n, out)
}

// source finds the test and instrument that gave the reading.
func (rd *Reader) source(r *Reading, n *syntax.Node, y *vocab.Yield, out *diag.List) *vocab.Yield {
	v := rd.Vocabulary
	if in := n.Get("instrument"); in != nil {
		name, ok := in.Str(out)
		if !ok {
			return nil
		}
		inst := v.Instrument(name)
		if inst == nil {
			ids := english.Each(v.Instruments, func(i *vocab.Instrument) string { return i.ID })
			out.Errorf(diag.UnknownName, in.Span, "the house has no instrument %q", name).
				Nearest = diag.Nearest(name, ids)
			return nil
		}
		if y = v.Yield(inst.Test, r.Observable); y == nil {
			out.Errorf(diag.UnlikeTypes, in.Span, "%s is for %s, which does not give %s", name, diag.Test(inst.Test),
				diag.Name(r.Observable.Name))
			return nil
		}
		r.Instrument = name
	}
	t := n.Get("test")
	if t == nil {
		return y
	}
	name, ok := t.Str(out)
	if !ok {
		return nil
	}
	if !slices.Contains(v.Tests, name) {
		d := out.Errorf(diag.UnknownTest, t.Span, "no test is called %q", name)
		d.Nearest, d.Lacks = diag.NearestOrAbbreviated(name, v.Tests), name
		return nil
	}
	given := v.Yield(name, r.Observable)
	switch {
	case given == nil:
		out.Errorf(diag.UnlikeTypes, t.Span, "the test %s does not give %s", diag.Test(name),
			diag.Name(r.Observable.Name))
		return nil
	case r.Instrument != "" && given != y:
		out.Errorf(diag.UnlikeValues, t.Span, "the instrument %s is not for the test %s", r.Instrument, name)
		return nil
	}
	return given
}

func (rd *Reader) uncertainty(o *vocab.Observable, n *syntax.Node, out *diag.List) float64 {
	if n == nil {
		return 0
	}
	u, ok := n.Num(out)
	switch {
	case !ok:
		return 0
	case o.Kind != vocab.Quantity:
		out.Errorf(diag.UnlikeTypes, n.Span, "%s is a %s and has no uncertainty", diag.Name(o.Name), o.Kind.Noun())
	case u <= 0:
		out.Errorf(diag.BadNumber, n.Span, "a standard uncertainty must be above zero")
	case u > o.Span[1]-o.Span[0]:
		tooWide(o, u, n, out)
	}
	return u
}

// form reads the one key that says what was observed.
func (rd *Reader) form(r *Reading, n *syntax.Node, out *diag.List) bool {
	found := slices.DeleteFunc(
		[]string{"value", "between", "above", "below", "choice", "features", "inconclusive"},
		func(key string) bool { return n.Get(key) == nil })
	if len(found) == 0 && n.Get("looked_for") != nil {
		found = []string{"features"}
	}
	two := len(found) == 2 && found[0] == "above" && found[1] == "below"
	if len(found) != 1 && !two {
		d := out.Errorf(diag.MissingKey, n.Span,
			"a reading says one of value, between, above, below, choice, features, inconclusive")
		if len(found) > 1 {
			d.Summary = "a reading says " + strings.Join(found, " and ") + ": only one of them can be"
			d.Code = diag.GivenTwice
		}
		return false
	}
	if l := n.Get("looked_for"); l != nil && found[0] != "features" &&
		(r.Observable.Kind != vocab.Features || found[0] != "value") {
		out.Errorf(diag.UnlikeTypes, l.Span, "\"looked_for\" goes with features, not with %q", found[0])
		return false
	}
	if found[0] == "inconclusive" {
		r.Form = Inconclusive
		var ok bool
		r.Reason, ok = n.Get("inconclusive").Str(out)
		return ok
	}
	o := r.Observable
	want := map[string]vocab.Kind{"choice": vocab.Choice, "features": vocab.Features}
	kind, fixed := want[found[0]]
	value := n.Get(found[0])
	if found[0] == "value" && o.Kind != vocab.Quantity {
		kind, fixed = o.Kind, true // value: slight is understood
	}
	if !fixed {
		kind = vocab.Quantity
	}
	if kind != o.Kind {
		out.Errorf(diag.UnlikeTypes, n.Span, "%s is a %s; %q is not for it", diag.Name(o.Name), o.Kind.Noun(), found[0])
		return false
	}
	switch {
	case o.Kind == vocab.Choice:
		return rd.choice(r, value, out)
	case o.Kind == vocab.Features:
		return rd.features(r, value, n.Get("looked_for"), out)
	case found[0] == "value":
		return rd.number(r, value, out)
	}
	return rd.bounds(r, n, found, out)
}

func (rd *Reader) bounds(r *Reading, n *syntax.Node, found []string, out *diag.List) bool {
	r.Form, r.Lo, r.Hi = Interval, math.Inf(-1), math.Inf(1)
	for _, key := range found {
		v := n.Get(key)
		switch key {
		case "between":
			lo, hi, ok := v.Pair(out, "between takes two numbers: [low, high]")
			if !ok {
				return false
			}
			r.Lo, r.Hi = lo, hi
		case "above":
			x, ok := v.Num(out)
			if !ok {
				return false
			}
			r.Lo = quantity.Above(x).Lo
		case "below":
			x, ok := v.Num(out)
			if !ok {
				return false
			}
			r.Hi = quantity.Below(x).Hi
		}
	}
	if r.Lo >= r.Hi {
		out.Errorf(diag.BadNumber, n.Span, "the lower bound must lie below the upper one")
		return false
	}
	return true
}

// overLimit is how people write of a scale that shows nothing to its upper end.
var overLimit = []string{"over the limit", "over the limits", "over limit", "otl"}

// over reads such words, of a test that can't read all that there is.
func (rd *Reader) over(r *Reading, y *vocab.Yield, n *syntax.Node) bool {
	if r.Observable.Kind != vocab.Quantity || n.Kind != syntax.Scalar ||
		!slices.Contains(overLimit, vocab.Fold(n.Text)) {
		return false
	}
	limit := y.Limits[1]
	if in := rd.Vocabulary.HouseInstrument(y.Test); in != nil && in.Limits != nil && !rd.example {
		limit = in.Limits[1]
	}
	if limit >= r.Observable.Span[1] {
		return false
	}
	r.Form, r.Lo, r.Hi = Interval, quantity.Above(limit).Lo, math.Inf(1)
	return true
}

// bare reads a number, a word, or a list that stands by itself.
func (rd *Reader) bare(r *Reading, n *syntax.Node, out *diag.List) bool {
	switch r.Observable.Kind {
	case vocab.Choice:
		return rd.choice(r, n, out)
	case vocab.Features:
		return rd.features(r, n, nil, out)
	default:
		return rd.number(r, n, out)
	}
}

func (rd *Reader) number(r *Reading, n *syntax.Node, out *diag.List) bool {
	if n.Kind == syntax.List {
		return rd.rays(r, n, out)
	}
	if hint := boundHint(n.Text); hint != "" && n.Kind == syntax.Scalar {
		out.Errorf(diag.WrongKind, n.Span, "a bound is written as a mapping, and not as %q", n.Text).Write = hint
		return false
	}
	v, ok := n.Num(out)
	r.Form, r.Value = Value, v
	return ok
}

// boundHint is how a bound is written that was typed with a sign: ">1.81".
func boundHint(text string) string {
	text = strings.TrimSpace(text)
	for sign, key := range map[string]string{">": "above", "<": "below"} {
		if rest, ok := strings.CutPrefix(text, sign); ok {
			return "Write {" + key + ": " + strings.TrimSpace(strings.TrimPrefix(rest, "=")) + "}."
		}
	}
	return ""
}

// rays reads the two extreme rays of a full turn on the refractometer.
func (rd *Reader) rays(r *Reading, n *syntax.Node, out *diag.List) bool {
	if r.Observable.Name != vocab.RefractiveIndex {
		d := out.Errorf(diag.WrongKind, n.Span, "%s takes one number", diag.Name(r.Observable.Name))
		if d.Detail = n.CommaHint(); d.Detail == "" {
			d.Write = "Repeats are a list of maps: [{value: 3.52}, {value: 3.51}]. Two bounds are {between: [low, " +
				"high]}."
		}
		return false
	}
	lo, hi, ok := n.Pair(out, "a full turn gives two extreme rays: [1.544, 1.553]")
	if !ok {
		return false
	}
	if hi < lo {
		out.Errorf(diag.BadNumber, n.Span, "the lower ray comes first")
		return false
	}
	r.Form, r.Value, r.High = Pair, lo, hi
	return true
}

func (rd *Reader) choice(r *Reading, n *syntax.Node, out *diag.List) bool {
	word, ok := n.Str(out)
	if !ok {
		return false
	}
	r.Form = Choice
	if r.Outcome, ok = r.Observable.Outcome(vocab.Fold(word)); !ok {
		unknownOutcome(r.Observable, word, diag.UnknownChoice, n, out)
	}
	return ok
}

func unknownOutcome(o *vocab.Observable, word string, code diag.Code, n *syntax.Node, out *diag.List) {
	d := out.Errorf(code, n.Span, "%s has no outcome %q", diag.Name(o.Name), word)
	if d.Nearest = cmp.Or(diag.Nearest(word, o.Spellings()), diag.ByWords(word, o.Spellings())); d.Nearest == "" {
		d.Detail = "It has: " + strings.Join(o.Words(), ", ") + "."
	}
}

// settle fills in what the test or the instrument says, and refuses what can't have been read.
func (rd *Reader) settle(c *Case, r *Reading, y *vocab.Yield, u float64, n *syntax.Node, out *diag.List) *Reading {
	outcome := -1
	if r.Form == Choice {
		outcome = r.Outcome
	}
	r.Tests, r.Blunder = []string{y.Test}, y.BlunderOf(outcome)
	noise, own := y.Uncertainty, u > 0
	if rd.Vocabulary.Instrument(r.Instrument) == nil && !rd.example {
		if house := rd.Vocabulary.HouseInstrument(y.Test); house != nil {
			r.Instrument = house.ID
		}
	}
	inst := rd.instrument(r)
	if inst != nil {
		if inst.Uncertainty > 0 {
			noise, own = inst.Uncertainty, true
		}
		if inst.Blunder > 0 {
			r.Blunder = inst.Blunder
		}
	}
	if u > 0 {
		noise = u
	}
	r.U, r.HighU, r.Noise = noise, noise, noise
	if !own && y.Formula != "" && rd.Reckon != nil && (r.Form == Value || r.Form == Pair) {
		rd.reckon(c, r, y, inst)
	}
	if r.Observable.Kind == vocab.Quantity && !withinReach(r, rd.limits(r, y), y.Test, n, out) {
		return nil
	}
	return r
}

// instrument is the one whose own figures count for a reading, or nil.
func (rd *Reader) instrument(r *Reading) *vocab.Instrument {
	inst := rd.Vocabulary.Instrument(r.Instrument)
	if inst != nil && inst.Observable != "" && inst.Observable != r.Observable.Name {
		return nil
	}
	return inst
}

// reckon fills in the uncertainty that follows from the stone, of two rays for each by itself.
func (rd *Reader) reckon(c *Case, r *Reading, y *vocab.Yield, in *vocab.Instrument) {
	of := func(value, otherwise float64) float64 {
		if u := rd.Reckon(c, y, in, value); u > 0 {
			return u
		}
		return otherwise
	}
	r.U = of(r.Value, r.U)
	if r.HighU = r.U; r.Form == Pair {
		r.HighU = of(r.High, r.Noise)
	}
	r.Noise = max(r.U, r.HighU)
}
