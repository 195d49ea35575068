package kb

import (
	"slices"

	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/vocab"
)

// Claim is what a word claims of a stone.
type Claim struct {
	Word    string
	Node    *Material
	Origin  string   // demanded; empty: any
	Colours []string // demanded; empty: any
	Leaves  []int    // the leaves at or below Node with the demanded origin, rising; with a group's only listed leaf the others of its origin
}

// Means is the node that the claim comes to: the only leaf that fits it, else its node.
func (c *Claim) Means(rs *Ruleset) *Material {
	if len(c.Leaves) == 1 && !rs.Leaves[c.Leaves[0]].Other {
		return rs.Leaves[c.Leaves[0]]
	}
	return c.Node
}

// Group is the nearest nameable node above what is claimed, without origin and colour: the claim's own node when that
// is wider than the claim, else the next above; nil when there is none.
func (c *Claim) Group(rs *Ruleset) *Material {
	if c.Node.Nameable && (len(c.Leaves) < len(c.Node.Leaves) || len(c.Colours) > 0) {
		return c.Node
	}
	return c.Node.NameableAbove()
}

// Claim is what a word claims, or nil when nobody here knows the word.
func (rs *Ruleset) Claim(word string) *Claim { return rs.claims[vocab.Fold(word)] }

// ClaimWords lists the words that are known, sorted.
func (rs *Ruleset) ClaimWords() []string { return sortedKeys(rs.claims) }

// buildClaims gathers the names of materials and groups, and over them the policy's words. A bare species name means the
// natural stone (ISO 18323 for diamond; for other species common practice).
func buildClaims(rs *Ruleset, out *diag.List) map[string]*Claim {
	claims := map[string]*Claim{}
	mapped := func(word string) bool {
		return slices.ContainsFunc(rs.Policy.Claims, func(e ClaimEntry) bool { return e.Word == word })
	}
	// Groups first, then leaves: a name that both bear claims the leaf.
	for _, groups := range []bool{true, false} {
		for _, m := range rs.Nodes {
			if m.Group != groups || m.Parent == nil {
				continue
			}
			origin := ""
			if m.Group && slices.ContainsFunc(m.Leaves, func(i int) bool { return rs.Leaves[i].From == "natural" }) {
				origin = "natural"
			}
			for _, word := range append([]string{m.Name, m.ID}, m.Also...) {
				word = vocab.Fold(word)
				old := claims[word]
				if old != nil && old.Node != m && !m.Under(old.Node) && !old.Node.Under(m) && !mapped(word) {
					reportSameName(word, old.Node, m, out)
				}
				if old == nil || old.Node.Group && !m.Group {
					claims[word] = newClaim(rs, word, m, origin, nil)
				}
			}
		}
	}
	for _, e := range rs.Policy.Claims {
		node := rs.Node(e.Node)
		if node == nil {
			out.Errorf(diag.UnknownMaterial, e.node.Span, "the claim %q names %q, which is no material or group", e.Word, e.Node).
				Nearest = diag.Nearest(e.Node, rs.NodeIDs())
			continue
		}
		c := newClaim(rs, e.Word, node, e.Origin, e.Colours)
		if len(c.Leaves) == 0 {
			out.Errorf(diag.BadPolicy, e.Span, "nothing under %s is %s: the claim %q can't stand", e.Node, e.Origin, e.Word)
		}
		if o := rs.Vocabulary.Observable("colour"); len(e.Colours) > 0 {
			for i, w := range e.Colours {
				if o == nil || !slices.Contains(o.Words(), w) {
					d := out.Errorf(diag.UnknownChoice, e.colours[i].Span, "the claim %q demands the colour %q, which no test gives", e.Word, w)
					if o != nil {
						d.Nearest = diag.Nearest(w, o.Words())
					}
				}
			}
		}
		claims[e.Word] = c
	}
	return claims
}

// reportSameName refuses a name that two nodes bear of which neither lies under the other: a claim of it could mean either.
func reportSameName(word string, a, b *Material, out *diag.List) {
	d := out.Errorf(diag.DuplicateName, b.nameSpan(word), "%q is a name of %s and of %s: which of them is claimed by it?", word, a.ID, b.ID)
	d.Detail = "Take the name from one of them, or say in the policy's claims what the word means."
	d.Related = []diag.Related{{Span: a.nameSpan(word), Says: a.ID + " bears it here"}}
}

// nameSpan is where a node's sheet writes a name, folded.
func (m *Material) nameSpan(word string) diag.Span {
	also, _ := m.at.Get("also").ListOrOne(&diag.List{}) // read without errors before
	for _, n := range append([]*doc.Node{m.at.Get("name")}, also...) {
		if n != nil && vocab.Fold(n.Text) == word {
			return n.Span
		}
	}
	return m.Origin.Span
}

func newClaim(rs *Ruleset, word string, node *Material, origin string, colours []string) *Claim {
	c := &Claim{Word: word, Node: node, Origin: origin, Colours: colours}
	if !node.Group {
		// The word for a group's only listed leaf is the word for what is like it but for the sheet.
		for _, i := range rs.onlyListed(node).Leaves {
			if from := rs.Leaves[i].From; from == node.From && (origin == "" || from == origin) {
				c.Leaves = append(c.Leaves, i)
			}
		}
		return c
	}
	for _, i := range node.Leaves {
		if origin == "" || rs.Leaves[i].From == origin {
			c.Leaves = append(c.Leaves, i)
		}
	}
	return c
}
