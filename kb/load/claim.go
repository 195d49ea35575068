package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// buildClaims gathers the names of materials and groups, and over them the policy's words. A bare species name means
// the natural stone (ISO 18323 for diamond; for other species common practice).
func buildClaims(rs *kb.Ruleset, at map[*kb.Material]*sheet, policy *sheet, out *diag.List) map[string]*kb.Claim {
	claims := map[string]*kb.Claim{}
	mapped := map[string]kb.ClaimEntry{}
	for _, e := range rs.Policy.Claims {
		mapped[e.Word] = e
	}
	// Groups first, then leaves: a name that both bear claims the leaf.
	for _, groups := range []bool{true, false} {
		for _, m := range rs.Nodes {
			if m.Group != groups || m.Parent == nil {
				continue
			}
			origin := kb.Origin("")
			if m.Group && slices.ContainsFunc(m.Leaves, func(i int) bool { return rs.Leaves[i].Origin == kb.Natural }) {
				origin = kb.Natural
			}
			for _, word := range append([]string{m.Name, m.ID}, m.Also...) {
				word = vocab.Fold(word)
				entry, isMapped := mapped[word]
				if isMapped && (m.Origin == kb.Imitation || m.Origin == kb.Assembled) {
					imitates(word, at[m], m, rs.Node(entry.Node), entry.Span, out)
				}
				old := claims[word]
				// a verdict of one would read as of the other
				both := old != nil && vocab.Fold(old.Node.Name) == word && vocab.Fold(m.Name) == word
				if old != nil && old.Node != m && !m.Under(old.Node) && !old.Node.Under(m) && (both || !isMapped) {
					first, second := at[old.Node], at[m]
					if slices.Index(rs.Layers, first.layer) > slices.Index(rs.Layers, second.layer) {
						first, second = second, first // it is told in the higher layer, whose author can change it
					}
					reportSameName(word, first, second, out)
				}
				if old == nil || old.Node.Group && !m.Group {
					claims[word] = newClaim(rs, word, m, origin, nil)
				}
			}
		}
	}
	for _, e := range rs.Policy.Claims {
		written := entryWith(policy.Get("claims"), e.Span)
		node := rs.Node(e.Node)
		if node == nil {
			policy.unknown(diag.UnknownMaterial, written.Get("node"), e.Node, rs.NodeIDs(),
				"the claim %q names %q, which is no material or group", e.Word, e.Node)
			continue
		}
		c := newClaim(rs, e.Word, node, e.Origin, e.Colours)
		if len(c.Leaves) == 0 {
			out.Errorf(diag.BadPolicy, e.Span, "nothing under %s is %s: the claim %q can't stand", e.Node, e.Origin,
				e.Word)
		}
		if o := rs.Vocabulary.Observable("colour"); len(e.Colours) > 0 {
			at := policy.quiet().textNodes(written, "colour")
			for i, w := range e.Colours {
				if o == nil || !slices.Contains(o.Words(), w) {
					d := out.Errorf(diag.UnknownChoice, at[i].Span,
						"the claim %q demands the colour %q, which no test gives", e.Word, w)
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

// entryWith is the value of the key that stands in a place.
func entryWith(n *syntax.Node, key diag.Span) *syntax.Node {
	for _, e := range n.Entries {
		if e.Key.Span == key {
			return e.Value
		}
	}
	return nil
}

// reportSameName refuses a name that two nodes bear of which neither lies under the other: a claim of it could mean
// either.
func reportSameName(word string, a, b *sheet, out *diag.List) {
	d := out.Errorf(diag.DuplicateName, b.nameSpan(word),
		"%q is a name of %s and of %s: which of them is claimed by it?", word, a.id, b.id)
	d.Detail = "Take the name from one of them, or say in the policy's claims what the word means."
	if text := b.Get("name"); text != nil && vocab.Fold(text.Text) == word && vocab.Fold(a.Get("name").Text) == word {
		d.Detail = "Verdicts name a material so. Give one of them another name."
	}
	d.Related = []diag.Related{{Span: a.nameSpan(word), Says: a.id + " bears it here"}}
}

// imitates refuses an imitation that bears a word by which the policy says another material is claimed: what imitates a
// stone has no right to its name, and the policy's word would hide that.
func imitates(word string, s *sheet, m, means *kb.Material, says diag.Span, out *diag.List) {
	if means == nil || m == means || m.Under(means) || means.Under(m) {
		return
	}
	d := out.Errorf(diag.DuplicateName, s.nameSpan(word),
		"%q is a name of %s, which is no natural or grown stone, and the policy's claims say that it means %s", word,
		m.ID, means.ID)
	d.Detail = "Take the name from " + m.ID + ": whoever claims it claims " + means.ID + "."
	d.Related = []diag.Related{{Span: says, Says: "the claim"}}
}

// nameSpan is where a node's sheet writes a name, folded.
func (s *sheet) nameSpan(word string) diag.Span {
	also, _ := s.Get("also").ListOrOne(&diag.List{}) // read without errors before
	for _, n := range append([]*syntax.Node{s.Get("name")}, also...) {
		if n != nil && vocab.Fold(n.Text) == word {
			return n.Span
		}
	}
	return s.place.Span
}

func newClaim(rs *kb.Ruleset, word string, node *kb.Material, origin kb.Origin, colours []string) *kb.Claim {
	c := &kb.Claim{Word: word, Node: node, Origin: origin, Colours: colours}
	under := node
	if !node.Group {
		under = onlyListed(rs, node) // the word for its only listed leaf is that for what is like it but for the sheet
	}
	for _, i := range under.Leaves {
		from := rs.Leaves[i].Origin
		if (node.Group || from == node.Origin) && (origin == "" || from == origin) {
			c.Leaves = append(c.Leaves, i)
		}
	}
	return c
}
