package kb

// Claim is what a word claims of a stone.
type Claim struct {
	Word    string
	Node    *Material
	Origin  Origin   // demanded; empty: any
	Colours []string // demanded; empty: any
	// the leaves at or below Node with the demanded origin, rising; with a group's only listed leaf the others of its
	// origin
	Leaves []int
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
