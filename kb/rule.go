package kb

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/truth"
	"whystone/kb/vocab"
)

// Status is how far a rule has come.
type Status string

// A draft is evaluated and shown, but changes nothing; a retired rule is kept, and not evaluated.
const (
	Draft   Status = "draft"
	Active  Status = "active"
	Retired Status = "retired"
)

// Rule is a condition over readings, and what follows from it.
type Rule struct {
	ID, Says    string
	If, Unless  *condition.Condition // nil: always, never
	Excludes    *Selection
	Weights     []Weight // supports, and weakens with Ratio below 1
	SetsAside   []*vocab.Observable
	Establishes []Establishes
	CallsFor    []string // tests
	Forbids     []string
	Cautions    []string
	SendsOn     string
	Family      string // of its evidence; empty when it has none
	BackedBy    string
	Source      string
	Status      Status
	Since       time.Time // zero: always was
	Until       time.Time // zero: has no end
	Author      string
	ReviewedBy  string
	Tags, Was   []string
	Examples    []Example
	Accepts     []Acceptance
	Origin      Origin

	ReplacedBy *Rule // the one of a higher layer that stands in for it on the days on which that is in force, or nil
	Replaced   *Rule // the one of a lower layer that this one has as its ReplacedBy, or nil

	// Basis is what the rule's evidence rests on: the observables that it names, through facts too, with the features of
	// those of them that are sets. Sorted.
	Basis    []Atom
	Observes []*vocab.Observable // those of Basis, once each

	at    *sheet
	table *Table // that it is a row of
	order int    // in Ruleset.Order, or -1
}

// Atom is one thing that evidence rests on: an observable, or one feature of it.
type Atom struct {
	Observable *vocab.Observable
	Feature    int // -1 when the observable is no set of features
}

// Selection is a set of materials.
type Selection struct {
	Leaves []int // indexes, rising
	Where  *condition.Condition
	Says   string // as written: ids, or the condition
}

// Weight is evidence for materials (Ratio above 1) or against them.
type Weight struct {
	Selection
	Ratio    float64
	Strength string // the policy's word, if one was written
}

// Establishes is what a rule gives a fact.
type Establishes struct {
	Fact  *Fact
	Word  int              // of a choice
	Expr  *condition.Arith // of a quantity
	Reads *condition.Condition
}

// Fact is what rules establish for other rules.
type Fact struct {
	Name  string
	Kind  vocab.Kind // Truth, Choice or Quantity
	Words []string   // of a choice, sorted
	Slot  int
	By    []*Rule
}

// Example is a case in small, and what the rule's condition is on it.
type Example struct {
	Case *casefile.Case
	Is   truth.Value
	Span diag.Span
}

var ruleKeys = []string{"rule", "says", "if", "unless", "excludes", "supports", "weakens", "sets_aside", "establishes", "calls_for", "forbids",
	"cautions", "sends_on", "family", "backed_by", "source", "status", "since", "until", "author", "reviewed_by", "tags", "was", "examples",
	"accepts", "replaces", "because", "note"}

// MaxRatio is how strong evidence may be that names no data behind it.
const MaxRatio = 10000

// rules reads the rule sheets. Facts come first, as conditions name them.
type ruleBuilder struct {
	rs    *Ruleset
	facts map[string]*Fact
	past  past
	where *condition.Scope
	mats  []*condition.State // a material's properties, by leaf
}

func (b *ruleBuilder) read(s *sheet) *Rule {
	n := s.Node
	r := &Rule{ID: s.id, Says: s.needText(n, "says"), Cautions: s.texts(n, "cautions"), SendsOn: s.text(n, "sends_on"),
		Family: s.text(n, "family"), BackedBy: s.text(n, "backed_by"), Source: s.text(n, "source"),
		Status: Status(s.oneOf(n, "status", "active", "draft", "active", "retired")), Author: s.text(n, "author"),
		ReviewedBy: s.text(n, "reviewed_by"), Tags: s.texts(n, "tags"), Was: s.texts(n, "was"), Origin: s.origin, at: s, order: -1}
	n.Keys(s.out, ruleKeys...)
	r.Since, r.Until = b.date(s, "since"), b.date(s, "until")
	s.checkDates(r)
	r.Accepts = s.acceptances(b.rs.Policy.Zone)
	r.If, r.Unless = b.condition(s, "if"), b.condition(s, "unless")
	if v := n.Get("excludes"); !v.IsNull() && (v.Kind != doc.Map || v.Keys(s.out, "materials", "where")) {
		r.Excludes = b.selection(s, v)
	}
	b.weights(s, r, "supports", false)
	b.weights(s, r, "weakens", true)
	r.SetsAside = b.observables(s, "sets_aside")
	b.establishes(s, r)
	r.CallsFor, r.Forbids = b.tests(s, "calls_for", r.Status != Retired), b.tests(s, "forbids", false)
	if !s.follows() {
		s.errorf("missing-key", n, "nothing follows from the rule %q", r.ID).
			Detail = "It needs one of: " + strings.Join(effectKeys, ", ") + "."
	}
	return r
}

var effectKeys = []string{"excludes", "supports", "weakens", "sets_aside", "establishes", "calls_for", "forbids", "cautions", "sends_on"}

// asRead is what was read, with the keys of rows that are not known.
func (s *sheet) asRead() *doc.Node {
	if s.row == nil || len(s.row.table.strange) == 0 {
		return s.Node
	}
	return &doc.Node{Kind: doc.Map, Entries: slices.Concat(s.Entries, s.row.table.strange)}
}

// follows tells whether something is to follow from a rule, whether or not it can be read. What a misspelt key is to say is told
// with the key.
func (s *sheet) follows() bool {
	return slices.ContainsFunc(effectKeys, func(key string) bool {
		v := s.Get(key)
		return !v.IsNull() && (v.Kind == doc.Scalar || len(v.Items)+len(v.Entries) > 0) || s.asRead().Misspells(key, ruleKeys...)
	})
}

// Evidence tells whether the rule weighs materials.
func (r *Rule) Evidence() bool { return r.Excludes != nil || len(r.Weights) > 0 }

func (b *ruleBuilder) date(s *sheet, key string) time.Time {
	v := s.Get(key)
	if v.IsNull() {
		return time.Time{}
	}
	t, _ := s.day(v, key, b.rs.Policy.Zone)
	return t
}

// checkDates refuses a rule that ends before it begins.
func (s *sheet) checkDates(r *Rule) {
	if r.Since.IsZero() || r.Until.IsZero() || r.Until.After(r.Since) {
		return
	}
	d := s.errorf("bad-date", s.Get("until"), "the rule %q is in force on no day: its \"until\" is not after its \"since\"", r.ID)
	d.Detail = "It is in force from its since on, and no longer on its until."
	d.Related = append(d.Related, diag.Related{Span: s.Get("since").Span, Says: "its since"})
}

func (b *ruleBuilder) condition(s *sheet, key string) *condition.Condition {
	v := s.Get(key)
	if v.IsNull() {
		return nil
	}
	text, ok := s.conditionText(v)
	if !ok {
		return nil
	}
	return condition.Compile(text, locate(v), b.scope(s), s.out)
}

// selection reads a list of materials and groups, {where: condition}, or {materials: [...]}.
func (b *ruleBuilder) selection(s *sheet, v *doc.Node) *Selection {
	list := v
	if v.Kind == doc.Map {
		list = v.Get("materials")
		if w := v.Get("where"); w != nil {
			if list != nil {
				s.errorf("given-twice", v, "materials are listed or told by \"where\", not both")
				return nil
			}
			return b.selectWhere(s, w)
		}
		if list == nil {
			s.errorf("missing-key", v, "which materials? Give \"materials\" or \"where\"")
			return nil
		}
	}
	sel := &Selection{}
	items, _ := list.ListOrOne(s.out)
	var names []string
	for _, it := range items {
		id, ok := it.Str(s.out)
		if !ok {
			continue
		}
		m := b.rs.Node(id)
		if m == nil {
			d := s.errorf("unknown-material", it, "no material or group is called %q", id)
			d.Nearest, d.Detail = b.rs.nearestNode(id)
			continue
		}
		names = append(names, id)
		sel.Leaves = append(sel.Leaves, m.Leaves...)
	}
	slices.Sort(sel.Leaves)
	sel.Leaves = slices.Compact(sel.Leaves)
	sel.Says = strings.Join(names, ", ")
	return sel
}

// selectWhere decides a condition over each material; one that is undecided does not name it.
func (b *ruleBuilder) selectWhere(s *sheet, v *doc.Node) *Selection {
	text, ok := s.conditionText(v)
	if !ok {
		return nil
	}
	c := condition.Compile(text, locate(v), b.where, s.out)
	if c == nil {
		return nil
	}
	sel := &Selection{Where: c, Says: "where " + text}
	for i, st := range b.mats {
		is, _, err := condition.Evaluate(c, st)
		if err != nil {
			s.errorf("bad-number", v, "it can't be evaluated for %s: %s", b.rs.Leaves[i].ID, err)
			return nil
		}
		if is == truth.Holds {
			sel.Leaves = append(sel.Leaves, i)
		}
	}
	if len(sel.Leaves) == 0 {
		s.out.Warnf("inactive", v.Span, "no material satisfies this")
	}
	return sel
}

func (b *ruleBuilder) weights(s *sheet, r *Rule, key string, against bool) {
	v := s.Get(key)
	if v.IsNull() {
		return
	}
	items, _ := v.ListOrOne(s.out)
	if len(items) > 0 && !slices.ContainsFunc(items, func(it *doc.Node) bool { return it.Kind != doc.Scalar || it.IsNull() }) {
		var ids []string
		for _, it := range items {
			ids = append(ids, it.Text)
		}
		s.errorf("wrong-kind", v, "%q says which materials and how strongly, and this is a mere list", key).
			Detail = "Write: " + key + ": {materials: [" + strings.Join(ids, ", ") + "], strength: weak}, with the strength that is meant."
		return
	}
	for _, it := range items {
		if !it.Keys(s.out, "materials", "where", "strength", "ratio") {
			continue
		}
		sel := b.selection(s, it)
		ratio, word, ok := b.strength(s, r, it)
		if sel == nil || !ok {
			continue
		}
		if against {
			ratio = 1 / ratio
		}
		r.Weights = append(r.Weights, Weight{Selection: *sel, Ratio: ratio, Strength: word})
	}
}

func (b *ruleBuilder) strength(s *sheet, r *Rule, it *doc.Node) (ratio float64, word string, ok bool) {
	w, x := it.Get("strength"), it.Get("ratio")
	switch {
	case w != nil && x != nil:
		s.errorf("given-twice", x, "a strength is given as a word or as a ratio, not both")
		return 0, "", false
	case w != nil:
		word, ok = w.Str(s.out)
		if !ok {
			return 0, "", false
		}
		if ratio, ok = b.rs.Policy.Strength[word]; !ok {
			s.errorf("unknown-name", w, "the policy has no strength %q", word).Nearest = diag.Nearest(word, sortedKeys(b.rs.Policy.Strength))
			return 0, "", false
		}
	case x != nil:
		if ratio, ok = x.Num(s.out); !ok {
			return 0, "", false
		}
		if ratio < 1 {
			s.errorf("bad-number", x, "a ratio is at least 1; what speaks against materials is written under \"weakens\"")
			return 0, "", false
		}
	default:
		s.errorf("missing-key", it, "how strongly? Give \"strength\" or \"ratio\"")
		return 0, "", false
	}
	if ratio > MaxRatio && r.BackedBy == "" {
		d := s.errorf("too-strong", it, "a ratio of %g is stronger than %d, and nothing backs it", ratio, MaxRatio)
		d.Detail = "Name the data behind it under backed_by."
		return 0, "", false
	}
	return ratio, word, true
}

func (b *ruleBuilder) observables(s *sheet, key string) []*vocab.Observable {
	var out []*vocab.Observable
	v := s.Get(key)
	if v.IsNull() {
		return nil
	}
	items, _ := v.ListOrOne(s.out)
	for _, it := range items {
		name, ok := it.Str(s.out)
		if !ok {
			continue
		}
		o := b.rs.Vocabulary.Observable(name)
		if o == nil {
			d := s.errorf("unknown-name", it, "no test gives an observable %q", name)
			if d.Detail = testHint(b.rs.Vocabulary, name); d.Detail == "" {
				d.Nearest = diag.NearestOrAbbreviated(name, b.rs.Vocabulary.Names())
			}
			continue
		}
		out = append(out, o)
	}
	return out
}

// tests reads the tests that a rule names. One that is asked for must be harmless: those that mark or destroy a stone are
// never suggested, by whatever rule.
func (b *ruleBuilder) tests(s *sheet, key string, asked bool) []string {
	v := s.Get(key)
	if v.IsNull() {
		return nil
	}
	items, _ := v.ListOrOne(s.out)
	var out []string
	for _, it := range items {
		id, ok := it.Str(s.out)
		if !ok {
			continue
		}
		if b.rs.Test(id) == nil {
			d := s.errorf("unknown-test", it, "no test is called %q", id)
			if d.Nearest = diag.Nearest(id, b.rs.TestIDs()); d.Nearest == "" {
				d.Detail = testsThatGive(b.rs.Vocabulary, id)
			}
			continue
		}
		if asked && !b.rs.Test(id).Harmless() {
			s.refuseHarm(it, b.rs.Test(id))
			continue
		}
		out = append(out, id)
	}
	return out
}

func (s *sheet) refuseHarm(at *doc.Node, t *Test) {
	harm := map[Harm]string{Marks: "marks the stone", Destroys: "can destroy the stone"}[t.Harm]
	d := s.errorf("not-allowed", at, "the test %q is never asked for: it %s", t.ID, harm)
	d.Detail = "Its sheet only tells how to read an outcome that somebody already has. Ask for a harmless test, or send the stone on (sends_on). " +
		"A rule may name it under forbids."
	d.Related = append(d.Related, diag.Related{Span: t.Origin.Span, Says: "its sheet says harm: " + string(t.Harm)})
}

func (b *ruleBuilder) establishes(s *sheet, r *Rule) {
	entries := mapOrNone(s, s.Get("establishes"))
	for _, e := range entries {
		f := b.fact(r, e.Key.Text)
		if f == nil || f.Kind != factKind(e.Value) {
			continue // reported when the facts were gathered
		}
		est := Establishes{Fact: f}
		switch f.Kind {
		case vocab.Choice:
			if est.Word = slices.Index(f.Words, e.Value.Text); est.Word < 0 {
				continue
			}
		case vocab.Quantity:
			v := e.Value.Get("is")
			if v.IsNull() {
				continue
			}
			text, ok := s.conditionText(v)
			if !ok {
				continue
			}
			if est.Expr, est.Reads = condition.CompileQuantity(text, locate(v), b.scope(s), s.out); est.Expr == nil {
				continue
			}
		}
		r.Establishes = append(r.Establishes, est)
		if r.Status == Active {
			f.By = append(f.By, r)
		}
	}
}

// gatherFacts finds the facts that rules establish, with their kinds, before any condition is read.
func gatherFacts(sheets []*sheet, v *vocab.Vocabulary) map[string]*Fact {
	facts := map[string]*Fact{}
	first := map[string]*doc.Node{}
	for _, s := range sheets {
		if s.text(s.Node, "status") == string(Retired) {
			continue
		}
		entries := mapOrNone(s, s.Get("establishes"))
		for _, e := range entries {
			f, ok := readFact(s, e, v)
			if !ok {
				continue
			}
			old := facts[f.Name]
			if old == nil {
				facts[f.Name], first[f.Name] = f, e.Key
				continue
			}
			if old.Kind != f.Kind {
				d := s.errorf("unlike-types", e.Key, "the fact %q is a %s here and a %s elsewhere", f.Name, f.Kind, old.Kind)
				d.Related = append(d.Related, diag.Related{Span: first[f.Name].Span, Says: "established here too"})
				continue
			}
			old.Words = append(old.Words, f.Words...)
		}
	}
	for _, f := range facts {
		slices.Sort(f.Words)
		f.Words = slices.Compact(f.Words)
	}
	return facts
}

// factKind is the kind of fact that a value gives, whether or not it is well written.
func factKind(value *doc.Node) vocab.Kind {
	switch {
	case value.Kind == doc.Map:
		return vocab.Quantity
	case value.Kind == doc.Scalar && value.Text == "true" && (value.Style == doc.Plain || value.Style == doc.JSONWord):
		return vocab.Truth
	}
	return vocab.Choice
}

func readFact(s *sheet, e doc.Entry, v *vocab.Vocabulary) (*Fact, bool) {
	f := &Fact{Name: e.Key.Text, Kind: vocab.Truth}
	value := e.Value
	switch {
	case !nameShape.MatchString(f.Name):
		s.errorf("bad-id", e.Key, "a fact's name is lower-case words joined by \"_\"")
		return nil, false
	case v.Observable(f.Name) != nil || slices.Contains(condition.Reserved(), f.Name):
		s.errorf("bad-id", e.Key, "%q is an observable or a word of the rule language already", f.Name)
		return nil, false
	case value.Kind == doc.Map:
		value.Keys(s.out, "is")
		if value.Get("is").IsNull() {
			s.errorf("missing-key", value, "a derived quantity is written {is: \"an expression\"}")
			return nil, false
		}
		f.Kind = vocab.Quantity
	case value.Kind == doc.Scalar && value.Text == "true" && (value.Style == doc.Plain || value.Style == doc.JSONWord):
	case value.Kind == doc.Scalar && value.Text == "false" && (value.Style == doc.Plain || value.Style == doc.JSONWord):
		s.errorf("not-allowed", value, "a rule establishes that something is true").
			Detail = "It fails by itself when all rules that establish it fail."
		return nil, false
	default:
		word, ok := value.Str(s.out)
		if !ok {
			return nil, false
		}
		f.Kind, f.Words = vocab.Choice, []string{word}
	}
	return f, true
}

// settleBasis finds what each rule's evidence rests on and its family.
func (b *ruleBuilder) settleBasis(r *Rule) {
	atoms := map[Atom]bool{}
	b.collect(r, atoms, map[*Rule]bool{})
	r.Basis = slices.SortedFunc(maps.Keys(atoms), compareAtoms)
	var families []string
	for _, a := range r.Basis {
		if !slices.Contains(r.Observes, a.Observable) {
			r.Observes = append(r.Observes, a.Observable)
		}
		if !slices.Contains(families, a.Observable.Family) {
			families = append(families, a.Observable.Family)
		}
	}
	if !r.Evidence() || r.Status == Retired || r.If == nil && !r.at.Get("if").IsNull() {
		return // a condition that can't be read was reported, and what it names is not known
	}
	slices.Sort(families)
	b.settleFamily(r, families)
	if r.Excludes != nil && len(r.Observes) == 0 {
		r.at.errorf("family-needed", r.at.Get("excludes"), "an exclusion rests on readings, and the condition names none")
	}
}

func (b *ruleBuilder) settleFamily(r *Rule, families []string) {
	s := r.at
	v := s.Get("family")
	known := b.families()
	switch {
	case r.Family != "" && !slices.Contains(known, r.Family):
		s.errorf("unknown-name", v, "no observable is of a family %q", r.Family).Nearest = diag.Nearest(r.Family, known)
	case len(families) == 1 && r.Family != "" && r.Family != families[0]:
		s.errorf("family-needed", v, "the condition rests on %s alone, so that is the family", families[0])
	case len(families) == 1:
		r.Family = families[0]
	case r.Family == "" && len(families) == 0:
		s.errorf("family-needed", s.Node, "the condition of %q names no reading: say in which family its evidence counts", r.ID)
	case r.Family == "":
		d := s.errorf("family-needed", s.Node, "the condition of %q names readings of several families: say in which its evidence counts", r.ID)
		d.Detail = "They are: " + strings.Join(families, ", ") + "."
	}
}

func (b *ruleBuilder) families() []string {
	var out []string
	for _, o := range b.rs.Vocabulary.Observables {
		out = append(out, o.Family)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func compareAtoms(a, b Atom) int {
	if a.Observable != b.Observable {
		return a.Observable.Index - b.Observable.Index
	}
	return a.Feature - b.Feature
}

// collect gathers the atoms that a rule's conditions name, through the facts of other rules too.
func (b *ruleBuilder) collect(r *Rule, atoms map[Atom]bool, done map[*Rule]bool) {
	if done[r] {
		return
	}
	done[r] = true
	conds := []*condition.Condition{r.If, r.Unless}
	for _, e := range r.Establishes {
		conds = append(conds, e.Reads)
	}
	for _, c := range conds {
		if c == nil {
			continue
		}
		for _, slot := range c.Reads {
			sym := b.rs.Scope.At(slot)
			switch {
			case sym.Fact:
				if f := b.facts[sym.Name]; f != nil { // else a retired rule names a past one
					for _, by := range f.By {
						b.collect(by, atoms, done)
					}
				}
			case sym.Observable != nil && sym.Kind == vocab.Features:
				set := c.Features[slot]
				for _, i := range set.Members() {
					atoms[Atom{sym.Observable, i}] = true
				}
				if set.Empty() {
					for i := range sym.Observable.Outcomes {
						atoms[Atom{sym.Observable, i}] = true
					}
				}
			case sym.Observable != nil:
				atoms[Atom{sym.Observable, -1}] = true
			}
		}
	}
}

// String names an atom as people read it.
func (a Atom) String() string {
	if a.Feature < 0 {
		return a.Observable.Name
	}
	return fmt.Sprintf("%s: %s", a.Observable.Name, a.Observable.Outcomes[a.Feature].Name)
}
