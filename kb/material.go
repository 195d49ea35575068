package kb

import (
	"cmp"
	"slices"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/gem"
	"whystone/kb/vocab"
)

// Material is a node of the tree of materials: a group, or a leaf that a stone may be.
type Material struct {
	ID, Name   string
	Index      int // of a leaf: its place in Ruleset.Leaves; of a group -1
	Group      bool
	Nameable   bool   // whether a verdict may name it; leaves always
	InVerdicts string // the words that a verdict uses
	// ByColour are names that a verdict uses, the first whose colours the reading meets; in place of InVerdicts.
	ByColour []ColourName
	// Other marks a leaf without a sheet of its own, which stands for the members of its group (its Parent) of one origin that
	// no sheet is of. It is not nameable; its ID holds a colon, as no sheet's can.
	Other bool
	// Grown is what is said of laboratory growth by the sheet of the species: none known, listed, not listed, or nothing.
	Grown string
	// Species is the nearest node, itself included, whose sheet says Grown; else the topmost nameable one; nil when nothing
	// nameable lies at or above it.
	Species    *Material
	Also, Was  []string
	From       string // natural, laboratory-grown, imitation, assembled
	Formula    string
	Treatments []string
	HarmedBy   []string
	Note       string
	Counter    string // how common it is at a counter; own or inherited
	Parent     *Material
	Kids       []*Material // that sheets are of, sorted by id
	Others     []*Material // of a group: the leaves for members without a sheet, sorted by id
	Leaves     []int       // indexes of all leaves at or below it, rising
	Depth      int
	// What the sheets say, inherited from above where the node says nothing itself; by property or observable.
	Ranges   map[string]*Range
	Choices  map[string]*Frequencies
	Features map[string]*Frequencies
	Accepts  []Acceptance
	Origin   Origin

	under string
	at    *sheet
}

// Range is what a property's value can be.
type Range struct {
	Low, High float64
	Typical   *[2]float64 // where most stones lie
	Tolerance float64     // beyond the range before a reading excludes, besides its uncertainty
	Source    string
	Derived   string // how it was computed, when no sheet gives it
	From      *Material
	Span      diag.Span
}

// Frequencies are how often each outcome is seen, as words of the policy.
type Frequencies struct {
	Words  map[string]string // outcome to frequency word
	Single string            // the outcome, when the sheet names just one
	Source string
	From   *Material
	Span   diag.Span
}

// Path lists the ids from the topmost nameable node down to m.
func (m *Material) Path() []string {
	var out []string
	for n := m; n != nil; n = n.Parent {
		if n.Nameable {
			out = append(out, n.ID)
		}
	}
	slices.Reverse(out)
	return out
}

// Speaks tells whether the sheets say something of an observable or a property for the material.
func (m *Material) Speaks(v *vocab.Vocabulary, name string) bool {
	property := name
	if o := v.Observable(name); o != nil && o.Kind == vocab.Quantity {
		property = o.Property
	}
	return m.Ranges[property] != nil || m.Choices[name] != nil || m.Features[name] != nil
}

// Under tells whether m is g or lies below it.
func (m *Material) Under(g *Material) bool {
	for n := m; n != nil; n = n.Parent {
		if n == g {
			return true
		}
	}
	return false
}

// NameableAbove is the lowest nameable group strictly above m, or nil.
func (m *Material) NameableAbove() *Material {
	for n := m.Parent; n != nil; n = n.Parent {
		if n.Nameable {
			return n
		}
	}
	return nil
}

var materialKeys = []string{"material", "group", "under", "name", "also", "was", "nameable", "in_verdicts", "origin", "formula", "treatments",
	"harmed_by", "seen_at_counter", "grown", "others", "properties", "outcomes", "features", "accepts", "note", "source", "replaces", "because"}

// buildTree reads the material sheets and joins them to a tree, whose leaves it numbers by id. It is nil when there is no
// tree, or when what the sheets are checked against is not sound.
func buildTree(sheets []*sheet, p *Policy, v *vocab.Vocabulary, out *diag.List, sound bool) (nodes, leaves []*Material) {
	known := map[string]*Material{}
	for _, s := range sheets {
		m := readMaterial(s, p, v)
		nodes = append(nodes, m)
		known[m.ID] = m
	}
	for _, m := range nodes {
		m.join(known, nodes)
	}
	if !checkTree(nodes, out) || !sound {
		return nil, nil
	}
	byID := func(a, b *Material) int { return cmp.Compare(a.ID, b.ID) }
	for _, m := range nodes {
		slices.SortFunc(m.Kids, byID)
		slices.SortFunc(m.Others, byID)
		leaves = append(leaves, m.Others...)
		if !m.Group {
			leaves = append(leaves, m)
		}
	}
	slices.SortFunc(leaves, byID)
	for i, m := range leaves {
		m.Index = i
	}
	for _, m := range nodes {
		if m.Parent == nil {
			m.settle(0, v)
		}
	}
	for _, m := range leaves {
		m.checkLeaf(p)
	}
	return nodes, leaves
}

func (m *Material) join(byID map[string]*Material, nodes []*Material) {
	if m.under == "" {
		return
	}
	parent := byID[m.under]
	v := m.at.Get("under")
	switch {
	case parent == nil:
		m.at.errorf(diag.UnknownMaterial, v, "no group is called %q", m.under).
			Nearest = diag.Nearest(m.under, ids(nodes, func(m *Material) string { return m.ID }))
	case !parent.Group:
		m.at.errorf(diag.TreeBroken, v, "%q is a material; only a group has others under it", m.under)
	default:
		m.Parent = parent
		parent.Kids = append(parent.Kids, m)
	}
}

// checkTree sees that there is one root and no circle.
func checkTree(nodes []*Material, out *diag.List) bool {
	var roots []*Material
	good := true
	for _, m := range nodes {
		if m.under == "" {
			roots = append(roots, m)
		}
		good = good && (m.under == "" || m.Parent != nil)
		steps := 0
		for n := m; n != nil && good; n = n.Parent {
			if steps++; steps > len(nodes) {
				m.at.errorf(diag.TreeBroken, m.at.Get("under"), "%q lies under itself", m.ID)
				good = false
			}
		}
	}
	switch {
	case len(nodes) == 0:
		out.Errorf(diag.TreeBroken, diag.Span{}, "the ruleset has no materials")
		return false
	case len(roots) > 1:
		for _, r := range roots[1:] {
			r.at.errorf(diag.TreeBroken, r.at.Node, "%q lies under nothing, and so does %q: a tree has one root", r.ID, roots[0].ID)
		}
		return false
	case len(roots) == 1 && !roots[0].Group:
		roots[0].at.errorf(diag.TreeBroken, roots[0].at.Node, "the root of the tree must be a group")
		return false
	}
	return good
}

func readMaterial(s *sheet, p *Policy, v *vocab.Vocabulary) *Material {
	n := s.Node
	n.Keys(s.out, materialKeys...)
	m := &Material{ID: s.id, Index: -1, Group: n.Get("group") != nil, Name: s.needText(n, "name"), Also: s.texts(n, "also"), Was: s.texts(n, "was"),
		Grown: s.oneOf(n, "grown", "", Grown...), Formula: s.text(n, "formula"), Treatments: s.texts(n, "treatments"), HarmedBy: s.texts(n, "harmed_by"),
		Note: s.text(n, "note"), From: s.oneOf(n, "origin", "", Origins...), under: s.text(n, "under"),
		Ranges: map[string]*Range{}, Choices: map[string]*Frequencies{}, Features: map[string]*Frequencies{}, Origin: s.origin, at: s}
	m.Nameable = !m.Group || s.flag(n, "nameable")
	m.Accepts = s.acceptances(p.Zone)
	if !m.Group && n.Get("nameable") != nil {
		s.errorf(diag.NotAllowed, n.Get("nameable"), "a material can always be named; only a group says whether it is nameable")
	}
	m.Counter = s.counter(p)
	s.inVerdicts(m, v)
	s.properties(m, n.Get("properties"), v)
	s.frequencies(m, n.Get("outcomes"), m.Choices, vocab.Choice, v)
	s.frequencies(m, n.Get("features"), m.Features, vocab.Features, v)
	s.others(m, p)
	return m
}

// counter is the word for how common a material is.
func (s *sheet) counter(p *Policy) string {
	word := s.text(s.Node, "seen_at_counter")
	if _, ok := p.SeenAtCounter[word]; word != "" && !ok {
		s.errorf(diag.UnknownName, s.Get("seen_at_counter"), "the policy has no word %q for how common a material is", word).
			Nearest = diag.Nearest(word, sortedKeys(p.SeenAtCounter))
	}
	return word
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// Properties lists what material sheets can give a range of: what some quantity measures.
func Properties(v *vocab.Vocabulary) []string {
	var out []string
	for _, o := range v.Observables {
		if o.Kind == vocab.Quantity {
			out = append(out, o.Property)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func (s *sheet) properties(m *Material, n *doc.Node, v *vocab.Vocabulary) {
	known := Properties(v)
	entries := mapOrNone(s, n)
	for _, e := range entries {
		name := e.Key.Text
		if !slices.Contains(known, name) {
			s.errorf(diag.UnknownName, e.Key, "no test measures a property %q", name).Nearest = diag.Nearest(name, known)
			continue
		}
		if !e.Value.Keys(s.out, "range", "typical", "tolerance", "source", "note") {
			continue
		}
		r := &Range{Tolerance: s.number(e.Value, "tolerance", 0), Source: s.needText(e.Value, "source"), From: m, Span: e.Key.Span}
		if r.Tolerance < 0 {
			s.errorf(diag.BadNumber, e.Value.Get("tolerance"), "a tolerance can't be below nought")
		}
		v := e.Value.Get("range")
		if v.IsNull() {
			s.errorf(diag.MissingKey, e.Value, "the property %s has no \"range\": [low, high]", name)
			continue
		}
		pair, ok := s.pair(v, "range")
		if !ok {
			continue
		}
		r.Low, r.High = pair[0], pair[1]
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

func (s *sheet) frequencies(m *Material, n *doc.Node, to map[string]*Frequencies, kind vocab.Kind, v *vocab.Vocabulary) {
	entries := mapOrNone(s, n)
	for _, e := range entries {
		o := v.Observable(e.Key.Text)
		if o == nil || o.Kind != kind {
			d := s.errorf(diag.UnknownName, e.Key, "no test gives an observable %q with %ss", e.Key.Text, strings.TrimSuffix(kind.String(), "s"))
			if d.Nearest = diag.Nearest(e.Key.Text, v.Names()); d.Nearest == e.Key.Text {
				d.Nearest, d.Detail = "", e.Key.Text+" is a "+o.Kind.String()+"."
			}
			continue
		}
		value := e.Value
		f := &Frequencies{Words: map[string]string{}, From: m, Span: e.Key.Span}
		seen := value
		if value.Kind == doc.Map {
			if !value.Keys(s.out, "seen", "source", "note") {
				continue
			}
			f.Source = s.needText(value, "source")
			if seen = value.Get("seen"); seen.IsNull() {
				s.errorf(diag.MissingKey, value, "%s says nothing of what is \"seen\"", o.Name)
				continue
			}
		} else {
			s.errorf(diag.MissingKey, value, "%s has no source", o.Name).Detail = "Write {seen: ..., source: ...}."
			continue
		}
		s.seen(f, seen, o)
		to[o.Name] = f
	}
}

// seen reads a single outcome, or a map of outcomes to frequency words.
func (s *sheet) seen(f *Frequencies, n *doc.Node, o *vocab.Observable) {
	if n.Kind == doc.Scalar {
		word, ok := n.Str(s.out)
		if ok && s.outcome(o, word, n) {
			f.Single, f.Words[word] = word, "always"
		}
		return
	}
	entries, _ := n.Map(s.out)
	for _, e := range entries {
		freq, ok := e.Value.Str(s.out)
		if !s.outcome(o, e.Key.Text, e.Key) || !ok {
			continue
		}
		if !slices.Contains(FrequencyWords, freq) {
			s.errorf(diag.UnknownName, e.Value, "%q is no frequency: %s", freq, strings.Join(FrequencyWords, ", ")).
				Nearest = diag.Nearest(freq, FrequencyWords)
			continue
		}
		f.Words[e.Key.Text] = freq
	}
	plain, never := 0, 0
	for i := range o.Outcomes {
		if o.Outcomes[i].Covers != 0 {
			continue
		}
		plain++
		if f.Words[o.Outcomes[i].Name] == "never" {
			never++
		}
	}
	if o.Kind == vocab.Choice && plain == never {
		s.errorf(diag.BadPolicy, n, "%s can't be never everything: something is always read", o.Name)
	}
}

func (s *sheet) outcome(o *vocab.Observable, word string, n *doc.Node) bool {
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
func (m *Material) settle(depth int, v *vocab.Vocabulary) {
	m.Depth = depth
	if p := m.Parent; p != nil {
		inherit(m.Ranges, p.Ranges)
		inherit(m.Choices, p.Choices)
		inherit(m.Features, p.Features)
		m.From, m.Counter = cmp.Or(m.From, p.From), cmp.Or(m.Counter, p.Counter)
		m.narrows(p)
	}
	m.settleSpecies()
	m.derive(v)
	if !m.Group {
		m.Leaves = []int{m.Index}
	}
	for _, k := range slices.Concat(m.Kids, m.Others) {
		k.settle(depth+1, v)
		m.Leaves = append(m.Leaves, k.Leaves...)
	}
	slices.Sort(m.Leaves)
	if m.Group && len(m.Leaves) == 0 {
		m.at.errorf(diag.TreeBroken, m.at.Node, "the group %q has no material under it", m.ID)
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
func (m *Material) narrows(p *Material) {
	for _, name := range sortedKeys(m.Ranges) {
		r, above := m.Ranges[name], p.Ranges[name]
		if above == nil || r.From != m || above.Derived != "" || r.Low >= above.Low && r.High <= above.High {
			continue
		}
		d := m.at.out.Errorf(diag.TreeBroken, r.Span, "%s of %s lies outside what its group %s says", name, m.ID, above.From.ID)
		d.Detail = "A material may narrow what its group says, not widen it."
		d.Related = append(d.Related, diag.Related{Span: above.Span, Says: "the group's range"})
	}
}

// derive computes what follows from other properties: reflectance from the refractive index, unless a sheet gives it.
func (m *Material) derive(v *vocab.Vocabulary) {
	ri, given := m.Ranges[vocab.RefractiveIndex], m.Ranges[vocab.Reflectance]
	if ri == nil || given != nil && given.Derived == "" || v.Observable(vocab.Reflectance) == nil {
		return
	}
	m.Ranges[vocab.Reflectance] = &Range{Low: gem.Reflectance(ri.Low), High: gem.Reflectance(ri.High), Source: ri.Source,
		Derived: "from ri by Fresnel's equation at normal incidence", From: ri.From, Span: ri.Span}
}

func (m *Material) checkLeaf(p *Policy) {
	if m.Counter == "" && m.prior(p) == 0 {
		m.at.errorf(diag.MissingKey, m.at.Node, "nothing says how common %q is at the counter", m.ID).
			Detail = "Write seen_at_counter on the material or a group above it."
	}
	if m.From == "" && m.at.Get("origin") == nil {
		m.at.errorf(diag.MissingKey, m.at.Node, "%q has no origin: %s", m.ID, strings.Join(Origins, ", "))
	}
}

// prior is how common a leaf is, on the policy's scale: its own override, else its own word, else its group's, and so on.
func (m *Material) prior(p *Policy) float64 {
	if m.Other {
		return p.SeenAtCounter[m.Counter] // what the house says of its group is said of what is listed there
	}
	for n := m; n != nil; n = n.Parent {
		if x, ok := p.Priors[n.ID]; ok {
			return x
		}
		if !n.at.Get("seen_at_counter").IsNull() {
			return p.SeenAtCounter[n.Counter]
		}
	}
	return 0
}

// Priors are the prior probabilities of the leaves; together they make 1 less that of what is unlisted.
func (rs *Ruleset) Priors() []float64 {
	out := make([]float64, len(rs.Leaves))
	sum := 0.0
	for i, m := range rs.Leaves {
		out[i] = m.prior(rs.Policy)
		sum += out[i]
	}
	for i := range out {
		out[i] = out[i] / sum * (1 - rs.Policy.Unlisted)
	}
	return out
}
