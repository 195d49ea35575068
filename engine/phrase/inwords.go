package phrase

import (
	"strings"

	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/logic"
)

// Sentences call an observable, a property of the stone and a fact by words, not by the name that files use: "facet
// doubling" is facet_doubling. That is done where a sentence is made, so that what a house wrote stays as it wrote
// it.

// InWords is how a sentence calls an observable or something of the stone, with the place or the feature that may
// follow its name: "facet doubling (crown)", "inclusions: feather". What is no such name, a rule's id say, is left as
// it is.
func InWords(name string) string {
	if !strings.Contains(name, " + ") {
		return inWords(name)
	}
	return english.List(english.Each(strings.Split(name, " + "), inWords), "and")
}

func inWords(name string) string {
	end := len(name)
	for _, mark := range []string{" (", ": "} {
		if at := strings.Index(name, mark); at >= 0 {
			end = min(end, at)
		}
	}
	return spell(name[:end]) + name[end:]
}

func spell(name string) string {
	name = strings.TrimPrefix(name, "stone.")
	if strings.Contains(name, "-") {
		return name // an id
	}
	words := strings.Split(name, "_")
	for i, w := range words {
		if w == "ri" || w == "uv" {
			words[i] = strings.ToUpper(w)
		}
	}
	return strings.Join(words, " ")
}

// InWordsAll is InWords for several names.
func InWordsAll(names []string) []string { return english.Each(names, InWords) }

// unsaid is how a sentence puts that a case does not say something of its stone.
var unsaid = map[string]string{"stone.mounted": "whether the stone is mounted",
	"stone.warm": "whether the stone is warm", "stone.wet": "whether the stone is wet",
	"stone.coated": "whether the stone is coated", "stone.carat": "the weight", "stone.cut": "the cut",
	"stone.setting": "the setting", "stone.length_mm": "the length", "stone.width_mm": "the width",
	"stone.depth_mm": "the depth", "stake": "what is at stake", "claim": "what is claimed"}

// CauseSays words why a condition is undecided.
func CauseSays(c logic.Cause) string {
	if what := unsaid[c.Name]; what != "" && c.Why == logic.Absent {
		return "the case does not say " + what
	}
	c.Name = InWords(c.Name)
	return c.String()
}

func id(r *kb.Rule) string        { return r.ID }
func inQuotes(r *kb.Rule) string  { return `"` + r.ID + `"` }
func theQuoted(r *kb.Rule) string { return "the rule " + inQuotes(r) }
func theRule(r *kb.Rule) string   { return "the rule " + r.ID }
func written(r *kb.Rule) string   { return r.Says } // as its author wrote it
func name(t *kb.Test) string      { return t.Name }
func testID(t *kb.Test) string    { return t.ID }
