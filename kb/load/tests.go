package load

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

var testKeys = []string{"test", "name", "also", "was", "procedure", "worth", "needs", "minutes", "harm", "by_eye",
	"cautions", "source", "yields", "replaces", "because", "amends", "note"}

// vocabBuilder gathers what the test sheets declare.
type vocabBuilder struct {
	tests       []*kb.Test
	sheets      map[string]*sheet
	observables []*vocab.Observable
	observable  map[string]*vocab.Observable
	at          map[string]*syntax.Node // where an observable is declared
	yields      []*vocab.Yield
	formulas    map[*vocab.Yield]*kb.Formula
}

func (b *vocabBuilder) testIDs() []string { return sortedKeys(b.sheets) }

// buildTests reads all test sheets, sorted by id: first what declares observables, then what only yields them.
func buildTests(sheets []*sheet) *vocabBuilder {
	b := &vocabBuilder{sheets: map[string]*sheet{}, observable: map[string]*vocab.Observable{},
		at: map[string]*syntax.Node{}, formulas: map[*vocab.Yield]*kb.Formula{}}
	for _, s := range sheets {
		b.add(s)
	}
	for _, declare := range []bool{true, false} {
		for _, t := range b.tests {
			s := b.sheets[t.ID]
			for i, e := range s.entries(s.Get("yields")) {
				given := len(t.Yields)
				switch {
				case e.Value.Kind != syntax.Map:
					if declare { // once, of the two times round
						e.Value.Map(s.out)
					}
				case !declares(e.Value) && !declare:
					b.further(s, t, e)
				case declares(e.Value) && declare:
					b.declare(s, t, e)
				}
				if len(t.Yields) > given {
					t.Yields[given].Place = i
				}
			}
		}
	}
	for _, t := range b.tests {
		slices.SortFunc(t.Yields, func(x, y *vocab.Yield) int {
			return cmp.Compare(x.Observable.Name,
				y.Observable.Name)
		})
	}
	return b
}

// nearFamilies warns of a family that one observable alone is of, and whose name is a slip of one that others are of.
func (b *vocabBuilder) nearFamilies(layers []string) {
	of := map[string][]*vocab.Observable{}
	for _, o := range b.observables {
		of[o.Family] = append(of[o.Family], o)
	}
	for _, family := range sortedKeys(of) {
		if len(of[family]) > 1 {
			continue
		}
		o := of[family][0]
		near := diag.Slip(family, slices.DeleteFunc(sortedKeys(of), func(f string) bool {
			return f == family ||
				len(of[f]) < len(of[family])
		}))
		if near == "" {
			continue
		}
		s := b.sheets[o.Test]
		other := b.sheets[of[near][0].Test]
		higher := slices.Index(layers, other.layer) - slices.Index(layers, s.layer)
		if len(of[near]) == 1 && (higher > 0 || higher == 0 && near > family) {
			continue // of two that stand alone it is told of one, in the higher layer
		}
		at := s.Get("yields").Get(o.Name).Get("family")
		d := s.out.Warnf(diag.NearFamily, at.Span, "%s begins a family %q, and there is one called %q", o.Name, family,
			near)
		d.Nearest = near
		d.Detail = "Evidence of a family of its own counts as if it rested on other physics. If it does, give it a " +
			"name that is not a slip of the other."
	}
}

// declares tells whether an entry declares its observable: it has a family, if perhaps under a misspelt key.
func declares(n *syntax.Node) bool {
	return !n.Get("family").IsNull() || n.Misspells("family", declareKeys...)
}

func (b *vocabBuilder) add(s *sheet) {
	n := s.Node
	n.Keys(s.out, testKeys...)
	t := &kb.Test{ID: s.id, Name: s.needText(n, "name"), Procedure: s.text(n, "procedure"), Worth: s.text(n, "worth"),
		Minutes: s.atMost(n, "minutes", 1, 1e5), Cautions: s.texts(n, "cautions"), Also: s.texts(n, "also"),
		Was: s.texts(n, "was"), Harm: oneOf(s, n, "harm", kb.NoHarm, kb.NoHarm, kb.Contact, kb.Marks, kb.Destroys),
		Source: s.needText(n, "source"), ByEye: s.flag(n, "by_eye"), Place: s.place}
	s.has(n, "harm", "a test says what harm it does: none, contact, marks or destroys")
	b.tests = append(b.tests, t)
	b.sheets[t.ID] = s
}

var (
	declareKeys = []string{"label", "also", "kind", "family", "property", "unit", "span", "uncertainty", "otherwise",
		"figures", "resolution", "blunder", "limits", "choices", "features", "derived", "neighbour", "within", "strengths",
		"note"}
	furtherKeys = []string{"label", "uncertainty", "otherwise", "figures", "blunder", "limits", "note"}
)

func (b *vocabBuilder) declare(s *sheet, t *kb.Test, e syntax.Entry) {
	name, n := e.Key.Text, e.Value
	switch {
	case !nameShape.MatchString(name):
		s.errorf(diag.BadID, e.Key, "an observable's name is lower-case words joined by \"_\"")
	case condition.Reserved(name):
		s.errorf(diag.BadID, e.Key, "%q is a word of the rule language", name)
	case b.observable[name] != nil:
		d := s.errorf(diag.DuplicateID, e.Key, "the observable %q is declared twice", name)
		d.Detail = "One test declares it, with its family; another gives its own uncertainty and blunder rate only."
		d.Related = append(d.Related, diag.Related{Span: b.at[name].Span, Says: "declared here first"})
		return
	}
	n.Keys(s.out, declareKeys...)
	o := &vocab.Observable{Name: name, Test: t.ID, Family: s.needText(n, "family"), Unit: s.text(n, "unit")}
	o.Also = b.also(s, n)
	y := &vocab.Yield{Test: t.ID, Observable: o, Label: s.text(n, "label"), Blunder: s.blunder(n, 0)}
	s.has(n, "blunder", "%s has no blunder rate", name)
	switch oneOf(s, n, "kind", "", "quantity", "choice", "features") {
	case "quantity":
		o.Kind = vocab.Quantity
		b.quantity(s, n, o, y)
	case "choice":
		o.Kind = vocab.Choice
		b.choices(s, n, o, y)
	case "features":
		o.Kind = vocab.Features
		b.features(s, n, o)
	default:
		s.has(n, "kind", "%s says no kind: quantity, choice or features", name)
		return
	}
	b.observable[name], b.at[name] = o, e.Key
	b.observables = append(b.observables, o)
	b.yields = append(b.yields, y)
	t.Yields = append(t.Yields, y)
}

// also are the other names by which a case may give an observable. None is that of another.
func (b *vocabBuilder) also(s *sheet, n *syntax.Node) (out []string) {
	for _, it := range s.textNodes(n, "also") {
		name := vocab.Fold(it.Text)
		other := b.observable[strings.NewReplacer(" ", "_", "-", "_").Replace(name)]
		for _, known := range b.observable {
			if slices.Contains(known.Also, name) {
				other = known
			}
		}
		if other != nil {
			s.errorf(diag.DuplicateName, it, "%q is a name of %s already", it.Text, other.Name)
			continue
		}
		out = append(out, name)
	}
	return sorted(out)
}

// further is what another test than the declaring one gives of an observable.
func (b *vocabBuilder) further(s *sheet, t *kb.Test, e syntax.Entry) {
	o := b.observable[e.Key.Text]
	if o == nil {
		d := s.errorf(diag.UnknownName, e.Key, "no test declares an observable %q", e.Key.Text)
		d.Detail = "An entry that declares one says its family."
		d.Nearest, d.Lacks = diag.Nearest(e.Key.Text, b.names()), e.Key.Text
		return
	}
	n := e.Value
	n.Keys(s.out, furtherKeys...)
	own := b.yieldOf(o)
	y := &vocab.Yield{Test: t.ID, Observable: o, Label: cmp.Or(s.text(n, "label"), own.Label),
		Blunder: s.blunder(n, own.Blunder), Limits: own.Limits}
	b.uncertainty(s, n, y, own)
	s.coarse(n, o, y.Uncertainty)
	if o.Kind == vocab.Choice && n.Get("blunder").IsNull() {
		y.Outcome = own.Outcome
	}
	if l := n.Get("limits"); !l.IsNull() {
		y.Limits, _ = s.pair(l, "limits")
	} else if o.Kind == vocab.Quantity {
		y.Limits = o.Span
	}
	b.yields = append(b.yields, y)
	t.Yields = append(t.Yields, y)
}

func (b *vocabBuilder) yieldOf(o *vocab.Observable) *vocab.Yield {
	for _, y := range b.yields {
		if y.Observable == o && y.Test == o.Test {
			return y
		}
	}
	return &vocab.Yield{}
}

func (b *vocabBuilder) names() []string {
	return english.Each(b.observables, func(o *vocab.Observable) string { return o.Name })
}

func (s *sheet) blunder(n *syntax.Node, otherwise float64) float64 {
	return s.within(n, "blunder", otherwise, 0, 1)
}

func (b *vocabBuilder) quantity(s *sheet, n *syntax.Node, o *vocab.Observable, y *vocab.Yield) {
	o.Property = cmp.Or(s.text(n, "property"), o.Name)
	for _, key := range []string{"span", "uncertainty", "unit"} {
		s.has(n, key, "the quantity %s has no %q", o.Name, key)
	}
	if v := n.Get("span"); !v.IsNull() {
		o.Span, _ = s.pair(v, "span")
		if o.Span[0] == o.Span[1] {
			s.errorf(diag.BadNumber, v, "the span has no width")
		}
	}
	b.uncertainty(s, n, y, &vocab.Yield{})
	s.coarse(n, o, y.Uncertainty)
	o.Resolution = s.within(n, "resolution", y.Uncertainty, 0, math.Inf(1))
	y.Limits = o.Span
	if v := n.Get("limits"); !v.IsNull() {
		y.Limits, _ = s.pair(v, "limits")
	}
	s.unwanted(n, o, "choices", "features", "neighbour", "within", "strengths")
}

// coarsest is the part of a span from which on an uncertainty is probably a slip: hardly two stones could be told
// apart.
const coarsest = 0.25

// coarse warns of an uncertainty that takes up much of all that can be read.
func (s *sheet) coarse(n *syntax.Node, o *vocab.Observable, u float64) {
	at := n.Get("uncertainty")
	width := o.Span[1] - o.Span[0]
	if at.IsNull() || isText(at) || o.Kind != vocab.Quantity || width <= 0 || u <= width*coarsest {
		return
	}
	s.out.Warnf(diag.BadPolicy, at.Span,
		"an uncertainty of %g for %s, which lies from %g to %g, leaves hardly anything told", u, o.Name, o.Span[0],
		o.Span[1]).
		Detail = "It is a standard uncertainty in the unit of " + o.Name +
		", of one reading. Is it in another unit, or a percentage?"
}

func (s *sheet) unwanted(n *syntax.Node, o *vocab.Observable, keys ...string) {
	for _, k := range keys {
		if v := n.Get(k); v != nil {
			s.errorf(diag.UnlikeTypes, v, "%s is a %s, and has no %q", o.Name, o.Kind.Noun(), k)
		}
	}
}

func (b *vocabBuilder) choices(s *sheet, n *syntax.Node, o *vocab.Observable, y *vocab.Yield) {
	s.unwanted(n, o, "property", "span", "uncertainty", "otherwise", "figures", "resolution", "limits", "features",
		"derived", "within", "strengths")
	entries := s.outcomes(n, o, "choices", func(v *syntax.Node, out *vocab.Outcome) {
		v.Keys(s.out, "also", "blunder", "covers", "neighbours", "note")
		out.Also, out.Blunder = s.texts(v, "also"), s.blunder(v, y.Blunder)
	})
	for i := range o.Outcomes {
		c := &o.Outcomes[i]
		if c.Blunder == 0 {
			c.Blunder = y.Blunder
		}
		y.Outcome = append(y.Outcome, c.Blunder)
		v := entries[c.Name]
		if v == nil || v.Kind != syntax.Map {
			continue
		}
		for _, it := range s.textNodes(v, "covers") {
			w := strings.TrimSpace(it.Text)
			j, ok := o.Outcome(w)
			if !ok || j == i {
				s.errorf(diag.UnknownChoice, it, "%s has no other outcome %q to cover", o.Name,
					w).Nearest = diag.Nearest(w, o.Words())
				continue
			}
			c.Covers |= 1 << j
		}
	}
	for i := range o.Outcomes {
		for j := range o.Outcomes {
			if o.Outcomes[i].Covers>>j&1 == 1 && o.Outcomes[j].Covers != 0 {
				s.errorf(diag.BadPolicy, entries[o.Outcomes[i].Name],
					"a choice that covers others can't be covered itself")
			}
		}
	}
	s.neighbours(n, o, entries)
}

func (b *vocabBuilder) features(s *sheet, n *syntax.Node, o *vocab.Observable) {
	s.unwanted(n, o, "property", "span", "uncertainty", "otherwise", "figures", "resolution", "limits", "choices",
		"derived")
	within := s.within(n, "within", 0, 0, math.Inf(1))
	entries := s.outcomes(n, o, "features", func(v *syntax.Node, out *vocab.Outcome) {
		v.Keys(s.out, "also", "background", "neighbours", "at", "within", "note")
		out.Also, out.Background = s.texts(v, "also"), s.within(v, "background", 0.05, 0, 1)
		s.liesAt(v, out, within)
	})
	s.neighbours(n, o, entries)
	s.strengths(n, o)
	if !n.Get("within").IsNull() && !o.Placed() {
		s.errorf(diag.BadPolicy, n.Get("within"), "%s says how far off a reading may lie, and no feature says where it "+
			"lies (\"at\")", o.Name)
	}
}

// outcomes reads a list of words, or a map of words to what there is to say of them; sorted by word.
func (s *sheet) outcomes(n *syntax.Node, o *vocab.Observable, key string,
	more func(*syntax.Node, *vocab.Outcome)) map[string]*syntax.Node {
	at := map[string]*syntax.Node{}
	v := n.Get(key)
	if !s.has(n, key, "%s lists no %s", o.Name, key) {
		return at
	}
	add := func(word, value *syntax.Node) {
		text, ok := word.Str(s.out)
		if !ok {
			return
		}
		if !wordsShape.MatchString(text) {
			s.errorf(diag.BadID, word, "choices and features are lower case, with single spaces")
		}
		out := vocab.Outcome{Name: text, Place: len(o.Outcomes)}
		if value.Get("also") != nil {
			for _, w := range value.Get("also").Items {
				if w.Kind == syntax.Scalar && !wordsShape.MatchString(w.Text) {
					s.errorf(diag.BadID, w, "choices and features are lower case, with single spaces")
				}
			}
		}
		if value != nil && !value.IsNull() {
			more(value, &out)
		} else if o.Kind == vocab.Features {
			out.Background = 0.05
		}
		o.Outcomes = append(o.Outcomes, out)
		at[text] = cmp.Or(value, word)
	}
	if v.Kind == syntax.List {
		for _, it := range v.Items {
			add(it, nil)
		}
	} else {
		entries, _ := v.Map(s.out)
		for _, e := range entries {
			add(e.Key, e.Value)
		}
	}
	slices.SortFunc(o.Outcomes, func(a, b vocab.Outcome) int { return cmp.Compare(a.Name, b.Name) })
	seen := map[string]bool{}
	for _, w := range o.Spellings() {
		if seen[w] {
			s.errorf(diag.DuplicateID, v, "%s has the word %q twice", o.Name, w)
		}
		seen[w] = true
	}
	if len(o.Outcomes) < 2 && o.Kind == vocab.Choice {
		s.errorf(diag.BadPolicy, v, "a choice has at least two outcomes")
	}
	return at
}

// buildNeeds compiles what a test asks of the stone. A need that spoils readings may name the stone only, as it is looked at
// before anything is read; any other may name what is read as well, as the form of a cut.
func buildNeeds(b *vocabBuilder, scope *condition.Scope) {
	for _, t := range b.tests {
		s := b.sheets[t.ID]
		for _, it := range s.list(s.Get("needs")) {
			if !it.Keys(s.out, "if", "says", "spoils") {
				continue
			}
			need := kb.Need{Says: s.needText(it, "says"), Spoils: s.flag(it, "spoils")}
			if need.Spoils && it.Get("if").IsNull() {
				s.errorf(diag.MissingKey, it,
					"a need that spoils readings says \"if\": how it is known that the stone does not meet it")
			}
			if c := it.Get("if"); c != nil {
				switch need.If = s.condition(c, scope); {
				case need.If == nil:
				case need.Spoils:
					s.aboutStone(c, need.If, scope)
				default:
					s.aboutReadings(c, need.If, scope)
				}
			}
			t.Needs = append(t.Needs, need)
		}
	}
}
