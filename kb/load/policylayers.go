package load

import (
	"slices"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// policyNode is the policy of all layers, merged key by key; lists are replaced whole.
type policyNode struct{ node *syntax.Node }

// layerPolicy joins what the files of one layer say of the policy; none has precedence, so a key that two of them give
// is an error.
func layerPolicy(roots []*syntax.Node, out *diag.List) *syntax.Node {
	var all *syntax.Node
	for _, root := range roots {
		p := root.Get("policy")
		if p.IsNull() {
			continue
		}
		if _, ok := p.Map(out); !ok {
			continue
		}
		if all == nil {
			all = p
			continue
		}
		refuseShared(all, p, out)
		all = mergeMaps(all, p)
	}
	return all
}

func refuseShared(a, b *syntax.Node, out *diag.List) {
	for _, e := range b.Entries {
		i := slices.IndexFunc(a.Entries, func(o syntax.Entry) bool { return o.Key.Text == e.Key.Text })
		switch {
		case i < 0:
		case e.Value.Kind == syntax.Map && a.Entries[i].Value.Kind == syntax.Map:
			refuseShared(a.Entries[i].Value, e.Value, out)
		default:
			out.Errorf(diag.DuplicateKey, e.Key.Span, "two files of one layer say %q in the policy", e.Key.Text).
				Related = []diag.Related{{Span: a.Entries[i].Key.Span, Says: "the other"}}
		}
	}
}

func (p *policyNode) merge(over *syntax.Node) {
	switch {
	case over == nil:
	case p.node == nil:
		p.node = over
	default:
		p.node = mergeMaps(p.node, over)
	}
}

func mergeMaps(under, over *syntax.Node) *syntax.Node {
	merged := *over
	merged.Entries = slices.Clone(under.Entries)
	for _, e := range over.Entries {
		i := slices.IndexFunc(merged.Entries, func(o syntax.Entry) bool { return o.Key.Text == e.Key.Text })
		switch {
		case i < 0:
			merged.Entries = append(merged.Entries, e)
		case e.Value.Kind == syntax.Map && merged.Entries[i].Value.Kind == syntax.Map:
			merged.Entries[i].Value = mergeMaps(merged.Entries[i].Value, e.Value)
		default:
			merged.Entries[i] = e
		}
	}
	return &merged
}
