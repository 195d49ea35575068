package load

import (
	"slices"
	"strconv"
	"strings"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/logic"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

var definitionKeys = []string{"define", "takes", "is", "gives", "says", "source", "examples", "note", "was", "replaces",
	"because"}

// kindWords are the words under gives: and for what a parameter is.
var kindWords = map[string]vocab.Kind{"truth": vocab.Truth, "quantity": vocab.Quantity, "word": vocab.Choice}

// definitions reads what the house gave names, and puts it into the scope. Whatever is wrong with one is told once, and
// not where it is used.
func buildDefinitions(rs *kb.Ruleset, sheets []*sheet) map[*kb.Definition]*sheet {
	b := &definitionBuilder{rs: rs, byName: map[string]*condition.Definition{}, sheets: map[string]*sheet{},
		at: map[*kb.Definition]*sheet{}}
	for _, s := range sheets {
		b.sheets[s.id] = s
	}
	for _, s := range sheets {
		b.read(s)
	}
	for _, d := range rs.Definitions {
		d.Link(func(name string) bool { return b.byName[name] != nil })
	}
	b.refuseCircles()
	rs.Scope = rs.Scope.WithDefinitions(b.byName)
	checked := map[string]bool{}
	for _, d := range rs.Definitions {
		b.check(d.Definition, checked)
	}
	return b.at
}

type definitionBuilder struct {
	rs     *kb.Ruleset
	byName map[string]*condition.Definition
	sheets map[string]*sheet
	at     map[*kb.Definition]*sheet
}

func (b *definitionBuilder) read(s *sheet) {
	n := s.Node
	n.Keys(s.out, definitionKeys...)
	d := &kb.Definition{Says: s.needText(n, "says"), Source: s.text(n, "source"), Note: s.text(n, "note"),
		Place: s.place}
	params := b.params(s)
	switch {
	case b.taken(s.id):
		s.errorf(diag.BadID, n.Get("define"), "%q is an observable, a fact or a word of the rule language already",
			s.id)
	case n.Get("is").IsNull():
		s.errorf(diag.MissingKey, n, "the definition %q says not what it \"is\"",
			s.id).Detail = "Write is: and an expression in quotes, as under a rule's if:."
	default:
		if text, ok := s.conditionText(n.Get("is")); ok {
			defer s.commentInCondition(n.Get("is"), len(*s.out))
			d.Definition = condition.ParseDefinition(s.id, params, text, locate(n.Get("is")), b.rs.Scope, s.out)
		}
	}
	if d.Definition == nil {
		d.Definition = &condition.Definition{Name: s.id, Params: params, Broken: true}
	}
	b.byName[s.id], b.at[d] = d.Definition, s
	b.rs.Definitions = append(b.rs.Definitions, d)
}

// taken tells whether a name has a meaning in conditions already.
func (b *definitionBuilder) taken(name string) bool {
	return b.rs.Scope.Symbol(name) != nil || condition.Reserved(name)
}

// params are what a definition takes: names of quantities, or names with what each is.
func (b *definitionBuilder) params(s *sheet) (out []condition.Param) {
	add := func(at *syntax.Node, kind vocab.Kind) {
		switch name := at.Text; {
		case !nameShape.MatchString(name):
			s.errorf(diag.BadID, at, "a parameter's name is lower-case words joined by \"_\"")
		case b.taken(name) || b.sheets[name] != nil:
			s.errorf(diag.BadID, at, "%q has a meaning in conditions already, and can't be a parameter's name", name)
		case slices.ContainsFunc(out, func(p condition.Param) bool { return p.Name == name }):
			s.errorf(diag.GivenTwice, at, "the parameter %q is there twice", name)
		default:
			out = append(out, condition.Param{Name: name, Kind: kind})
		}
	}
	v := s.Get("takes")
	if v.IsNull() {
		return nil
	}
	if v.Kind != syntax.Map {
		for _, it := range s.textNodes(s.Node, "takes") {
			add(it, vocab.Quantity)
		}
		return out
	}
	for _, e := range v.Entries {
		word, ok := e.Value.Str(s.out)
		kind, known := kindWords[word]
		if ok && !known {
			s.errorf(diag.UnknownName, e.Value, "a parameter is a quantity, a truth or a word; %q is none of these",
				word).Nearest = diag.Nearest(word, sortedKeys(kindWords))
		}
		if known {
			add(e.Key, kind)
		}
	}
	return out
}

// refuseCircles refuses definitions that name themselves, however far round, and prints the way.
func (b *definitionBuilder) refuseCircles() {
	done := map[string]bool{}
	var path []string
	var visit func(name string)
	visit = func(name string) {
		if i := slices.Index(path, name); i >= 0 {
			b.circle(append(slices.Clone(path[i:]), name))
			return
		}
		if done[name] {
			return
		}
		path = append(path, name)
		for _, next := range b.byName[name].Uses {
			visit(next)
		}
		path = path[:len(path)-1]
		done[name] = true
	}
	for _, name := range sortedKeys(b.byName) {
		visit(name)
	}
}

func (b *definitionBuilder) circle(way []string) {
	first := b.sheets[way[0]]
	var steps []string
	d := first.errorf(diag.CircleOfDefinitions, first.Get("is"), "definitions name each other in a circle")
	for i, name := range way[:len(way)-1] {
		steps = append(steps, name+" names "+way[i+1])
		b.byName[name].Broken = true
		if i > 0 {
			d.Related = append(d.Related, diag.Related{Span: b.sheets[name].Get("is").Span, Says: steps[i]})
		}
	}
	d.Detail = strings.Join(steps, ";\n") + "."
	if len(steps) == 1 {
		d.Summary, d.Detail = "a definition names itself", steps[0]+"."
	}
}

// check checks a definition after those that it names.
func (b *definitionBuilder) check(d *condition.Definition, checked map[string]bool) {
	if checked[d.Name] || d.Broken {
		return
	}
	checked[d.Name] = true
	for _, name := range d.Uses {
		b.check(b.byName[name], checked)
		if b.byName[name].Broken {
			d.Broken = true // told there
			return
		}
	}
	s := b.sheets[d.Name]
	if d.Broken = !condition.CheckDefinition(d, b.rs.Scope, s.out); d.Broken {
		return
	}
	gives := s.text(s.Node, "gives")
	kind, known := kindWords[gives]
	switch {
	case gives == "":
	case !known:
		s.errorf(diag.UnknownName, s.Get("gives"),
			"a definition gives a truth, a quantity or a word; %q is none of these",
			gives).Nearest = diag.Nearest(gives, sortedKeys(kindWords))
	case kind != d.Kind:
		s.errorf(diag.UnlikeTypes, s.Get("gives"), "%q is said to give a %s, and its expression gives a %s", d.Name,
			gives, condition.KindWord(d.Kind)).
			Related = []diag.Related{{Span: s.Get("is").Span, Says: "its expression"}}
	}
}

// readDefinitionExamples reads the examples of definitions, whose cases are in the words of the ruleset.
func readDefinitionExamples(rs *kb.Ruleset, at map[*kb.Definition]*sheet, out *diag.List) {
	reader := eval.CaseReader(rs)
	reader.Derive = nil
	for _, d := range rs.Definitions {
		for _, it := range at[d].list(at[d].Get("examples")) {
			if ex, ok := at[d].definitionExample(it, rs, d, reader.ReadExample, out); ok {
				d.Examples = append(d.Examples, ex)
			}
		}
	}
}

// definitionExample reads one example: {with: [ri], readings: {...}, is: holds}, or a word, or a number with within:.
func (s *sheet) definitionExample(n *syntax.Node, rs *kb.Ruleset, d *kb.Definition,
	read func(*syntax.Node, *diag.List) *casefile.Case, out *diag.List) (ex kb.DefinitionExample, ok bool) {
	is := n.Get("is")
	if n.Kind != syntax.Map || is.IsNull() {
		out.Errorf(diag.MissingKey, n.Span, "an example says what the definition \"is\" on it")
		return ex, false
	}
	use := d.Name
	if args := english.Each(s.listOrOne(n.Get("with")), textOf); len(args) > 0 {
		use += "(" + strings.Join(args, ", ") + ")"
	}
	text, value, ok := asked(use, d, n, is, out)
	if !ok || d.Broken {
		return ex, false
	}
	ex = kb.DefinitionExample{Is: value, Span: n.Span}
	ex.Case = read(without(without(n, "with"), "within"), out)
	ex.Asks = condition.Compile(text, func(int, int) diag.Span { return n.Span }, rs.Scope, out)
	return ex, ex.Case != nil && ex.Asks != nil
}

// asked is an example's question as a condition, and what that comes to.
func asked(use string, d *kb.Definition, n, is *syntax.Node, out *diag.List) (text string, value logic.Value, ok bool) {
	word, undecided := strings.TrimSpace(is.Text), is.Text == logic.Undecided.String()
	switch {
	case d.Kind == vocab.Quantity && undecided:
		return use + " > 0", logic.Undecided, true
	case d.Kind == vocab.Quantity:
		x, good := is.Num(out)
		tolerance := n.Get("within")
		if good && tolerance.IsNull() {
			out.Errorf(diag.MissingKey, n.Span, "an example of a quantity says \"within\" how much it is so")
			return "", 0, false
		}
		by := 0.0
		if good {
			by, good = tolerance.Num(out)
		}
		return "near(" + use + ", " + strconv.FormatFloat(x, 'f', -1, 64) + ", " +
			strconv.FormatFloat(by, 'f', -1, 64) + ")", logic.Holds, good
	case d.Kind == vocab.Choice && undecided && len(d.Words) > 0:
		return use + " == " + strconv.Quote(d.Words[0]), logic.Undecided, true
	case d.Kind == vocab.Choice:
		return use + " == " + strconv.Quote(word), logic.Holds, true
	}
	if value, ok = logic.Parse(word); !ok {
		d := out.Errorf(diag.UnknownName, is.Span, "%q is not one of holds, fails, undecided", word)
		if d.Nearest = truthMeant(is); d.Nearest == "" {
			d.Nearest = diag.Nearest(word, []string{"fails", "holds", "undecided"})
		}
	}
	return use, value, ok
}
