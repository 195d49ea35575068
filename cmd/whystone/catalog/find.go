// Package catalog finds the sheets of a ruleset by any of their names, and gives them the shape in which they are
// written as JSON.
package catalog

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Missing says that nothing has a name, or that several things have it.
type Missing struct {
	Kind    string // material, test or rule
	Name    string
	Nearest string         // the known name that was perhaps meant
	Several []string       // the ids of all that have the name
	Retired *kb.Retirement // of the sheet that had the name
}

// Error says it in a sentence.
func (m *Missing) Error() string {
	if len(m.Several) > 0 {
		return "several have the name \"" + m.Name + "\": " + strings.Join(m.Several, ", ") + "; give an id"
	}
	if r := m.Retired; r != nil {
		return fmt.Sprintf("the %s %q is retired by the layer %s, because: %s", r.Kind, r.ID, r.Layer,
			strings.TrimRight(r.Because, "."))
	}
	return "no " + m.Kind + " has the name \"" + m.Name + "\"" + diag.Meant(m.Nearest)
}

// named is anything with an id and other names.
type named struct {
	id    string
	names []string
}

// find finds the one thing with a name: by its id, else by any other name, whatever the case of letters. What is not
// found may be a slip of other words too.
func find(rs *kb.Ruleset, kind, name string, all []named, words ...string) (int, error) {
	name = vocab.Fold(name)
	if i := slices.IndexFunc(all, func(n named) bool { return n.id == name }); i >= 0 {
		return i, nil
	}
	at := -1
	var several, ids, names []string
	for i, n := range all {
		ids, names = append(ids, n.id), append(names, n.names...)
		if slices.ContainsFunc(n.names, func(w string) bool { return vocab.Fold(w) == name }) {
			at, several = i, append(several, n.id)
		}
	}
	switch len(several) {
	case 0:
		return 0, &Missing{Kind: kind, Name: name, Nearest: nearest(name, ids, append(names, words...)),
			Retired: retired(rs, kind, name)}
	case 1:
		return at, nil
	}
	return 0, &Missing{Kind: kind, Name: name, Several: several}
}

// retired is how a layer took away the sheet of that id; nil if none did.
func retired(rs *kb.Ruleset, kind, id string) *kb.Retirement {
	i := slices.IndexFunc(rs.Retired, func(r kb.Retirement) bool {
		return r.ID == id && slices.Contains(sheetsOf[kind], r.Kind)
	})
	if i < 0 {
		return nil
	}
	return &rs.Retired[i]
}

// nearest is the known name that was perhaps meant; where it is an id in other words, the id.
func nearest(name string, ids, names []string) string {
	near := diag.Nearest(name, slices.Concat(ids, names))
	if id := strings.ReplaceAll(near, " ", "-"); slices.Contains(ids, id) {
		return id
	}
	return near
}

// What is looked for: in the sentence that says that there is none.
const (
	materialOrGroup = "material or group"
	procedure       = "procedure"
	rule            = "rule"
)

// sheetsOf are the kinds of sheets that have what is looked for.
var sheetsOf = map[string][]kb.SheetKind{
	materialOrGroup: {kb.MaterialSheet, kb.GroupSheet},
	procedure:       {kb.TestSheet},
	rule:            {kb.RuleSheet, kb.TableSheet},
}

// FindMaterial finds a material or group by its id, name, another name, a former id, or a word that claims it.
func FindMaterial(rs *kb.Ruleset, name string) (*kb.Material, error) {
	i, err := find(rs, materialOrGroup, name, english.Each(rs.Nodes, func(m *kb.Material) named {
		return named{m.ID, slices.Concat([]string{m.Name}, m.Also, m.Was)}
	}), rs.ClaimWords()...)
	if err == nil {
		return rs.Nodes[i], nil
	}
	if missing, ok := errors.AsType[*Missing](err); ok && len(missing.Several) == 0 {
		if c := rs.Claim(name); c != nil {
			return c.Means(rs), nil
		}
	}
	return nil, err
}

// FindTest finds a test by its id, name, another name, a former id, or an observable that its sheet declares.
func FindTest(rs *kb.Ruleset, name string) (*kb.Test, error) {
	i, err := find(rs, procedure, name, english.Each(rs.Tests, func(t *kb.Test) named {
		n := named{t.ID, slices.Concat([]string{t.Name}, t.Also, t.Was)}
		for _, y := range t.Yields {
			if y.Observable.Test == t.ID {
				n.names = append(append(n.names, y.Observable.Name, strings.ReplaceAll(y.Observable.Name, "_", " ")),
					y.Observable.Also...)
			}
		}
		return n
	}))
	if err != nil {
		return nil, err
	}
	return rs.Tests[i], nil
}
