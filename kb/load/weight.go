package load

import (
	"cmp"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// chosen is a selection as a rule writes it, which may take in what is not listed.
type chosen struct {
	kb.Selection
	ids      []string // of the materials and groups
	unlisted bool
}

// selection reads a list of materials and groups, {where: condition}, or {materials: [...]}. What is not listed may be
// among them where no reason is given why it can't be.
func (b *ruleBuilder) selection(s *sheet, v *syntax.Node, noUnlisted string) *chosen {
	list := v
	if v.Kind == syntax.Map {
		list = v.Get("materials")
		if w := v.Get("where"); w != nil {
			if list != nil {
				s.errorf(diag.GivenTwice, v, "materials are listed or told by \"where\", not both")
				return nil
			}
			if sel := b.selectWhere(s, w); sel != nil {
				return &chosen{Selection: *sel}
			}
			return nil
		}
		if list == nil {
			s.errorf(diag.MissingKey, v, "which materials? Give \"materials\" or \"where\"")
			return nil
		}
	}
	return b.nodes(s, list, noUnlisted)
}

// nodes reads a list of materials and groups.
func (b *ruleBuilder) nodes(s *sheet, list *syntax.Node, noUnlisted string) *chosen {
	sel := &chosen{}
	items, _ := list.ListOrOne(s.out)
	var names []string
	for _, it := range items {
		id, ok := it.Str(s.out)
		if !ok {
			continue
		}
		if id == kb.Unlisted {
			if noUnlisted != "" {
				s.errorf(diag.NotAllowed, it, "%q can't be named here", kb.Unlisted).Detail = noUnlisted +
					" It may be named under supports and weakens."
				continue
			}
			names, sel.unlisted = append(names, id), true
			continue
		}
		m := b.rs.Node(id)
		if m == nil {
			d := s.errorf(diag.UnknownMaterial, it, "no material or group is called %q", id)
			d.Lacks = id
			if d.Nearest, d.Detail = nearestNode(b.rs, id); d.Nearest == "" && noUnlisted == "" {
				d.Nearest = diag.Nearest(id, []string{kb.Unlisted})
			}
			continue
		}
		names, sel.ids = append(names, id), append(sel.ids, id)
		sel.Leaves = append(sel.Leaves, m.Leaves...)
	}
	if list.Kind == syntax.List && len(items) == 0 {
		s.errorf(diag.MissingKey, list, "no material is named")
	}
	slices.Sort(sel.Leaves)
	sel.Leaves = slices.Compact(sel.Leaves)
	sel.Says = strings.Join(names, ", ")
	return sel
}

func (b *ruleBuilder) weights(s *sheet, r *kb.Rule, key string, against bool) {
	v := s.Get(key)
	if v.IsNull() {
		return
	}
	items, _ := v.ListOrOne(s.out)
	if len(items) > 0 && !slices.ContainsFunc(items, func(it *syntax.Node) bool {
		return it.Kind != syntax.Scalar ||
			it.IsNull()
	}) {
		s.errorf(diag.WrongKind, v, "%q says which materials and how strongly, and this is a mere list", key).
			Detail = "Write: " + key + ": {materials: [" + strings.Join(english.Each(items, textOf), ", ") +
			"], strength: weak}, with the strength that is meant."
		return
	}
	for _, it := range items {
		if !it.Keys(s.out, "materials", "where", "strength", "ratio") {
			continue
		}
		sel := b.selection(s, it, "")
		ratio, word, ok := b.strength(s, r, it)
		if sel == nil || !ok {
			continue
		}
		if against {
			ratio = 1 / ratio
		}
		r.Weights = append(r.Weights, kb.Weight{Selection: sel.Selection, Unlisted: sel.unlisted, Ratio: ratio,
			Strength: word})
	}
}

func (b *ruleBuilder) strength(s *sheet, r *kb.Rule, it *syntax.Node) (ratio float64, word string, ok bool) {
	w, x := it.Get("strength"), it.Get("ratio")
	switch {
	case w != nil && x != nil:
		s.errorf(diag.GivenTwice, x, "a strength is given as a word or as a ratio, not both")
		return 0, "", false
	case w != nil:
		if isNumber(w) {
			s.errorf(diag.WrongKind, w, "a strength is a word, and %s is a number", w.Text).
				Detail = "A number is given as ratio: " + w.Text + ". " + wordsOf(b.rs.Policy.Strength)
			return 0, "", false
		}
		word, ok = w.Str(s.out)
		if !ok {
			return 0, "", false
		}
		if ratio, ok = b.rs.Policy.Strength[word]; !ok {
			if written := b.house.Get("strength"); written.Get(word) != nil || written.IsNull() {
				return 0, "", false // told of the policy
			}
			d := s.errorf(diag.UnknownName, w, "the policy has no strength %q", word)
			d.Nearest, d.Detail = diag.Nearest(word, sortedKeys(b.rs.Policy.Strength)), wordsOf(b.rs.Policy.Strength)
			return 0, "", false
		}
	case x != nil:
		if x.Kind == syntax.Scalar && !x.IsNull() && !strings.ContainsAny(x.Text, "0123456789") {
			d := s.errorf(diag.WrongKind, x, "a ratio is a number, and %q is a word", x.Text)
			if d.Detail = wordsOf(b.rs.Policy.Strength); b.rs.Policy.Strength[x.Text] > 0 {
				d.Detail = "A word is given as strength: " + x.Text + "."
			}
			return 0, "", false
		}
		if ratio, ok = x.Num(s.out); !ok {
			return 0, "", false
		}
		if ratio < 1 {
			s.errorf(diag.BadNumber, x, "a ratio is at least 1; what speaks against materials is written under "+
				"\"weakens\"")
			return 0, "", false
		}
	default:
		s.errorf(diag.MissingKey, it, "how strongly? Give \"strength\" or \"ratio\"")
		return 0, "", false
	}
	if ratio > kb.MaxRatio && r.BackedBy == "" {
		d := s.errorf(diag.TooStrong, it, "a ratio of %g is stronger than %d, and nothing backs it", ratio, kb.MaxRatio)
		d.Detail = "Name the data behind it under backed_by."
		return 0, "", false
	}
	return ratio, word, true
}

// isNumber tells whether a scalar is written as a number, in quotes or not.
func isNumber(n *syntax.Node) bool {
	var none diag.List
	_, ok := syntax.NewWord(strings.TrimSpace(n.Text)).Num(&none)
	return n.Kind == syntax.Scalar && ok
}

// wordsOf lists the words of a scale of the policy, from its lowest.
func wordsOf(scale map[string]float64) string {
	words := sortedKeys(scale)
	slices.SortStableFunc(words, func(x, y string) int { return cmp.Compare(scale[x], scale[y]) })
	return "The words are: " + strings.Join(words, ", ") + "."
}

// withholds reads which names a rule keeps back. Its "until" is looked at when all rules have run, so nothing need come
// before the rule for its sake.
func (b *ruleBuilder) withholds(s *sheet) *kb.Withholding {
	v := s.Get("withholds")
	if v.IsNull() || !v.Keys(s.out, "names", "until", "beside") {
		return nil
	}
	w := &kb.Withholding{Until: b.condition(s, v.Get("until"))}
	names := v.Get("names")
	if names.IsNull() || names.Kind == syntax.List && len(names.Items) == 0 {
		s.errorf(diag.MissingKey, v, "which names are kept back? Give \"names\": materials and groups")
		return w
	}
	chosen := b.nodes(s, names, "What is not listed has no name that could be kept back.")
	w.Names, w.Leaves = chosen.ids, chosen.Leaves
	if beside := v.Get("beside"); !beside.IsNull() {
		chosen := b.nodes(s, beside, "What is not listed has no name to stand in a narrowed list.")
		w.BesideIDs, w.Beside = chosen.ids, chosen.Leaves
	}
	return w
}
