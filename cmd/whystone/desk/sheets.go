package desk

import (
	"errors"
	"net/http"
	"path"
	"slices"
	"strings"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// sheetRoutes are what the ruleset says of materials, tests and rules.
var sheetRoutes = []route{
	{"GET", "/materials", users.Look, listMaterials, "Materials"},
	{"GET", "/materials/{id}", users.Look, showMaterial, ""},
	{"GET", "/tests", users.Look, listTests, "Tests"},
	{"GET", "/tests/{id}", users.Look, showTest, ""},
	{"GET", "/rules", users.Look, listRules, "Rules"},
	{"GET", "/rules/{id}", users.Look, showRule, ""},
}

// ruleset is that of now.
func (a *asked) ruleset() *kb.Ruleset { return a.desk.now().Ruleset }

// missing is the answer where no sheet has a name.
func missing(err error) error {
	if _, ok := errors.AsType[*catalog.Missing](err); !ok {
		return err
	}
	says := err.Error()
	return &problem{Status: http.StatusNotFound, Says: strings.ToUpper(says[:1]) + says[1:] + "."}
}

// node is a material or group in the list, as deep in the tree as it stands.
type node struct {
	*kb.Material
	Depth int
}

// materialList is what the list of materials shows.
type materialList struct {
	Search string
	Nodes  []node
}

// listMaterials lists the tree, or what of it has a word in one of its names.
func listMaterials(a *asked) (*page, error) {
	rs := a.ruleset()
	v := &materialList{Search: strings.TrimSpace(a.URL.Query().Get("search"))}
	data := []catalog.Material{}
	var add func(m *kb.Material, depth int)
	add = func(m *kb.Material, depth int) {
		if v.Search == "" || hasWord(v.Search, slices.Concat([]string{m.ID, m.Name, m.Formula}, m.Also, m.Was)) {
			if v.Search != "" {
				depth = 0
			}
			v.Nodes = append(v.Nodes, node{m, depth})
			data = append(data, catalog.OfMaterial(rs, m))
		}
		for _, kid := range m.Kids {
			add(kid, depth+1)
		}
	}
	for _, m := range rs.Nodes {
		if m.Parent == nil {
			add(m, 0)
		}
	}
	return &page{Template: "materials", Title: "Materials", View: v, Data: data}, nil
}

// hasWord tells whether one of the names holds what is looked for, whatever the case of letters.
func hasWord(search string, names []string) bool {
	search = vocab.Fold(search)
	return slices.ContainsFunc(names, func(n string) bool { return strings.Contains(vocab.Fold(n), search) })
}

// materialSheet is what the page of a material shows.
type materialSheet struct {
	catalog.Material
	Kids   []*kb.Material
	Path   []*kb.Material // above it
	Rules  []*kb.Rule     // that speak of it
	Names  []*kb.Material // what it may be laid beside
	Beside *kb.Material
	Lines  terminal.Comparison
}

// showMaterial shows a sheet, and with beside= the sheet of another next to it.
func showMaterial(a *asked) (*page, error) {
	rs := a.ruleset()
	m, err := catalog.FindMaterial(rs, a.PathValue("id"))
	if err != nil {
		return nil, missing(err)
	}
	v := &materialSheet{Material: catalog.OfMaterial(rs, m), Kids: m.Kids, Rules: rulesAbout(rs, m), Names: rs.Nodes}
	for up := m.Parent; up != nil; up = up.Parent {
		v.Path = slices.Insert(v.Path, 0, up)
	}
	p := &page{Template: "material", Title: m.Name, View: v, Data: v.Material}
	if name := a.URL.Query().Get("beside"); name != "" {
		if v.Beside, err = catalog.FindMaterial(rs, name); err != nil {
			return nil, missing(err)
		}
		v.Lines = terminal.Compare(rs, m, v.Beside)
		p.Template, p.Title, p.Data = "beside", m.Name+" beside "+v.Beside.Name, v.Lines
	}
	return p, nil
}

// rulesAbout are the rules that exclude a material, weigh it or keep its name back, by a set that is not of everything.
func rulesAbout(rs *kb.Ruleset, m *kb.Material) []*kb.Rule {
	touches := func(leaves []int) bool {
		return len(leaves) < len(rs.Leaves) && slices.ContainsFunc(leaves,
			func(i int) bool { return slices.Contains(m.Leaves, i) })
	}
	return slices.DeleteFunc(slices.Clone(rs.Rules), func(r *kb.Rule) bool {
		return !(r.Excludes != nil && touches(r.Excludes.Leaves) || r.Withholds != nil && touches(r.Withholds.Leaves) ||
			slices.ContainsFunc(r.Weights, func(w kb.Weight) bool { return touches(w.Leaves) }))
	})
}

func listTests(a *asked) (*page, error) {
	rs := a.ruleset()
	var v struct{ Harmless, Never []*kb.Test }
	for _, t := range rs.Tests {
		if t.Harmless() {
			v.Harmless = append(v.Harmless, t)
		} else {
			v.Never = append(v.Never, t)
		}
	}
	data := append([]catalog.Test{}, english.Each(rs.Tests, catalog.OfTest)...)
	return &page{Template: "tests", Title: "Tests", View: v, Data: data}, nil
}

func showTest(a *asked) (*page, error) {
	rs := a.ruleset()
	t, err := catalog.FindTest(rs, a.PathValue("id"))
	if err != nil {
		return nil, missing(err)
	}
	data := catalog.OfTest(t)
	return &page{Template: "test", Title: t.Name, View: data, Data: data}, nil
}

// topic is a file of rules.
type topic struct {
	Name  string
	Rules []*kb.Rule
}

// ruleList is what the list of rules shows.
type ruleList struct {
	Digest string
	About  *kb.Material // only those that speak of it
	Topics []topic
	Gone   []kb.Retirement
}

// listRules lists rules by topic; with about= those that speak of a material.
func listRules(a *asked) (*page, error) {
	rs := a.ruleset()
	v := &ruleList{Digest: rs.Digest, Gone: rs.Retired}
	list := rs.Rules
	if name := a.URL.Query().Get("about"); name != "" {
		m, err := catalog.FindMaterial(rs, name)
		if err != nil {
			return nil, missing(err)
		}
		v.About, list, v.Gone = m, rulesAbout(rs, m), nil
	}
	names, by := english.Grouped(list, topicOf)
	slices.Sort(names)
	v.Topics = english.Each(names, func(name string) topic { return topic{name, by[name]} })
	data := english.Each(list, func(r *kb.Rule) catalog.Rule { return catalog.OfRule(rs, r) })
	return &page{Template: "rules", Title: "Rules", View: v, Data: append([]catalog.Rule{}, data...)}, nil
}

// topicOf names the topic of a rule: its file, and its layer.
func topicOf(r *kb.Rule) string {
	spot := r.Place.Span.Spot()
	base := path.Base(spot.File)
	return phrase.InWords(strings.ReplaceAll(strings.TrimSuffix(base, path.Ext(base)), "-", " ")) + ", " + r.Place.Layer
}

// showRule shows a rule, or a table with its rows.
func showRule(a *asked) (*page, error) {
	rs := a.ruleset()
	x, err := catalog.FindRuleOrTable(rs, a.PathValue("id"))
	if err != nil {
		return nil, missing(err)
	}
	if x.Table != nil {
		data := catalog.OfTable(rs, x.Table)
		return &page{Template: "table", Title: x.Table.ID, View: data, Data: data}, nil
	}
	data := catalog.OfRule(rs, x.Rule)
	return &page{Template: "rule", Title: x.Rule.ID, View: data, Data: data}, nil
}
