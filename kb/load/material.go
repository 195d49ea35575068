package load

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/physics"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

var materialKeys = []string{"material", "group", "under", "name", "also", "was", "nameable", "in_verdicts", "origin",
	"formula", "treatments", "harmed_by", "seen_at_counter", "grown", "others", "properties", "relations", "outcomes",
	"features", "accepts", "note", "source", "replaces", "because", "amends"}

// tree is the tree of materials as it is read.
type tree struct {
	policy *kb.Policy
	vocab  *vocab.Vocabulary
	out    *diag.List
	nodes  []*kb.Material
	leaves []*kb.Material
	at     map[*kb.Material]*sheet // of leaves without a sheet of their own, the entry of their group's
	under  map[*kb.Material]string
	priors map[string]bool // the ids under the policy's priors that some leaf takes its prior from
	broken bool            // there are gaps in it, which were told; its nodes are there, and it has no leaves
}

// buildTree reads the material sheets and joins them to a tree, whose leaves it numbers by id.
func buildTree(sheets []*sheet, p *kb.Policy, v *vocab.Vocabulary, out *diag.List) *tree {
	t := &tree{policy: p, vocab: v, out: out, at: map[*kb.Material]*sheet{}, under: map[*kb.Material]string{},
		priors: map[string]bool{}}
	known := map[string]*kb.Material{}
	for _, s := range sheets {
		m := t.read(s)
		t.nodes = append(t.nodes, m)
		known[m.ID] = m
	}
	for _, m := range t.nodes {
		t.join(m, known)
	}
	if t.broken = !t.check(); t.broken {
		return t
	}
	byID := func(a, b *kb.Material) int { return cmp.Compare(a.ID, b.ID) }
	for _, m := range t.nodes {
		slices.SortFunc(m.Kids, byID)
		slices.SortFunc(m.Others, byID)
		t.leaves = append(t.leaves, m.Others...)
		if !m.Group {
			t.leaves = append(t.leaves, m)
		}
	}
	slices.SortFunc(t.leaves, byID)
	for i, m := range t.leaves {
		m.Index = i
	}
	for _, m := range t.nodes {
		if m.Parent == nil {
			t.settle(m, 0)
		}
	}
	for _, m := range t.leaves {
		t.settleLeaf(m)
	}
	return t
}

func (t *tree) join(m *kb.Material, byID map[string]*kb.Material) {
	if t.under[m] == "" {
		return
	}
	s, parent := t.at[m], byID[t.under[m]]
	v := s.Get("under")
	switch {
	case parent == nil:
		s.unknown(diag.UnknownMaterial, v, t.under[m], sortedKeys(byID), "no group is called %q", t.under[m])
	case !parent.Group:
		s.errorf(diag.TreeBroken, v, "%q is a material; only a group has others under it", t.under[m])
	default:
		m.Parent = parent
		parent.Kids = append(parent.Kids, m)
	}
}

// check sees that there is one root and no circle.
func (t *tree) check() bool {
	var roots []*kb.Material
	good := true
	for _, m := range t.nodes {
		if t.under[m] == "" {
			roots = append(roots, m)
		}
		good = good && (t.under[m] == "" || m.Parent != nil)
		steps := 0
		for n := m; n != nil && good; n = n.Parent {
			if steps++; steps > len(t.nodes) {
				t.at[m].errorf(diag.TreeBroken, t.at[m].Get("under"), "%q lies under itself", m.ID)
				good = false
			}
		}
	}
	switch {
	case len(t.nodes) == 0:
		t.out.Errorf(diag.TreeBroken, diag.Span{}, "the ruleset has no materials")
		return false
	case len(roots) > 1:
		for _, r := range roots[1:] {
			t.at[r].errorf(diag.TreeBroken, t.at[r].Node, "%q lies under nothing, and so does %q: a tree has one root",
				r.ID, roots[0].ID)
		}
		return false
	case len(roots) == 1 && !roots[0].Group:
		t.at[roots[0]].errorf(diag.TreeBroken, t.at[roots[0]].Node, "the root of the tree must be a group")
		return false
	}
	return good
}

func (t *tree) read(s *sheet) *kb.Material {
	n, p, v := s.Node, t.policy, t.vocab
	n.Keys(s.out, materialKeys...)
	m := &kb.Material{ID: s.id, Index: -1, Group: n.Get("group") != nil, Name: s.needText(n, "name"),
		Also: s.texts(n, "also"), Was: s.texts(n, "was"), Grown: oneOf(s, n, "grown", "", kb.NoneKnown, kb.Listed,
			kb.NotListed), Formula: s.text(n, "formula"),
		Treatments: s.texts(n, "treatments"), HarmedBy: s.texts(n, "harmed_by"), Note: s.text(n, "note"),
		Origin: oneOf(s, n, "origin", "", kb.Origins...), Ranges: map[string]*kb.Range{},
		Choices: map[string]*kb.Frequencies{}, Features: map[string]*kb.Frequencies{}, Place: s.place}
	t.at[m], t.under[m] = s, s.text(n, "under")
	m.Nameable = !m.Group || s.flag(n, "nameable")
	m.Accepts = s.acceptances(p.Zone)
	if !m.Group && n.Get("nameable") != nil {
		s.errorf(diag.NotAllowed, n.Get("nameable"),
			"a material can always be named; only a group says whether it is nameable")
	}
	m.Counter = s.counter(p)
	s.inVerdicts(m, v)
	s.properties(m, n.Get("properties"), v)
	s.relations(m, v)
	s.frequencies(m, n.Get("outcomes"), m.Choices, vocab.Choice, v)
	s.frequencies(m, n.Get("features"), m.Features, vocab.Features, v)
	t.others(s, m)
	return m
}

// counter is the word for how common a material is.
func (s *sheet) counter(p *kb.Policy) string {
	word := s.text(s.Node, "seen_at_counter")
	if _, ok := p.SeenAtCounter[word]; word != "" && !ok {
		d := s.errorf(diag.UnknownName, s.Get("seen_at_counter"),
			"the policy has no word %q for how common a material is", word)
		d.Nearest, d.Detail = diag.Nearest(word, sortedKeys(p.SeenAtCounter)), wordsOf(p.SeenAtCounter)
	}
	return word
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// inOrder are the values of a map in the order of its keys.
func inOrder[V any](m map[string]V) []V {
	return english.Each(sortedKeys(m), func(key string) V { return m[key] })
}

// withinSpan holds a property's range against what the tests that measure it can find at all. One that lies outside as
// a whole is in another unit, or a slip; one that reaches outside is perhaps one.
func (s *sheet) withinSpan(name string, pair [2]float64, at *syntax.Node, v *vocab.Vocabulary) {
	low, high, unit := spanOf(name, v)
	if low >= high || pair[0] >= low && pair[1] <= high {
		return
	}
	span := fmt.Sprintf("%g to %g", low, high)
	if unit != "" && unit != "1" {
		span += " " + unit
	}
	if pair[0] > high || pair[1] < low {
		s.errorf(diag.OutOfSpan, at, "no test finds %s from %g to %g: the tests' sheets give its span as %s", name,
			pair[0], pair[1], span).
			Detail = "Is it in another unit, or a digit too many? Every reading would rule the material out."
		return
	}
	s.out.Warnf(diag.OutOfSpan, at.Span, "%s from %g to %g reaches beyond what tests can find, %s", name, pair[0],
		pair[1], span).
		Detail = "Correct the range, or widen the span on the sheet of the test."
}

// spanOf is what the tests that measure a property can find at all, and in which unit; high is below low where none
// measures it.
func spanOf(property string, v *vocab.Vocabulary) (low, high float64, unit string) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, o := range v.Observables {
		if o.Kind == vocab.Quantity && o.Property == property {
			low, high, unit = min(low, o.Span[0]), max(high, o.Span[1]), o.Unit
		}
	}
	return low, high, unit
}

func (s *sheet) properties(m *kb.Material, n *syntax.Node, vocabulary *vocab.Vocabulary) {
	known := kb.Properties(vocabulary)
	for _, e := range s.entries(n) {
		name := e.Key.Text
		if !slices.Contains(known, name) {
			s.unknown(diag.UnknownName, e.Key, name, known, "no test measures a property %q", name)
			continue
		}
		if !e.Value.Keys(s.out, "range", "typical", "tolerance", "source", "note") {
			continue
		}
		r := &kb.Range{Tolerance: s.number(e.Value, "tolerance", 0), Source: s.needText(e.Value, "source"), SaidBy: m,
			Span: e.Key.Span}
		if r.Tolerance < 0 {
			s.errorf(diag.BadNumber, e.Value.Get("tolerance"), "a tolerance can't be below zero")
		}
		v := e.Value.Get("range")
		if !s.has(e.Value, "range", "the property %s has no \"range\": [low, high]", name) {
			continue
		}
		pair, ok := s.pair(v, "range")
		if !ok {
			continue
		}
		r.Low, r.High = pair[0], pair[1]
		s.withinSpan(name, pair, v, vocabulary)
		if t := e.Value.Get("typical"); !t.IsNull() {
			if pair, ok := s.pair(t, "typical"); ok {
				r.Typical = &pair
				if pair[0] < r.Low || pair[1] > r.High {
					s.errorf(diag.BadNumber, t, "the typical part must lie within the range")
				}
			}
		}
		m.Ranges[name] = r
	}
}

func (s *sheet) frequencies(m *kb.Material, n *syntax.Node, to map[string]*kb.Frequencies, kind vocab.Kind,
	v *vocab.Vocabulary) {
	for _, e := range s.entries(n) {
		o := v.Observable(e.Key.Text)
		if o == nil || o.Kind != kind {
			d := s.errorf(diag.UnknownName, e.Key, "no test gives an observable %q with %ss", e.Key.Text,
				strings.TrimSuffix(kind.String(), "s"))
			d.Lacks = e.Key.Text
			if d.Nearest = diag.Nearest(e.Key.Text, v.Names()); o != nil {
				d.Nearest, d.Detail = "", e.Key.Text+" is a "+o.Kind.String()+"."
			}
			continue
		}
		value := e.Value
		if value.Kind != syntax.Map {
			s.errorf(diag.MissingKey, value, "%s has no source", o.Name).Detail = "Write {seen: ..., source: ...}."
			continue
		}
		keys := []string{"seen", "source", "note"}
		if len(o.Strengths) > 0 {
			keys = append(keys, "strength")
		}
		if !value.Keys(s.out, keys...) {
			continue
		}
		f := &kb.Frequencies{Words: map[string]kb.Frequency{}, SaidBy: m, Span: e.Key.Span,
			Source: s.needText(value, "source")}
		if !s.has(value, "seen", "%s says nothing of what is \"seen\"", o.Name) {
			continue
		}
		s.seen(f, value.Get("seen"), o)
		s.strengthsSeen(f, value.Get("strength"), o)
		to[o.Name] = f
	}
}

// seen reads a single outcome, or a map of outcomes to frequency words.
func (s *sheet) seen(f *kb.Frequencies, n *syntax.Node, o *vocab.Observable) {
	if n.Kind == syntax.Scalar {
		word, ok := n.Str(s.out)
		if ok && s.outcome(o, word, n) {
			f.Single, f.Words[word] = word, kb.Always
		}
		return
	}
	entries, _ := n.Map(s.out)
	for _, e := range entries {
		freq, ok := e.Value.Str(s.out)
		if !s.outcome(o, e.Key.Text, e.Key) || !ok {
			continue
		}
		if s.isFrequency(freq, e.Value) {
			f.Words[e.Key.Text] = kb.Frequency(freq)
		}
	}
	if o.Kind == vocab.Choice && !slices.ContainsFunc(o.Outcomes, func(c vocab.Outcome) bool {
		return c.Covers == 0 && f.Words[c.Name] != kb.Never
	}) {
		s.errorf(diag.BadPolicy, n, "%s can't be never everything: something is always read", o.Name)
	}
}

func (s *sheet) isFrequency(word string, at *syntax.Node) bool {
	if !slices.Contains(kb.FrequencyWords, kb.Frequency(word)) {
		known := texts(kb.FrequencyWords)
		s.errorf(diag.UnknownName, at, "%q is no frequency: %s", word,
			strings.Join(known, ", ")).Nearest = diag.Nearest(word, known)
		return false
	}
	return true
}

// strengthsSeen reads how strong features look where they are seen: by feature one strength, or a map of strengths to
// frequency words.
func (s *sheet) strengthsSeen(f *kb.Frequencies, n *syntax.Node, o *vocab.Observable) {
	for _, e := range s.entries(n) {
		if !s.outcome(o, e.Key.Text, e.Key) {
			continue
		}
		words := map[string]kb.Frequency{}
		add := func(word, at *syntax.Node, freq string) {
			if !slices.Contains(o.Strengths, word.Text) {
				s.errorf(diag.UnknownChoice, word, "%q is no strength of %s: %s", word.Text, o.Name,
					strings.Join(o.Strengths, ", ")).Nearest = diag.Nearest(word.Text, o.Strengths)
			} else if s.isFrequency(freq, at) {
				words[word.Text] = kb.Frequency(freq)
			}
		}
		if e.Value.Kind == syntax.Scalar {
			if _, ok := e.Value.Str(s.out); ok {
				add(e.Value, e.Value, string(kb.Always))
			}
		} else {
			for _, of := range s.entries(e.Value) {
				if freq, ok := of.Value.Str(s.out); ok {
					add(of.Key, of.Value, freq)
				}
			}
		}
		if f.Words[e.Key.Text] == "" || f.Words[e.Key.Text] == kb.Never {
			s.errorf(diag.BadPolicy, e.Key, "how strong %q looks is said, and not how often it is seen", e.Key.Text)
		}
		if !slices.ContainsFunc(o.Strengths, func(w string) bool { return words[w] != kb.Never }) {
			s.errorf(diag.BadPolicy, e.Value, "%q can't be never of any strength", e.Key.Text)
			continue
		}
		if f.Strengths == nil {
			f.Strengths = map[string]map[string]kb.Frequency{}
		}
		f.Strengths[e.Key.Text] = words
	}
}

func (s *sheet) outcome(o *vocab.Observable, word string, n *syntax.Node) bool {
	i := slices.IndexFunc(o.Outcomes, func(c vocab.Outcome) bool { return c.Name == word })
	if i < 0 {
		code := diag.UnknownChoice
		if o.Kind == vocab.Features {
			code = diag.UnknownFeature
		}
		d := s.errorf(code, n, "%s has no outcome %q", o.Name, word)
		if d.Nearest = diag.Nearest(word, o.Words()); d.Nearest == "" {
			d.Detail = "It has: " + strings.Join(o.Words(), ", ") + "."
		}
		return false
	}
	if c := o.Outcomes[i].Covers; c != 0 {
		s.errorf(diag.NotAllowed, n, "%q covers other outcomes: a sheet says which of them is seen", word).
			Detail = "It covers: " + strings.Join(o.Of(c), ", ") + "."
		return false
	}
	return true
}

// settle hands down what a group says, from the root on, and gathers the leaves.
func (t *tree) settle(m *kb.Material, depth int) {
	m.Depth = depth
	if p := m.Parent; p != nil {
		inherit(m.Ranges, p.Ranges)
		inherit(m.Choices, p.Choices)
		inherit(m.Features, p.Features)
		m.Origin, m.Counter = cmp.Or(m.Origin, p.Origin), cmp.Or(m.Counter, p.Counter)
		t.narrows(m, p)
	}
	settleSpecies(m)
	derive(m, t.vocab)
	t.settleRelations(m, m.Parent)
	if !m.Group {
		m.Leaves = []int{m.Index}
	}
	for _, k := range slices.Concat(m.Kids, m.Others) {
		t.settle(k, depth+1)
		m.Leaves = append(m.Leaves, k.Leaves...)
	}
	slices.Sort(m.Leaves)
	if m.Group && len(m.Leaves) == 0 {
		t.at[m].errorf(diag.TreeBroken, t.at[m].Node, "the group %q has no material under it", m.ID)
	}
}

func inherit[V any](own, above map[string]V) {
	for k, v := range above {
		if _, ok := own[k]; !ok {
			own[k] = v
		}
	}
}

// narrows checks that a node's own ranges lie within those of its group.
func (t *tree) narrows(m, p *kb.Material) {
	for _, name := range sortedKeys(m.Ranges) {
		r, above := m.Ranges[name], p.Ranges[name]
		if above == nil || r.SaidBy != m || above.Derived != "" || r.Low >= above.Low && r.High <= above.High {
			continue
		}
		d := t.out.Errorf(diag.TreeBroken, r.Span, "%s of %s lies outside what its group %s says", name, m.ID,
			above.SaidBy.ID)
		d.Detail = "A material may narrow what its group says, not widen it."
		d.Related = append(d.Related, diag.Related{Span: above.Span, Says: "the group's range"})
	}
}

// derive computes what follows from other properties: reflectance from the refractive index, unless a sheet gives it.
func derive(m *kb.Material, v *vocab.Vocabulary) {
	ri, given := m.Ranges[vocab.RefractiveIndex], m.Ranges[vocab.Reflectance]
	if ri == nil || given != nil && given.Derived == "" || v.Observable(vocab.Reflectance) == nil {
		return
	}
	m.Ranges[vocab.Reflectance] = &kb.Range{Low: physics.Reflectance(ri.Low), High: physics.Reflectance(ri.High),
		Source: ri.Source, Derived: "from ri by Fresnel's equation at normal incidence", SaidBy: ri.SaidBy,
		Span: ri.Span}
}

// settleLeaf finds how common a leaf is, and what of it nothing says.
func (t *tree) settleLeaf(m *kb.Material) {
	s := t.at[m]
	if m.Prior = t.prior(m); m.Prior == 0 && m.Counter == "" {
		s.errorf(diag.MissingKey, s.Node, "nothing says how common %q is at the counter", m.ID).
			Detail = "Write seen_at_counter on the material or a group above it."
	}
	if m.Origin == "" && s.Get("origin") == nil {
		s.errorf(diag.MissingKey, s.Node, "%q has no origin: %s", m.ID, strings.Join(texts(kb.Origins), ", "))
	}
}

// prior is how common a leaf is, on the policy's scale: its own override, else its own word, else its group's, and so
// on.
func (t *tree) prior(m *kb.Material) float64 {
	if m.Other {
		return t.policy.SeenAtCounter[m.Counter] // what the house says of its group is said of what is listed there
	}
	for n := m; n != nil; n = n.Parent {
		if x, ok := t.policy.Priors[n.ID]; ok {
			t.priors[n.ID] = true
			return x
		}
		if !t.at[n].Get("seen_at_counter").IsNull() {
			return t.policy.SeenAtCounter[n.Counter]
		}
	}
	return 0
}
