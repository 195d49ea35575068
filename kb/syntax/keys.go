package syntax

import "whystone/kb/diag"

// maxReports is how many refusals are reported of one text; one that has more is not worth more memory.
const maxReports = 1000

// reporter adds refusals to a list until there are too many.
type reporter struct {
	out  *diag.List
	said int
}

// errorf is [diag.List.Errorf]; what is beyond the limit goes nowhere.
func (r *reporter) errorf(code diag.Code, sp diag.Span, format string, args ...any) *diag.Diagnostic {
	if r.said++; r.said > maxReports {
		return &diag.Diagnostic{}
	}
	return r.out.Errorf(code, sp, format, args...)
}

// keySet notices keys that are given twice. Small mappings are searched, large ones indexed.
type keySet map[string]*Node

const indexFrom = 12

// add appends an entry to the mapping, unless its key is there already, which is reported with both places.
func (k *keySet) add(n *Node, e Entry, r *reporter) {
	if first := k.find(n, e.Key); first != nil && !e.Key.bad {
		d := r.errorf(diag.DuplicateKey, e.Key.Span, "the key %q is given twice", short(e.Key.Text))
		d.Related = []diag.Related{{Span: first.Span, Says: "it is given here first"}}
		if first == n.Entries[0].Key && e.Key.Style == Plain &&
			first.Span.Position().Line < e.Key.Span.Position().Line {
			d.Detail = "If something new begins here, it is parted from what is above: a case by a line of three " +
				"dashes, ---, what stands in a list by a dash."
		}
		return
	}
	n.Entries = append(n.Entries, e)
	switch {
	case len(n.Entries) == indexFrom:
		*k = keySet{}
		for _, e := range n.Entries {
			(*k)[e.Key.Text] = e.Key
		}
	case len(n.Entries) > indexFrom:
		(*k)[e.Key.Text] = e.Key
	}
}

func (k keySet) find(n *Node, key *Node) *Node {
	if len(n.Entries) >= indexFrom {
		return k[key.Text]
	}
	for _, e := range n.Entries {
		if e.Key.Text == key.Text {
			return e.Key
		}
	}
	return nil
}
