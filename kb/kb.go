// Package kb is the knowledge base: the materials a stone may be, the tests that tell them apart, the rules and the
// policy of one house, as plain data that never changes, with what finds one thing by the name of another.
//
// It knows neither files nor how a rule is tried on a case: [whystone/kb/load] makes a [Ruleset] of the files of a
// house, and [whystone/kb/eval] runs its rules.
package kb

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// ArithmeticVersion is the version of the arithmetic that turns readings into a verdict. It is raised whenever a change
// can alter one; a verdict names it as the method that it was reached by.
const ArithmeticVersion = 3

// Ruleset is what one house judges by. Immutable once built, safe for concurrent use.
type Ruleset struct {
	Digest string // "sha256:" and 64 hexadecimal digits
	Method int
	Layers []string // from the lowest
	Policy *Policy
	Tests  []*Test     // sorted by id
	Nodes  []*Material // groups and leaves of the tree of materials that sheets are of, sorted by id
	Leaves []*Material // with the others of groups, sorted by id; a leaf's Index is its place here
	Rules  []*Rule     // sorted by id, drafts and retired ones and the rows of tables too
	Tables []*Table    // sorted by id
	Order  []*Rule     // those that are evaluated, each after all that it depends on
	Facts  []*Fact     // sorted by name
	// Definitions are the expressions that the house gave names, sorted by name.
	Definitions []*Definition
	Vocabulary  *vocab.Vocabulary
	Scope       *condition.Scope
	Program     *condition.Program // the conditions of all of Order
	Compiled    []Compiled         // where in Program, by place in Order
	Claims      map[string]*Claim  // by the word that claims, as vocab.Fold makes it
	Formulas    map[*vocab.Yield]*Formula
	Files       []File // that it was read from, in the order of layers and names
	Sheets      []Sheet
	Retired     []Retirement
}

// Compiled is where the condition of a rule is in the program of all.
type Compiled struct {
	If, Whole condition.Ref // its "if", and that with "unless"
	End       int           // its nodes end before this one
}

// File is one file of a layer as read.
type File struct {
	Layer  string
	Path   string // within the layer, with slashes
	Source *diag.Source
}

// Retirement records that a layer took a lower layer's sheet away.
type Retirement struct {
	Kind               SheetKind
	ID, Because, Layer string
	Span               diag.Span
}

// Place is where a sheet was read.
type Place struct {
	Layer    string
	Span     diag.Span
	Replaces string // the id of the lower layer's sheet that it stands in for; of a draft, that it is to stand in for
	Because  string
}

// Node finds a material or group by id, or nil.
func (rs *Ruleset) Node(id string) *Material {
	return find(rs.Nodes, id, func(m *Material) string { return m.ID })
}

// Test finds a test by id, or nil.
func (rs *Ruleset) Test(id string) *Test {
	return find(rs.Tests, id, func(t *Test) string { return t.ID })
}

// Rule finds a rule by id, or nil.
func (rs *Ruleset) Rule(id string) *Rule {
	return find(rs.Rules, id, func(r *Rule) string { return r.ID })
}

func find[T any](sorted []*T, id string, of func(*T) string) *T {
	i, ok := slices.BinarySearchFunc(sorted, id, func(t *T, id string) int { return cmp.Compare(of(t), id) })
	if !ok {
		return nil
	}
	return sorted[i]
}

// NodeIDs lists the materials and groups, sorted.
func (rs *Ruleset) NodeIDs() []string {
	return english.Each(rs.Nodes, func(m *Material) string { return m.ID })
}

// TestIDs lists the tests, sorted.
func (rs *Ruleset) TestIDs() []string {
	return english.Each(rs.Tests, func(t *Test) string { return t.ID })
}

// RuleIDs lists the rules, sorted.
func (rs *Ruleset) RuleIDs() []string {
	return english.Each(rs.Rules, func(r *Rule) string { return r.ID })
}

// Fact finds a fact by name, or nil.
func (rs *Ruleset) Fact(name string) *Fact {
	return find(rs.Facts, name, func(f *Fact) string { return f.Name })
}

// NodeOrWas finds a material or group by its id or one that it bore earlier, or nil.
func (rs *Ruleset) NodeOrWas(id string) *Material {
	if m := rs.Node(id); m != nil {
		return m
	}
	for _, m := range rs.Nodes {
		if slices.Contains(m.Was, id) {
			return m
		}
	}
	return nil
}

// SettersAside are the active rules that may set an observable aside, by its slot in the scope, each list in the order
// of Order.
func (rs *Ruleset) SettersAside() map[int][]*Rule {
	out := map[int][]*Rule{}
	for _, r := range rs.Order {
		for _, o := range r.SetsAside {
			if r.Status == Active {
				out[o.Index] = append(out[o.Index], r)
			}
		}
	}
	return out
}

// Forbidders are the active rules that forbid a test, by its id, each list in the order of Order. A draft forbids
// nothing.
func (rs *Ruleset) Forbidders() map[string][]*Rule {
	out := map[string][]*Rule{}
	for _, r := range rs.Order {
		for _, test := range r.Forbids {
			if r.Status == Active {
				out[test] = append(out[test], r)
			}
		}
	}
	return out
}

// Table finds a rule table by id, or nil.
func (rs *Ruleset) Table(id string) *Table {
	return find(rs.Tables, id, func(t *Table) string { return t.ID })
}

// Drafts lists the rules in draft, rows of tables too, sorted by id.
func (rs *Ruleset) Drafts() []*Rule {
	return slices.DeleteFunc(slices.Clone(rs.Rules), func(r *Rule) bool { return r.Status != Draft })
}

// Claim is what a word claims, or nil when nobody here knows the word.
func (rs *Ruleset) Claim(word string) *Claim { return rs.Claims[vocab.Fold(word)] }

// ClaimWords lists the words that are known, sorted.
func (rs *Ruleset) ClaimWords() []string { return slices.Sorted(maps.Keys(rs.Claims)) }

// Claimable lists the words by which people claim, sorted: the policy's, and the names of what a verdict may name. Ids
// are understood too, and so are names of groups that only hold the tree together or say in brackets what is meant, but
// nobody claims by them.
func (rs *Ruleset) Claimable() []string {
	words := map[string]bool{}
	for _, e := range rs.Policy.Claims {
		words[e.Word] = true
	}
	for _, m := range rs.Nodes {
		for _, name := range append([]string{m.Name}, m.Also...) {
			if m.Parent != nil && (m.Nameable || !m.Group) && !strings.Contains(name, "(") {
				words[vocab.Fold(name)] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(words))
}

// ShortDigest is as much of a ruleset's name as people are shown.
func ShortDigest(digest string) string {
	digest = strings.TrimPrefix(digest, "sha256:")
	return digest[:min(12, len(digest))]
}
