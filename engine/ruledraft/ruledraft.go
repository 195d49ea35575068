// Package ruledraft begins a rule with the case that made somebody want it.
//
// The skeleton is a rule file in draft that loads as it is: its condition is what the verdict rests on, and the whole
// case stays with the rule as its example, so that nobody can later change the rule and lose the case that it was made
// for (Compton and Jansen 1990: the case that caused a rule stays with it). What follows from it is the author's to
// say; what is written there until then is a caution, with the evidence that could be given instead in comments.
package ruledraft

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/answers"
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

// Format is the version of the JSON shape.
const Format = 1

// Skeleton is a rule that was begun.
type Skeleton struct {
	Format int    `json:"format"`
	Rule   string `json:"rule"`
	Text   string `json:"text"` // the file
}

// ErrNothing is returned for a case without a reading that a condition could ask for.
var ErrNothing = errors.New("no reading of the case can be used, so there is nothing for a rule to rest on")

// writer writes one skeleton.
type writer struct {
	engine  *engine.Engine
	rs      *kb.Ruleset
	c       *casefile.Case
	m       engine.Moment
	node    *syntax.Node // the case as given
	example *casefile.Case
	conds   conditions
	about   []*vocab.Observable // what the condition asks for
	parts   []string            // what must all hold
}

// From begins a rule with a case, as of today. The case as it was given is read again from its source, so that the
// example keeps its readings as they were written.
func From(e *engine.Engine, c *casefile.Case, m engine.Moment, today time.Time) (*Skeleton, error) {
	w := &writer{engine: e, rs: e.Ruleset, c: c, m: m}
	var wrong diag.List
	if w.node = given(c.Span, &wrong); w.node == nil {
		return nil, wrong
	}
	if w.example = eval.CaseReader(w.rs).ReadExample(w.kept(), &wrong); w.example == nil {
		return nil, wrong
	}
	w.conds = conditions{rs: w.rs, states: []*condition.State{stateOf(w.rs, c, m.On), stateOf(w.rs, w.example, m.On)}}
	if w.condition(); len(w.parts) == 0 {
		return nil, ErrNothing
	}
	id := freeID(w.rs, c.ID)
	text, err := w.write(id, today)
	return &Skeleton{Format: Format, Rule: id, Text: text}, err
}

// given reads the text of a case again: JSON, or YAML.
func given(sp diag.Span, out *diag.List) *syntax.Node {
	var none diag.List
	if n := syntax.ParseJSONAt(sp.Source, sp.Start, sp.End, &none); n != nil {
		return n
	}
	text := strings.Repeat(" ", max(0, sp.Position().Column-1)) + sp.Text()
	docs := syntax.ParseYAML(diag.NewSource(sp.Source.Name, []byte(text)), out)
	if len(docs) != 1 || out.HasErrors() {
		out.Errorf(diag.BadSyntax, sp, "the text of the case can't be read by itself")
		return nil
	}
	return docs[0]
}

// keptKeys are what an example keeps of a case: all that a condition can see. Truth and record are for QA, the desk and
// the note nobody's business.
var keptKeys = []string{"case", "claim", "taken", "stone", "stake", "readings", "correlations"}

// kept is the case as an example keeps it.
func (w *writer) kept() *syntax.Node {
	n := *w.node
	n.Entries = nil
	for _, key := range keptKeys {
		for _, e := range w.node.Entries {
			if e.Key.Text == key && !e.Value.IsNull() {
				n.Entries = append(n.Entries, e)
			}
		}
	}
	return &n
}

// condition finds what the rule asks for: what the verdict rests on, or all that was read where that is nothing a
// condition can ask for.
func (w *writer) condition() {
	rests := answers.New(w.engine).Rests(w.c, w.m)
	var names []string
	if len(rests.Sets) > 0 {
		names = english.Each(rests.Sets[0].Readings, func(r answers.Reading) string { return r.Name })
	}
	w.ask(func(r *casefile.Reading) bool { return slices.Contains(names, r.Name()) })
	if len(w.parts) == 0 {
		w.ask((*casefile.Reading).Usable)
	}
}

// most is how many things a condition asks for at most: a longer one isn't read.
const most = 40

func (w *writer) ask(wanted func(*casefile.Reading) bool) {
	w.parts, w.about = nil, nil
	for _, r := range w.c.Readings {
		if !wanted(r) || slices.Contains(w.about, r.Observable) {
			continue
		}
		parts := w.conds.of(r.Observable)
		if len(parts) > 0 && len(w.parts)+len(parts) <= most {
			w.parts, w.about = append(w.parts, parts...), append(w.about, r.Observable)
		}
	}
}

// freeID makes an id of a case's, that no rule has or had.
func freeID(rs *kb.Ruleset, id string) string {
	taken := map[string]bool{}
	for _, r := range rs.Rules {
		taken[r.ID], taken[r.Place.Replaces] = true, true
		for _, was := range r.Was {
			taken[was] = true
		}
	}
	for _, t := range rs.Tables {
		taken[t.ID] = true
	}
	for _, x := range rs.Retired {
		taken[x.ID] = true
	}
	base := "from-" + shaped(id)
	for n, out := 2, base; ; n++ {
		if !taken[out] {
			return out
		}
		out = base + "-" + strconv.Itoa(n)
	}
}

// shaped is a case's number in the letters that an id may have.
func shaped(id string) string {
	words := strings.FieldsFunc(strings.ToLower(id), func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9')
	})
	if len(words) == 0 {
		return "case"
	}
	return strings.Join(words, "-")
}

// other is an example with one reading changed so that the condition fails, and the reading's name; nil when there is
// none.
func (w *writer) other() (*syntax.Node, string) {
	for _, ch := range answers.New(w.engine).Change(w.c, w.m).Changes {
		if len(ch.Readings) != 1 {
			continue
		}
		x := ch.Readings[0].Other
		if !slices.Contains(w.about, x.Observable) {
			continue
		}
		if n := w.changed(x.Observable.Name, reading(x)); w.fails(n) {
			return n, x.Observable.Name
		}
	}
	return nil, ""
}

// fails tells whether the condition fails on an example.
func (w *writer) fails(n *syntax.Node) bool {
	var wrong diag.List
	c := eval.CaseReader(w.rs).ReadExample(n, &wrong)
	if c == nil {
		return false
	}
	on := conditions{rs: w.rs, states: []*condition.State{stateOf(w.rs, c, w.m.On)}}
	return on.is(strings.Join(w.parts, " and "), logic.Fails)
}

// changed is an example of no case: the readings that the condition asks for, one of them another.
func (w *writer) changed(name string, value *syntax.Node) *syntax.Node {
	readings := syntax.NewMap()
	// colour and transparency may stand there
	for _, at := range []*syntax.Node{w.node.Get("readings"), w.node.Get("stone")} {
		if at.IsNull() {
			continue
		}
		for _, e := range at.Entries {
			switch asked := slices.ContainsFunc(w.about,
				func(o *vocab.Observable) bool { return o.Name == e.Key.Text }); {
			case !asked || readings.Get(e.Key.Text) != nil:
			case e.Key.Text == name:
				readings.Entries = append(readings.Entries, syntax.Keyed(name, asExactly(value, e.Value)))
			default:
				readings.Entries = append(readings.Entries, e)
			}
		}
	}
	return syntax.NewMap(syntax.Keyed("readings", readings))
}

// asExactly gives a value the uncertainty that was given with the one in whose place it stands.
func asExactly(value, given *syntax.Node) *syntax.Node {
	if u := given.Get("uncertainty"); u != nil && value.Kind == syntax.Scalar {
		return syntax.NewMap(syntax.Keyed("value", value), syntax.Keyed("uncertainty", u))
	}
	return value
}
