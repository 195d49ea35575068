package phrase

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// Node is how a sentence names a material or group beside others, by the colours that were read. Where the sheet of a
// group says that something is not determined, that is told with its name: "quartz (natural or laboratory-grown)".
// Nil is what the ruleset lacks.
func Node(m *kb.Material, colours uint64) string {
	if m == nil {
		return "a material that is not listed"
	}
	says := sheetSays(m, colours)
	head, _, more := strings.Cut(says, "; ")
	switch {
	case says == "":
		return m.Name
	case more && m.ByColour == nil:
		head = m.Name
	}
	if open := undetermined(m, colours); open != "" {
		return head + " (" + open + ")"
	}
	return thing(head)
}

// Nodes are the names of several.
func Nodes(list []*kb.Material, colours uint64) []string {
	return english.Each(list, func(m *kb.Material) string { return Node(m, colours) })
}

// Full is how a verdict names a node within a sentence: by the words that its sheet gives for that, if it is a group.
func Full(m *kb.Material, colours uint64) string {
	says := sheetSays(m, colours)
	if says == "" {
		return m.Name
	}
	if head, open, ok := strings.Cut(says, "; "); ok {
		return head + " (" + open + ")"
	}
	return says
}

// Called is the name of a material in a list: where it follows the colour, by the colour that was read.
func Called(m *kb.Material, colours uint64) string {
	if m.ByColour != nil {
		return m.SaysOf(colours)
	}
	return m.Name
}

// sheetSays are the words that a sheet gives for verdicts, by the colour that was read, if it gives any. A material
// whose name follows its colour keeps the sheet's own while none was read.
func sheetSays(m *kb.Material, colours uint64) string {
	switch {
	case m.ByColour != nil && (m.Group || colours != 0):
		return m.SaysOf(colours)
	case m.Group:
		return m.InVerdicts
	}
	return ""
}

// ID is how a list of ids names a node: by its id, and what its sheet says is not determined: "diamond (natural or
// laboratory-grown)".
func ID(m *kb.Material) string {
	if open := undetermined(m, 0); open != "" {
		return m.ID + " (" + open + ")"
	}
	return m.ID
}

// undetermined is what the sheet of a group says is not determined, or "".
func undetermined(m *kb.Material, colours uint64) string {
	if !m.Group {
		return ""
	}
	_, open, _ := strings.Cut(sheetSays(m, colours), "; ")
	return strings.TrimSuffix(open, " not determined")
}

// thing is the words of a sheet where a sentence needs the name of something: a stone consistent with diamond.
func thing(words string) string {
	if strings.HasPrefix(words, "consistent with ") {
		return "a stone " + words
	}
	return words
}

// article is a name where a sentence says what a stone is. Of a substance it is bare, "cubic zirconia"; what is put
// together of several or grown as one piece is counted: "a garnet-topped doublet".
func article(name string) string {
	head := strings.Fields(name[:aside.FindStringIndex(name)[0]])
	switch {
	case len(head) == 0 || !slices.Contains(counted, head[len(head)-1]):
		return name
	case strings.ContainsAny(name[:1], "aeio"):
		return "an " + name
	}
	return "a " + name
}

// aside is where the head of a name ends.
var aside = regexp.MustCompile(` (of|or|with|without|in) |[,;(]|$`)

var counted = []string{"composite", "doublet", "imitation", "operculum", "pearl", "stone", "tektite", "triplet"}

// Fewest names three of several, and counts the rest.
func Fewest(names []string) string {
	if rest := len(names) - 3; rest > 1 {
		names = append(names[:3:3], strconv.Itoa(rest)+" more")
	}
	return english.List(names, "and")
}

// Some joins at most so many words and counts the rest.
func Some(words []string, most int) string {
	if len(words) <= most+1 {
		return english.Join(words)
	}
	return english.Join(words[:most]) + " and " + strconv.Itoa(len(words)-most) + " more"
}

// NodeOf is a material or group by its id, or a leaf without a sheet by its own; else nil.
func NodeOf(rs *kb.Ruleset, id string) *kb.Material {
	if m := rs.Node(id); m != nil {
		return m
	}
	if i := slices.IndexFunc(rs.Leaves, func(m *kb.Material) bool { return m.ID == id }); i >= 0 {
		return rs.Leaves[i]
	}
	return nil
}

// NameOf is a material's or group's name, or the id when the ruleset doesn't know it.
func NameOf(rs *kb.Ruleset, id string) string {
	if m := NodeOf(rs, id); m != nil {
		return m.Name
	}
	return id
}

// NamesOf is NameOf of several.
func NamesOf(rs *kb.Ruleset, ids []string) []string {
	return english.Each(ids, func(id string) string { return NameOf(rs, id) })
}

// TestsByName names tests by their sheets.
func TestsByName(rs *kb.Ruleset, ids []string) []string {
	return english.Each(ids, func(id string) string {
		if t := rs.Test(id); t != nil {
			return t.Name
		}
		return id
	})
}

// ReadingText says what was read: "3.52 ± 0.02", "above 1.81", "slight", "feather, crystal".
func ReadingText(r *casefile.Reading) string {
	switch r.Form {
	case casefile.Value:
		return quantity.Text(r.Value, r.U) + Unit(r.Observable)
	case casefile.Pair:
		return fmt.Sprintf("%s and %s", quantity.Text(r.Value, r.U), quantity.Text(r.High, r.HighU))
	case casefile.Interval:
		return quantity.FormatBounds(r.Lo, r.Hi) + Unit(r.Observable)
	case casefile.Choice:
		return r.Observable.Outcomes[r.Outcome].Name
	case casefile.Features:
		unseen := r.LookedFor
		unseen.Minus(r.Seen)
		lacking := func(i int) string { return "no " + r.Observable.Outcomes[i].Name }
		return strings.Join(append(linesText(r), english.Each(unseen.Members(), lacking)...), ", ")
	}
	return "inconclusive: " + r.Reason
}

// Somewhere names what was read by its place alone, where several may lie.
func Somewhere(o *vocab.Observable, l *casefile.Line) string {
	return fmt.Sprintf("something at %g%s", l.At, Unit(o))
}

// linesText lists the features seen, with their strengths, and the lines that may be one of several.
func linesText(r *casefile.Reading) (words []string) {
	named := func(word string, strength int) string {
		if strength != casefile.NoStrength {
			word += " (" + r.Observable.Strengths[strength] + ")"
		}
		return word
	}
	for _, i := range r.Seen.Members() {
		strength := casefile.NoStrength
		if n := r.LineOf(i); n >= 0 {
			strength = r.Lines[n].Strength
		}
		words = append(words, named(r.Observable.Outcomes[i].Name, strength))
	}
	for _, l := range r.Lines {
		if !r.Sure(&l) {
			may := r.Observable.Named(l.Features)
			if more := len(may) - 3; more > 1 {
				may = append(may[:3:3], strconv.Itoa(more)+" more")
			}
			words = append(words, named(Somewhere(r.Observable, &l), l.Strength)+" ("+english.List(may, "or")+")")
		}
	}
	return words
}

// Unit is the unit of a quantity behind its value, if it has one.
func Unit(o *vocab.Observable) string {
	if o.Unit == "" || o.Unit == "1" {
		return ""
	}
	return " " + o.Unit
}

// RangeText is a range of a sheet. One that was computed has more figures than it means, of which four are told.
func RangeText(r *kb.Range) string {
	figures := -1
	if r.Derived != "" {
		figures = 4
	}
	return FromTo(strconv.FormatFloat(r.Low, 'g', figures, 64), strconv.FormatFloat(r.High, 'g', figures, 64))
}

// FromTo is a range by its ends.
func FromTo(low, high string) string {
	if low == high {
		return low
	}
	return low + " to " + high
}

// Figures writes a number for a sentence: three figures, large ones with commas between thousands.
func Figures(x float64) string { return figures(x, 3) }

// Times writes a ratio of likelihoods where it is told at a glance: two figures are all that it is good for.
func Times(x float64) string {
	if x >= most {
		return figures(x, 2) + " times"
	}
	return "about " + figures(x, 2) + " times"
}

// most is the largest number that is written.
const most = 1e9

func figures(x float64, n int) string {
	switch round := quantity.Round(x, n); {
	case math.IsInf(x, 1) || x >= most:
		return "over 1,000,000,000"
	case round >= 1000:
		return english.Thousands(round)
	case x != 0 && math.Abs(x) < 0.0005:
		return "less than 0.0005"
	default:
		return strconv.FormatFloat(round, 'f', -1, 64)
	}
}

// Capital sets the first letter of a sentence.
func Capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[size:]
}

// Sentence is a clause as a sentence of its own.
func Sentence(clause string) string {
	return Capital(Ended(strings.TrimSpace(clause))) // what goes on in one breath begins with a space
}

// Ended has a stop at the end, whoever wrote it.
func Ended(s string) string {
	if ended(s) {
		return s
	}
	return s + "."
}

// ended tells of words that have their own end.
func ended(s string) bool {
	s = strings.TrimSuffix(s, `"`)
	return s != "" && strings.ContainsAny(s[len(s)-1:], ".!?:")
}

// OffThisList is how a list of candidates names what the ruleset lacks.
const OffThisList = "something that is not on this list"
