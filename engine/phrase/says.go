package phrase

import (
	"strconv"
	"strings"

	"whystone/kb/casefile"
	"whystone/kb/english"
)

// Says is the reason in words: those of its code, and of what is told in the same breath.
func (r Reason) Says() string { return r.says() }

func (r *Reason) says() string {
	var b strings.Builder
	b.Grow(96)
	r.say(&b)
	return b.String()
}

func (r *Reason) say(b *strings.Builder) {
	code := table[r.Code]
	r.write(b, code.says)
	if !code.joins {
		for i := range r.Then {
			r.Then[i].say(b)
		}
	}
}

// Within is a verdict as a part of a sentence: "identified as topaz", where Says is "Identified: topaz."
func (r Reason) Within() string {
	var b strings.Builder
	r.write(&b, table[r.Code].within)
	for _, then := range r.Then {
		b.WriteString(then.Within())
	}
	return b.String()
}

// template is a text with places to be filled, piece by piece.
type template []piece

// piece is what stands before a place, and the place; behind the last place is none.
type piece struct {
	before  string
	fill    func(*Reason) string
	capital bool // the place begins a sentence
}

// templateOf cuts a text at its places. One with a capital letter begins a sentence.
func templateOf(text string) (out template) {
	for {
		before, rest, more := strings.Cut(text, "{")
		if !more {
			return append(out, piece{before: before})
		}
		place, after, _ := strings.Cut(rest, "}")
		key := strings.ToLower(place)
		out = append(out, piece{before: before, fill: placed(key), capital: key != place})
		text = after
	}
}

// write fills the places of a text.
func (r *Reason) write(b *strings.Builder, text template) {
	filled := ""
	for i := range text {
		p := &text[i]
		if ended(filled) { // somebody's own sentence has its own end
			b.WriteString(strings.TrimPrefix(p.before, "."))
		} else {
			b.WriteString(p.before)
		}
		if filled = ""; p.fill != nil {
			filled = p.fill(r)
		}
		if p.capital {
			filled = Capital(filled)
		}
		b.WriteString(filled)
	}
}

// places say what stands in each place of a text.
var places map[string]func(*Reason) string

func init() { // what a reason is told with has places too
	places = map[string]func(*Reason) string{
		"node":        func(r *Reason) string { return Node(r.Node, r.Colours) },
		"a node":      func(r *Reason) string { return article(Node(r.Node, r.Colours)) },
		"other":       func(r *Reason) string { return Node(r.Other, r.Colours) },
		"species":     func(r *Reason) string { return Node(r.Node.Species, r.Colours) },
		"full":        func(r *Reason) string { return Full(r.Node, r.Colours) },
		"thing":       func(r *Reason) string { return thing(Full(r.Node, r.Colours)) },
		"a thing":     func(r *Reason) string { return article(thing(Full(r.Node, r.Colours))) },
		"in verdicts": func(r *Reason) string { return r.Node.SaysOf(r.Colours) },
		"nodes":       func(r *Reason) string { return english.List(r.names(), "and") },
		"any node":    func(r *Reason) string { return english.List(r.names(), "or") },
		"one node":    func(r *Reason) string { return english.List(english.Each(r.names(), article), "or") },
		"few nodes":   func(r *Reason) string { return Fewest(r.names()) },
		"rule":        func(r *Reason) string { return inQuotes(r.Rules[0]) },
		"the rules":   func(r *Reason) string { return english.List(english.Each(r.Rules, theRule), "and") },
		"few rules":   func(r *Reason) string { return Fewest(english.Each(r.Rules, inQuotes)) },
		"evidence": func(r *Reason) string {
			return english.List(append(InWordsAll(r.Observables), english.Each(r.Rules, theQuoted)...), "and")
		},
		"rules":     func(r *Reason) string { return english.List(english.Each(r.Rules, id), "and") },
		"own words": func(r *Reason) string { return strings.Join(english.Each(r.Rules, written), " ") },
		"test":      func(r *Reason) string { return r.Tests[0].Name },
		"in quotes": func(r *Reason) string { return strconv.Quote(r.Tests[0].Name) },
		"tests": func(r *Reason) string {
			return english.List(append(english.Each(r.Tests, name), InWordsAll(r.Observables)...), "or")
		},
		"each test":   func(r *Reason) string { return english.List(english.Each(r.Tests, name), "and") },
		"why":         func(r *Reason) string { return r.Why.says() },
		"within":      func(r *Reason) string { return r.Why.Within() },
		"clauses":     func(r *Reason) string { return strings.Join(r.clauses(), ", ") },
		"joined":      func(r *Reason) string { return english.List(r.clauses(), "and") },
		"reasons":     func(r *Reason) string { return strings.Join(r.clauses(), "; ") },
		"sentences":   func(r *Reason) string { return Sentences(r.Then) },
		"causes":      func(r *Reason) string { return strings.Join(english.Each(r.Causes, CauseSays), "; ") },
		"all causes":  func(r *Reason) string { return english.List(english.Each(r.Causes, CauseSays), "and") },
		"readings":    func(r *Reason) string { return Readings(r.Readings) },
		"read":        func(r *Reason) string { return ReadingText(r.Readings[0]) },
		"observables": func(r *Reason) string { return english.List(InWordsAll(r.Observables), "and") },
		"families":    func(r *Reason) string { return english.List(r.Families, "and") },
		"times":       func(r *Reason) string { return Figures(r.Ratio) + " times" },
		"about":       func(r *Reason) string { return Times(r.Ratio) },
		"needed":      func(r *Reason) string { return Figures(r.Needed) + " times" },
		"count":       func(r *Reason) string { return english.Thousands(float64(r.Count)) },
		"of":          func(r *Reason) string { return english.Thousands(float64(r.Of)) },
		"text":        func(r *Reason) string { return r.Text },
		"range":       func(r *Reason) string { return RangeText(r.Range) },
		"nearly":      func(r *Reason) string { return nearly(r.Ratio) },
	}
	for code, e := range table {
		e.says, e.within = templateOf(e.Says), templateOf(e.Within)
		table[code] = e
	}
}

// placed is what stands in a place.
func placed(place string) func(*Reason) string {
	if says := places[place]; says != nil {
		return says
	}
	one, many, _ := strings.Cut(place, "|") // one of two words, by the count: "reading|readings"
	return func(r *Reason) string {
		if r.Count == 1 {
			return one
		}
		return many
	}
}

// nearly says how well the readings fit another material than the one named, which they fit so many times better.
func nearly(ratio float64) string {
	switch {
	case ratio > 2:
		return "nearly as well"
	case ratio < 0.5:
		return "better"
	}
	return "as well"
}

func (r *Reason) clauses() []string { return english.Each(r.Then, Reason.Says) }

// Sentences are reasons one after another, each as a sentence of its own.
func Sentences(list []Reason) string {
	return strings.Join(english.Each(list, func(r Reason) string { return Sentence(r.Says()) }), " ")
}

// Summary is Sentences as the one line of a diagnostic, which has no stop at its end.
func Summary(list []Reason) string {
	last := len(list) - 1
	return strings.TrimSpace(Sentences(list[:last]) + " " + Capital(list[last].Says()))
}

func (r *Reason) names() []string { return Nodes(r.Nodes, r.Colours) }

// Readings names readings within a sentence: "facet doubling strong and thermal probe diamond range".
func Readings(list []*casefile.Reading) string {
	return english.List(english.Each(list, func(r *casefile.Reading) string {
		return InWords(r.Name()) + " " +
			ReadingText(r)
	}), "and")
}
