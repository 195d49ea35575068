package phrase

import (
	"strconv"
	"strings"

	"whystone/kb/casefile"
	"whystone/kb/english"
)

// Says is the reason in words: those of its code, and of what is told in the same breath.
func (r Reason) Says() string {
	var b strings.Builder
	r.write(&b, table[r.Code].Says)
	if !table[r.Code].joins {
		for _, then := range r.Then {
			b.WriteString(then.Says())
		}
	}
	return b.String()
}

// Within is a verdict as a part of a sentence: "identified as topaz", where Says is "Identified: topaz."
func (r Reason) Within() string {
	var b strings.Builder
	r.write(&b, table[r.Code].Within)
	for _, then := range r.Then {
		b.WriteString(then.Within())
	}
	return b.String()
}

// write fills the places of a text. One with a capital letter begins a sentence.
func (r *Reason) write(b *strings.Builder, text string) {
	for {
		before, rest, more := strings.Cut(text, "{")
		b.WriteString(before)
		if !more {
			return
		}
		place, after, _ := strings.Cut(rest, "}")
		key := strings.ToLower(place)
		filled := r.fill(key)
		if key != place {
			filled = Capital(filled)
		}
		b.WriteString(filled)
		if ended(filled) { // somebody's own sentence has its own end
			after = strings.TrimPrefix(after, ".")
		}
		text = after
	}
}

// fill is what stands in a place.
func (r *Reason) fill(place string) string {
	switch place {
	case "node":
		return Node(r.Node, r.Colours)
	case "other":
		return Node(r.Other, r.Colours)
	case "species":
		return Node(r.Node.Species, r.Colours)
	case "full":
		return Full(r.Node, r.Colours)
	case "thing":
		return thing(Full(r.Node, r.Colours))
	case "in verdicts":
		return r.Node.SaysOf(r.Colours)
	case "nodes":
		return english.List(r.names(), "and")
	case "any node":
		return english.List(r.names(), "or")
	case "few nodes":
		return Fewest(r.names())
	case "rule":
		return inQuotes(r.Rules[0])
	case "the rules":
		return english.List(each(r.Rules, theRule), "and")
	case "few rules":
		return Fewest(each(r.Rules, inQuotes))
	case "evidence":
		return english.List(append(InWordsAll(r.Observables), each(r.Rules, theQuoted)...), "and")
	case "rules":
		return english.List(each(r.Rules, id), "and")
	case "own words":
		return strings.Join(each(r.Rules, written), " ")
	case "test":
		return r.Tests[0].Name
	case "in quotes":
		return strconv.Quote(r.Tests[0].Name)
	case "tests":
		return english.List(append(each(r.Tests, name), InWordsAll(r.Observables)...), "or")
	case "each test":
		return english.List(each(r.Tests, name), "and")
	case "why":
		return r.Why.Says()
	case "within":
		return r.Why.Within()
	case "clauses":
		return strings.Join(r.clauses(), ", ")
	case "joined":
		return english.List(r.clauses(), "and")
	case "reasons":
		return strings.Join(r.clauses(), "; ")
	case "sentences":
		return Sentences(r.Then)
	case "causes":
		return strings.Join(each(r.Causes, CauseSays), "; ")
	case "all causes":
		return english.List(each(r.Causes, CauseSays), "and")
	case "readings":
		return Readings(r.Readings)
	case "read":
		return ReadingText(r.Readings[0])
	case "observables":
		return english.List(InWordsAll(r.Observables), "and")
	case "families":
		return english.List(r.Families, "and")
	case "times":
		return Figures(r.Ratio) + " times"
	case "about":
		return Times(r.Ratio)
	case "needed":
		return Figures(r.Needed) + " times"
	case "count":
		return english.Thousands(float64(r.Count))
	case "of":
		return english.Thousands(float64(r.Of))
	case "text":
		return r.Text
	case "range":
		return RangeText(r.Range)
	case "nearly":
		return nearly(r.Ratio)
	}
	return r.plural(place)
}

// plural is one of two words, by the count: "reading|readings".
func (r *Reason) plural(place string) string {
	one, many, _ := strings.Cut(place, "|")
	if r.Count == 1 {
		return one
	}
	return many
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

func (r *Reason) clauses() []string { return each(r.Then, Reason.Says) }

// Sentences are reasons one after another, each as a sentence of its own.
func Sentences(list []Reason) string {
	return strings.Join(each(list, func(r Reason) string { return Sentence(r.Says()) }), " ")
}

// Summary is Sentences as the one line of a diagnostic, which has no stop at its end.
func Summary(list []Reason) string {
	last := len(list) - 1
	return strings.TrimSpace(Sentences(list[:last]) + " " + Capital(list[last].Says()))
}

func (r *Reason) names() []string { return Nodes(r.Nodes, r.Colours) }

// Readings names readings within a sentence: "facet doubling strong and thermal probe diamond range".
func Readings(list []*casefile.Reading) string {
	return english.List(each(list, func(r *casefile.Reading) string {
		return InWords(r.Name()) + " " +
			ReadingText(r)
	}), "and")
}
