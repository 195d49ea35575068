package load

import (
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// nearestNode is the material or group that was perhaps meant by an id that none has: one that has it as a name, one of a
// near id or name, or those whose ids have all of its words.
func nearestNode(rs *kb.Ruleset, id string) (nearest, detail string) {
	if group, _, of := strings.Cut(id, ":"); of && rs.Node(group) != nil {
		return group, "The others of a group are named by the group alone."
	}
	word := vocab.Fold(strings.ReplaceAll(id, "-", " "))
	if i := slices.IndexFunc(rs.Nodes, func(m *kb.Material) bool {
		return strings.ReplaceAll(m.ID, "-",
			" ") == word
	}); i >= 0 {
		return rs.Nodes[i].ID, ""
	}
	if c := rs.Claim(word); c != nil {
		return claimed(rs, c, word), ""
	}
	if near := diag.NearestOf(id, rs.NodeIDs(), rs.ClaimWords()); near != "" && rs.Node(near) == nil {
		return claimed(rs, rs.Claim(near), near), ""
	}
	return nearestID(id, rs.NodeIDs())
}

// nearestID is the id that was perhaps meant by one that is not known: a near one, or one that has all of its words; of
// several of these it tells.
func nearestID(id string, ids []string) (nearest, detail string) {
	if nearest = diag.NearestOrAbbreviated(id, ids); nearest != "" && nearest != id {
		return nearest, ""
	}
	words := strings.Fields(strings.NewReplacer("-", " ", "_", " ").Replace(strings.ToLower(id)))
	var with []string
	for _, known := range ids {
		has := strings.Split(known, "-")
		if len(words) > 1 && known != id && !slices.ContainsFunc(words,
			func(w string) bool { return !slices.Contains(has, w) }) {
			with = append(with, known)
		}
	}
	const most = 4
	switch {
	case len(with) == 1:
		return with[0], ""
	case len(with) > 1 && len(with) <= most:
		return "", "Perhaps one of: " + strings.Join(with, ", ") + "."
	}
	return "", ""
}

// claimed is the id of what a claim's word names: the node that bears it as a name, else what the policy says that it
// means.
func claimed(rs *kb.Ruleset, c *kb.Claim, word string) string {
	if vocab.Fold(c.Node.Name) == word || slices.ContainsFunc(c.Node.Also,
		func(a string) bool { return vocab.Fold(a) == word }) {
		return c.Node.ID
	}
	return c.Means(rs).ID
}

// materialHint says where the properties of materials are named; "" of what is none of them.
func materialHint(scope *condition.Scope, name string) string {
	of, isMaterial := strings.CutPrefix(name, "material.")
	if !isMaterial && name != "material" {
		return ""
	}
	says := "A condition is about the stone and its readings. Properties of materials are named under where:, as in " +
		"excludes: {where: '" + name + " ...'}."
	if of, _, _ = strings.Cut(of, "."); scope.Symbol(of) != nil {
		says += " What was read of the stone is " + of + "."
	}
	return says
}

// stoneHint says what may not be named in a "where" although conditions may name it.
func stoneHint(scope *condition.Scope, name string) string {
	if scope.Definition(name) != nil {
		return name + " is a definition, which is about the stone and its readings; a where asks what the materials' " +
			"sheets say."
	}
	if scope.Symbol(name) == nil {
		return ""
	}
	return "A where is decided once, by what the materials' sheets say; " + name +
		" is of the stone. Ask for it under if:."
}

// testsThatGive says which tests give the observable whose name stands where a test is named; "" of what is none.
func testsThatGive(v *vocab.Vocabulary, name string) string {
	o := v.Observable(strings.ReplaceAll(strings.ToLower(name), "-", "_"))
	if o == nil {
		return ""
	}
	var by []string
	for _, y := range v.Yields {
		if y.Observable == o {
			by = append(by, y.Test)
		}
	}
	return o.Name + " is what tests give: " + strings.Join(by, ", ") + "."
}
