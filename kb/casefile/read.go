package casefile

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"time"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Reader reads cases against a vocabulary. Safe for concurrent use.
type Reader struct {
	Vocabulary *vocab.Vocabulary
	Zone       *time.Location // of times written without one
	// Known tells whether a truth names a material or group; nil accepts any.
	Known func(id string) (nearest string, ok bool)
	// Derive adds the quantities that follow from the stone; nil adds none.
	Derive func(c *Case)
	// Spoils is the need of a test that the case's stone does not meet and without which no reading of the test counts;
	// empty when there is none. Nil spoils none.
	Spoils func(c *Case, test string) string
	// SpoilsBy tells what Spoils looks at for a test; not ok for a test none of whose readings a stone spoils. It must
	// be there where Spoils is.
	SpoilsBy func(test string) (looks []Look, ok bool)

	// Reckon is the standard uncertainty that follows from the stone for a value read without one, by a test and
	// perhaps an instrument; 0 when nothing follows. Nil reckons none.
	Reckon func(c *Case, y *vocab.Yield, in *vocab.Instrument, value float64) float64
	// ByValue tells whether what Reckon comes to for a yield follows from the value alone, whatever the stone is. It must
	// be there where Reckon is.
	ByValue func(y *vocab.Yield) bool

	example bool // a rule's, which may come from a layer that knows nothing of the house
}

// Look is a look at a property, by the name that conditions have for it. Of a number it makes a difference on which side
// of the cuts it lies, or on one; nothing else does, unless it is looked at closely.
type Look struct {
	Name    string
	Cuts    []float64
	Closely bool
}

var caseKeys = []string{"format", "case", "claim", "taken", "desk", "by", "stone", "stake", "readings", "correlations",
	"truth", "recorded", "note"}

// Read reads one case. Everything that is wrong goes to out, and the result is nil then.
func (rd *Reader) Read(n *syntax.Node, out *diag.List) *Case {
	return rd.checked(n, caseKeys, out, func(c *Case) {
		if id := n.Get("case"); c.ID == "" && (id.IsNull() || id.Kind == syntax.Scalar && id.Text == "") {
			out.Errorf(diag.MissingKey, n.Span, "the case has no \"case\": its number or name")
		}
	})
}

// ReadExample reads a case that a rule gives as an example: it needs no name, and says under "is" what comes of it.
// What a house's own instrument is good for does not touch it, unless it names the instrument.
func (rd *Reader) ReadExample(n *syntax.Node, out *diag.List) *Case {
	own := *rd
	own.example = true
	return own.checked(n, append([]string{"is"}, caseKeys...), out, func(*Case) {})
}

// checked reads a case to its end, that everything wrong be told at once; nil when there is an error.
func (rd *Reader) checked(n *syntax.Node, keys []string, out *diag.List, more func(*Case)) *Case {
	before, first := out.Errors(), len(*out)
	if n.Keys(out, keys...); n == nil || n.Kind != syntax.Map {
		return nil
	}
	for _, e := range n.Entries {
		if e.Key.Text != "cases" && e.Key.Text != "stones" {
			continue
		}
		for i := first; i < len(*out); i++ {
			if d := &(*out)[i]; d.Span == e.Key.Span {
				d.Detail, d.Nearest = oneStone, ""
			}
		}
	}
	c := rd.read(n, out)
	more(c)
	if out.Errors() > before {
		return nil
	}
	return c
}

func (rd *Reader) read(n *syntax.Node, out *diag.List) *Case {
	c := &Case{Span: n.Span}
	n.Format(Format, out)
	c.ID = optionalText(n, "case", out)
	c.ClaimSays = shortText(n, "claim", out)
	c.Claim = vocab.Fold(c.ClaimSays)
	c.Desk = optionalText(n, "desk", out)
	c.By = optionalText(n, "by", out)
	c.Note = optionalText(n, "note", out)
	c.Taken, c.HasTaken = rd.moment(n.Get("taken"), out)
	c.Stake = atLeastZero(n, "stake", out)
	extra := rd.stone(c, n.Get("stone"), out)
	rd.readings(c, n.Get("readings"), extra, out)
	rd.correlations(c, n.Get("correlations"), out)
	rd.truth(c, n, out)
	if rd.Derive != nil {
		rd.Derive(c)
	}
	return c
}

// Format is the only version of a file's shape that is understood.
const Format = 1

func optionalText(n *syntax.Node, key string, out *diag.List) string {
	v := n.Get(key)
	if v == nil || v.IsNull() {
		return ""
	}
	s, _ := v.Str(out)
	return s
}

// MaxText bounds the texts that conditions look into, in bytes.
const MaxText = 500

func shortText(n *syntax.Node, key string, out *diag.List) string {
	s := optionalText(n, key, out)
	if len(s) > MaxText {
		out.Errorf(diag.TooLong, n.Get(key).Span, "%q is %d bytes long; at most %d are allowed", diag.Name(key),
			len(s), MaxText).
			Detail = "A longer text belongs under note."
		return ""
	}
	return s
}

func atLeastZero(of *syntax.Node, key string, out *diag.List) *float64 {
	n := of.Get(key)
	if n.IsNull() {
		return nil
	}
	v, ok := n.Num(out)
	if !ok {
		return nil
	}
	if v < 0 {
		out.Errorf(diag.BadNumber, n.Span, "a %s can't be below zero", diag.Name(key))
		return nil
	}
	return &v
}

// moment reads a date and time, without quotes too; not ok when there is none, or none that can be read.
func (rd *Reader) moment(n *syntax.Node, out *diag.List) (t time.Time, ok bool) {
	switch {
	case n.IsNull():
	case n.Kind != syntax.Scalar:
		n.Str(out)
	default:
		if t, ok = ParseTime(n.Text, rd.Zone); !ok {
			badTime(n, out)
		}
	}
	return t, ok
}

// dayForm is how a day is written, whether or not there is such a day.
var dayForm = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)

func badTime(n *syntax.Node, out *diag.List) {
	if day, _, _ := strings.Cut(n.Text, "T"); dayForm.MatchString(day) {
		if _, err := time.Parse(time.DateOnly, day); err != nil {
			out.Errorf(diag.BadDate, n.Span, "there is no day %s", day)
			return
		}
	}
	out.Errorf(diag.BadDate, n.Span, "%q is no date and time: write 2031-04-12, or 2031-04-12T10:20:00+02:00", n.Text)
}

// ParseTime reads RFC 3339, or a date or local time in a zone.
func ParseTime(text string, zone *time.Location) (time.Time, bool) {
	if zone == nil {
		zone = time.UTC
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, true
	}
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04", time.DateOnly} {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}

var stoneKeys = [...]string{"mounted", "warm", "wet", "coated", "carat", "length_mm", "width_mm", "depth_mm", "cut",
	"setting", vocab.Colour, vocab.Transparency}

// stone reads the stone, and returns the readings that are accepted under it.
// oneStone is how several stones are written.
const oneStone = "A case is of one stone. Several cases stand in a file one below the other, each begun by a line of " +
	"three dashes: ---"

func (rd *Reader) stone(c *Case, n *syntax.Node, out *diag.List) map[string]*syntax.Node {
	extra := map[string]*syntax.Node{}
	if n.IsNull() {
		return extra
	}
	before := len(*out)
	if n.Keys(out, stoneKeys[:]...); n.Kind != syntax.Map {
		if n.Kind == syntax.List && len(*out) > before {
			(*out)[before].Detail = oneStone
		}
		return extra
	}
	for i := before; i < len(*out); i++ {
		d := &(*out)[i]
		if e := slices.IndexFunc(n.Entries, func(e syntax.Entry) bool { return e.Key.Span == d.Span }); e >= 0 {
			d.Nearest = cmp.Or(vocab.OfTheStone[vocab.Fold(n.Entries[e].Key.Text)], d.Nearest)
		}
	}
	s := &c.Stone
	for i, to := range []**bool{&s.Mounted, &s.Warm, &s.Wet, &s.Coated} {
		if v := n.Get(stoneKeys[i]); !v.IsNull() {
			if b, ok := v.Bool(out); ok {
				*to = &b
			}
		}
	}
	for i, to := range []**float64{&s.Carat, &s.Length, &s.Width, &s.Depth} {
		v := n.Get(stoneKeys[4+i])
		if v.IsNull() {
			continue
		}
		if x, ok := v.Num(out); ok {
			if !possible(i, x) {
				impossible(i, x, v, out)
				continue
			}
			*to = &x
		}
	}
	s.Cut, s.Setting = vocab.Fold(shortText(n, "cut", out)), vocab.Fold(shortText(n, "setting", out))
	for _, key := range []string{vocab.Colour, vocab.Transparency} {
		if v := n.Get(key); !v.IsNull() {
			extra[key] = v
		}
	}
	return extra
}

func (rd *Reader) readings(c *Case, n *syntax.Node, extra map[string]*syntax.Node, out *diag.List) {
	given, last := map[string]*syntax.Node{}, (*vocab.Observable)(nil)
	if n != nil && !n.IsNull() {
		entries, ok := n.Map(out)
		if !ok {
			return
		}
		for _, e := range entries {
			o := rd.Vocabulary.Called(e.Key.Text)
			if o == nil {
				d := out.Errorf(diag.UnknownName, e.Key.Span, "no test gives an observable %q", e.Key.Text)
				d.Nearest, d.Lacks = diag.NearestOrAbbreviated(e.Key.Text, rd.Vocabulary.Names()), e.Key.Text
				if says := rd.Vocabulary.TestGives(e.Key.Text, d.Nearest == ""); says != "" {
					d.Detail, d.Nearest = says, ""
				} else if d.Nearest == "" {
					d.Write = "What can be read is listed by: whystone procedure --observables"
				}
				if last != nil && e.Value.IsNull() {
					if _, ok := last.Outcome(vocab.Fold(e.Key.Text)); ok {
						d.Detail, d.Nearest = "", ""
						d.Write = "Several features of " + last.Name + " stand in brackets, separated by commas."
					}
				}
				continue
			}
			if first := given[o.Name]; first != nil {
				out.Errorf(diag.GivenTwice, e.Key.Span, "%s is given by two names; write repeats as a list of one",
					diag.Name(o.Name)).
					Related = []diag.Related{{Span: first.Span, Says: "given here too"}}
				continue
			}
			given[o.Name], last = e.Value, o
			c.Readings = append(c.Readings, rd.observable(c, o, e.Value, out)...)
		}
	}
	for _, key := range []string{vocab.Colour, vocab.Transparency} {
		v := extra[key]
		if v == nil {
			continue
		}
		o := rd.Vocabulary.Observable(key)
		if o == nil {
			out.Errorf(diag.UnknownName, v.Span, "no test gives %q", diag.Name(key)).Lacks = key
			continue
		}
		got := rd.observable(c, o, v, out)
		if given[key] == nil {
			c.Readings = append(c.Readings, got...)
			continue
		}
		if !sameReadings(got, of(c.Readings, o)) {
			d := out.Errorf(diag.GivenTwice, v.Span, "%s is given under stone and under readings, and unlike",
				diag.Name(key))
			d.Related = append(d.Related, diag.Related{Span: given[key].Span, Says: "given here too"})
		}
	}
	if len(c.Readings) > MaxReadings {
		out.Errorf(diag.TooLong, n.Span, "the case has %d readings; at most %d are judged", len(c.Readings),
			MaxReadings).
			Detail = "Readings of one place are combined; readings of several places count one by one."
	}
	slices.SortStableFunc(c.Readings, compareReadings)
}

func of(all []*Reading, o *vocab.Observable) []*Reading {
	return slices.DeleteFunc(slices.Clone(all), func(r *Reading) bool { return r.Observable != o })
}

func sameReadings(a, b []*Reading) bool {
	return slices.EqualFunc(a, b, func(x, y *Reading) bool {
		return x.Form == y.Form && x.Outcome == y.Outcome && x.Where == y.Where
	})
}

func (rd *Reader) correlations(c *Case, n *syntax.Node, out *diag.List) {
	if n == nil || n.IsNull() {
		return
	}
	items, _ := n.List(out)
	for _, item := range items {
		if !item.Keys(out, "of", "r") {
			continue
		}
		of, r := item.Get("of"), item.Get("r")
		if of == nil || r == nil {
			out.Errorf(diag.MissingKey, item.Span, "a correlation says \"of\" which two readings it is, and \"r\"")
			continue
		}
		names, _ := of.List(out)
		v, ok := r.Num(out)
		if ok && (v < -1 || v > 1) {
			out.Errorf(diag.BadNumber, r.Span, "a correlation coefficient lies from -1 to 1")
			continue
		}
		if len(names) != 2 {
			out.Errorf(diag.WrongKind, of.Span, "a correlation is of two readings")
			continue
		}
		a, b := rd.quantity(c, names[0], out), rd.quantity(c, names[1], out)
		if a != nil && b != nil && ok {
			if a == b {
				out.Errorf(diag.WrongKind, of.Span, "a correlation is of two different readings")
				continue
			}
			if slices.ContainsFunc(c.Correlations, func(k Correlation) bool {
				return k.A == a && k.B == b || k.A == b && k.B == a
			}) {
				out.Errorf(diag.GivenTwice, of.Span, "the correlation of %s and %s is given twice", diag.Name(a.Name),
					diag.Name(b.Name))
				continue
			}
			c.Correlations = append(c.Correlations, Correlation{A: a, B: b, R: v})
		}
	}
}

func (rd *Reader) quantity(c *Case, n *syntax.Node, out *diag.List) *vocab.Observable {
	name, ok := n.Str(out)
	if !ok {
		return nil
	}
	o := rd.Vocabulary.Called(name)
	switch {
	case o == nil:
		d := out.Errorf(diag.UnknownName, n.Span, "no test gives an observable %q", name)
		d.Nearest, d.Lacks = diag.Nearest(name, rd.Vocabulary.Names()), name
		return nil
	case o.Kind != vocab.Quantity:
		out.Errorf(diag.UnlikeTypes, n.Span, "%s is a %s; only quantities are correlated", diag.Name(name), o.Kind.Noun())
		return nil
	case len(of(c.Readings, o)) == 0:
		out.Errorf(diag.UnknownName, n.Span, "%s is not among the readings", diag.Name(name))
		return nil
	}
	return o
}

func (rd *Reader) truth(c *Case, n *syntax.Node, out *diag.List) {
	if t := n.Get("truth"); t != nil && !t.IsNull() {
		if id, ok := t.Str(out); ok {
			c.Truth = id
			if rd.Known != nil {
				if near, known := rd.Known(id); !known {
					out.Errorf(diag.UnknownMaterial, t.Span, "no material or group is called %q", id).Nearest = near
				}
			}
		}
	}
	r := n.Get("recorded")
	if r == nil || r.IsNull() || !r.Keys(out, recordedKeys[:]...) {
		return
	}
	rec := &c.Recorded
	rec.Verdict, rec.Claim = optionalText(r, "verdict", out), optionalText(r, "claim", out)
	rec.Named, rec.Ruleset = optionalText(r, "named", out), optionalText(r, "ruleset", out)
	oneOf(r.Get("verdict"), rec.Verdict, []string{"contradictory", "identified", "inconclusive", "narrowed"}, out)
	oneOf(r.Get("claim"), rec.Claim, []string{"falls", "open", "stands"}, out)
	if m := r.Get("method"); m != nil && !m.IsNull() {
		rec.Method, _ = m.Int(out)
	}
	if ns := r.Get("nodes"); ns != nil && !ns.IsNull() {
		items, _ := ns.List(out)
		for _, it := range items {
			if s, ok := it.Str(out); ok {
				rec.Nodes = append(rec.Nodes, s)
			}
		}
	}
}

func oneOf(n *syntax.Node, word string, known []string, out *diag.List) {
	if n != nil && word != "" && !slices.Contains(known, word) {
		d := out.Errorf(diag.UnknownName, n.Span, "%q is not one of %s", word, strings.Join(known, ", "))
		d.Nearest = diag.Nearest(word, known)
	}
}
