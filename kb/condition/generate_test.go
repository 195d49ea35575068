package condition

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"pgregory.net/rapid"
)

// part is a condition as it was drawn: a leaf's text, or a connective over parts.
type part struct {
	op   string // "", and, or, not
	leaf string
	kids []*part
}

// String writes the condition. Parentheses stand around every part, so that it means what was drawn.
func (p *part) String() string {
	switch p.op {
	case "":
		return p.leaf
	case "not":
		return "not (" + p.kids[0].String() + ")"
	}
	texts := make([]string, len(p.kids))
	for i, k := range p.kids {
		texts[i] = "(" + k.String() + ")"
	}
	return strings.Join(texts, " "+p.op+" ")
}

// reordered is the same condition with the operands of each "and" and "or" in another order.
func (p *part) reordered(t *rapid.T) *part {
	out := &part{op: p.op, leaf: p.leaf}
	for _, k := range p.kids {
		out.kids = append(out.kids, k.reordered(t))
	}
	if len(out.kids) > 1 {
		out.kids = rapid.Permutation(out.kids).Draw(t, "order")
	}
	return out
}

// Units of a condition in which each observable is named once. The second list does arithmetic on two of them.
var (
	plainUnits = []string{"ri", "specific_gravity", "facet_doubling", "optic_character", "thermal_probe", "surface",
		"stone.mounted", "claim", "high_index"}
	sumUnits = []string{"ri and specific_gravity", "facet_doubling", "optic_character", "surface", "stone.mounted",
		"claim"}
)

// drawOnce draws a condition that names nothing twice and whose every leaf can come out both ways.
func drawOnce(t *rapid.T, units []string) *part {
	n := rapid.IntRange(1, 4).Draw(t, "leaves")
	var leaves []*part
	for _, u := range rapid.Permutation(units).Draw(t, "units")[:n] {
		leaves = append(leaves, &part{leaf: drawLeaf(t, u)})
	}
	return combineParts(t, leaves)
}

// drawAny draws a condition that may name a thing several times, with leaves of every kind.
func drawAny(t *rapid.T, more ...func(*rapid.T) string) *part {
	n := rapid.IntRange(1, 6).Draw(t, "leaves")
	units := slices.Concat(plainUnits, sumUnits[:1])
	var leaves []*part
	for range n {
		if len(more) > 0 && rapid.IntRange(0, 3).Draw(t, "more") == 0 {
			leaves = append(leaves, &part{leaf: rapid.SampledFrom(more).Draw(t, "kind")(t)})
			continue
		}
		leaves = append(leaves, &part{leaf: drawLeaf(t, rapid.SampledFrom(units).Draw(t, "unit"))})
	}
	return combineParts(t, leaves)
}

func combineParts(t *rapid.T, parts []*part) *part {
	for len(parts) > 1 {
		n := rapid.IntRange(2, min(3, len(parts))).Draw(t, "joined")
		joined := &part{op: rapid.SampledFrom([]string{"and", "or"}).Draw(t, "op"), kids: slices.Clone(parts[:n])}
		parts = append(parts[n:], joined)
		if rapid.Bool().Draw(t, "negated") {
			parts[len(parts)-1] = &part{op: "not", kids: []*part{joined}}
		}
	}
	if rapid.Bool().Draw(t, "not") {
		return &part{op: "not", kids: parts}
	}
	return parts[0]
}

var cuts = []string{"1.5", "1.6", "1.7", "1.8"}

func drawLeaf(t *rapid.T, unit string) string {
	pick := func(list ...string) string { return rapid.SampledFrom(list).Draw(t, unit) }
	switch unit {
	case "ri", "specific_gravity":
		if rapid.Bool().Draw(t, "turned") {
			return pick(cuts...) + " " + pick("<", "<=", ">", ">=") + " " + unit
		}
		return unit + " " + pick("<", "<=", ">", ">=") + " " + pick(cuts...)
	case "ri and specific_gravity":
		return drawSum(t, []string{"a + b", "a - b", "a * 2 - b", "a * b", "-a + b", "abs(a - b)"})
	case "facet_doubling", "optic_character", "thermal_probe":
		return drawChoice(t, unit)
	case "surface", "inclusions":
		return drawFeatures(t, unit)
	case "claim":
		return pick(`claim == "diamond"`, `claim != "ruby"`, `claim in ["ruby", "spinel"]`, `claim not in ["diamond"]`,
			`claim contains "phir"`, `claim startsWith "blue"`, `claim endsWith "sapphire"`,
			`claim matches "^(diamond|spinel)$"`)
	}
	return pick(unit, unit+" == true", unit+" == false", "true != "+unit)
}

func drawSum(t *rapid.T, values []string) string {
	names := []string{"ri", "specific_gravity"}
	if rapid.Bool().Draw(t, "swapped") {
		slices.Reverse(names)
	}
	value := rapid.SampledFrom(values).Draw(t, "sum")
	cut := rapid.SampledFrom([]string{"0.1", "1.6", "3.2", "0"}).Draw(t, "cut")
	if strings.HasPrefix(value, "abs") {
		cut = "0.1" // abs(x) < 0 can't be
	}
	return regexp.MustCompile(`\b[ab]\b`).ReplaceAllStringFunc(value,
		func(s string) string { return names[s[0]-'a'] }) +
		rapid.SampledFrom([]string{" < ", " <= ", " > ", " >= "}).Draw(t, "comparison") + cut
}

// drawExtreme is a leaf that one of its readings alone may settle.
func drawExtreme(t *rapid.T) string {
	return drawSum(t, []string{"min(a, b)", "max(a, b)", "a * 0 + b"})
}

// plainChoices are the choices that cover no others.
var plainChoices = map[string][]string{
	"facet_doubling":  {"none", "slight", "strong"},
	"optic_character": {"aggregate", "biaxial", "isotropic", "uniaxial"},
	"thermal_probe":   {"below diamond range", "diamond range", "unsteady"},
}

func drawChoice(t *rapid.T, name string) string {
	words := plainChoices[name]
	some := rapid.Permutation(words).Draw(t, "words")[:rapid.IntRange(1, len(words)-1).Draw(t, "how many")]
	switch rapid.IntRange(0, 3).Draw(t, "form") {
	case 0:
		return fmt.Sprintf("%s == %q", name, some[0])
	case 1:
		return fmt.Sprintf("%q != %s", some[0], name)
	case 2:
		return fmt.Sprintf("%s not in %s", name, quotedList(some))
	}
	return fmt.Sprintf("%s in %s", name, quotedList(some))
}

func quotedList(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = fmt.Sprintf("%q", w)
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}

var featureWords = map[string][]string{
	"inclusions": {"crystal", "curved striae", "feather", "gas bubbles", "needles"},
	"surface":    {"pits", "polish lines", "scratches"},
}

func drawFeatures(t *rapid.T, name string) string {
	words := featureWords[name]
	some := rapid.Permutation(words).Draw(t, "features")[:rapid.IntRange(1, len(words)-1).Draw(t, "how many")]
	list := quotedList(some)
	switch rapid.IntRange(0, 5).Draw(t, "form") {
	case 0:
		return fmt.Sprintf("%q not in %s", some[0], name)
	case 1:
		return fmt.Sprintf("any(%s, # in %s)", name, list)
	case 2:
		return fmt.Sprintf("none(%s, # in %s)", name, list)
	case 3:
		return fmt.Sprintf("all(%s, # not in %s)", name, list)
	case 4:
		return fmt.Sprintf("count(%s, # in %s) %s %d", name, list, rapid.SampledFrom([]string{">=", "<"}).Draw(t,
			"comparison"),
			rapid.IntRange(1, len(some)).Draw(t, "number"))
	}
	return fmt.Sprintf("%q in %s", some[0], name)
}

// Leaves that name a quantity twice, or ask whether it was read.
func drawRange(t *rapid.T) string {
	i := rapid.IntRange(0, len(cuts)-2).Draw(t, "from")
	name := rapid.SampledFrom([]string{"ri", "specific_gravity"}).Draw(t, "name")
	if rapid.Bool().Draw(t, "near") {
		return fmt.Sprintf("near(%s, %s, 0.1)", name, cuts[i])
	}
	return fmt.Sprintf("%s <= %s < %s", cuts[i], name, cuts[i+1])
}

func drawSeen(t *rapid.T) string {
	return rapid.SampledFrom([]string{"seen(ri)", "unclear(ri)", "seen(surface)", "not seen(claim)",
		"unclear(facet_doubling)", "seen(stone.mounted)"}).
		Draw(t, "seen")
}
