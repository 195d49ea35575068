package ruledraft

import (
	"cmp"
	_ "embed"
	"fmt"
	"maps"
	"slices"
	"strings"
	"text/template"
	"time"
	"unicode/utf8"

	"whystone/engine"
	"whystone/kb/english"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

//go:embed rule.yaml.tmpl
var ruleText string

var ruleFile = template.Must(template.New("rule").Funcs(template.FuncMap{"text": syntax.WriteText}).Parse(ruleText))

// write writes the file.
func (w *writer) write(id string, today time.Time) (string, error) {
	var b strings.Builder
	err := ruleFile.Execute(&b, struct {
		Rule, Case, Since, Instead, Examples string
		Parts                                []string
	}{id, w.c.ID, today.In(w.rs.Policy.Zone).Format(time.DateOnly), w.instead(), w.examples(), w.parts})
	return b.String(), err
}

// named is how many candidates are named as an example.
const named = 6

// instead writes the evidence that could follow, as comments.
func (w *writer) instead() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	ids, what := w.candidates()
	line("    # Evidence that could follow instead, or besides, without the \"#\". Named is")
	line("    # %s.", what)
	shown := ids[:min(named, len(ids))]
	if more := len(ids) - len(shown); more > 0 {
		line("    # These are the first; there are %d more.", more)
	}
	list := "[" + strings.Join(shown, ", ") + "]"
	commented(line, "supports: {materials: "+list+", "+w.weakest()+"}")
	line("    # excludes: [ids of what can't be so]")
	if f := w.families(); len(f) > 1 {
		commented(line, "Evidence counts in one family; here it could be "+strings.Join(f, ", ")+".")
		line("    # family: %s", f[0])
	}
	line("    # sends_on: why a laboratory must see such a stone")
	return b.String()
}

// commented writes a value as a comment, on further lines where it is long.
func commented(line func(string, ...any), text string) {
	head := "    # "
	for utf8.RuneCountInString(head+text) > syntax.Width {
		at := strings.LastIndex(text[:syntax.Width-len(head)+1], ", ")
		if at < 0 {
			break
		}
		line("%s%s", head, text[:at+1])
		head, text = "    #   ", text[at+2:]
	}
	line("%s%s", head, text)
}

// candidates lists what stays open, likeliest first; where nothing does, what one kind of evidence alone excludes; else
// all materials.
func (w *writer) candidates() (ids []string, what string) {
	out := w.engine.NewJudge().Judge(w.c, w.m)
	if len(out.Candidates) > 0 {
		return english.Each(out.Candidates, func(c engine.Candidate) string { return c.Material }),
			"what stays open, likeliest first"
	}
	excluded := func(x engine.Excluded) string { return x.Material }
	alone := slices.DeleteFunc(slices.Clone(out.Excluded), func(x engine.Excluded) bool { return x.Zero })
	if len(alone) > 0 {
		return english.Each(alone, excluded), "what one kind of evidence alone excludes"
	}
	return english.Each(out.Excluded, excluded), "some of the materials"
}

// weakest is the weakest evidence that the policy has a word for.
func (w *writer) weakest() string {
	words := w.rs.Policy.Strength
	list := slices.Sorted(maps.Keys(words))
	if len(list) == 0 {
		return "ratio: 3"
	}
	weakest := slices.MinFunc(list, func(a, b string) int { return cmp.Compare(words[a], words[b]) })
	return "strength: " + syntax.WriteText(weakest)
}

func (w *writer) families() []string {
	out := english.Each(w.about, func(o *vocab.Observable) string { return o.Family })
	slices.Sort(out)
	return slices.Compact(out)
}

// examples writes the case, and its readings with one changed.
func (w *writer) examples() string {
	holds := example(w.kept(), "holds")
	if n, name := w.other(); n != nil {
		return holds + "      # Had " + name + " come out otherwise:\n" + example(n, "fails")
	}
	return holds
}

func example(n *syntax.Node, is string) string {
	whole := *n
	whole.Entries = append(slices.Clone(n.Entries), syntax.Keyed("is", syntax.NewText(is)))
	return syntax.WriteItem(6, &whole, "readings")
}
