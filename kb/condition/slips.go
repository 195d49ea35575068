package condition

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// A parser says where it stumbled. What made it stumble is often elsewhere: a bracket or a quote that nothing closes, a
// sign that a word processor put in another's place, a way of speaking for an operator. These are looked for by
// themselves, before a parser's words are passed on.

// signs are what people, telephones and word processors write for a sign of the language.
var signs = map[rune]string{'≥': ">=", '≤': "<=", '≠': "!=", '⩾': ">=", '⩽': "<=", '＝': "==", '＞': ">", '＜': "<",
	'−': "-", '–': "-", '—': "-", '‐': "-", '‑': "-", '×': "*", '·': "*", '÷': "/", '∗': "*", '²': "** 2", '³': "** 3",
	'“': `"`, '”': `"`, '„': `"`, '‟': `"`, '«': `"`, '»': `"`, '‘': `"`, '’': `"`, '‚': `"`, '″': `"`, '＂': `"`,
	'∧': "and", '∨': "or", '¬': "not", '∈': "in", '（': "(", '）': ")", '，': ",", '．': ".", '、': ","}

// strangeSigns reports the signs that are none of the language, outside quotes. It tells whether there are any.
func strangeSigns(text string, locate Locate, out *diag.List) bool {
	seen, found := significant(text), false
	for i, r := range text {
		if r < utf8.RuneSelf || seen[i] == 'x' {
			continue
		}
		end := i + utf8.RuneLen(r)
		meant, known := signs[r]
		switch {
		case meant == `"`:
			d := out.Errorf(diag.BadSyntax, locate(i, end), "%s is no quote of the language", string(r))
			d.Detail = `A word stands between straight quotes: "green".`
		case known:
			out.Errorf(diag.BadSyntax, locate(i, end), "%s is no sign of the language", string(r)).Detail = "Write " +
				meant + " for it."
		case unicode.IsSpace(r) || unicode.Is(unicode.Cf, r):
			d := out.Errorf(diag.BadSyntax, locate(i, end), "a blank that is no ordinary one (U+%04X) stands here", r)
			d.Detail = "Write an ordinary blank in its place."
		case unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.Is(unicode.Mn, r):
			continue // a name that nobody knows
		default:
			out.Errorf(diag.BadSyntax, locate(i, end), "%s (U+%04X) is no sign of the language", string(r),
				r).Detail = "Take it out, or put the word that it is part of in quotes."
		}
		found = true
	}
	return found
}

// foreignLetter says which letter of a name is none of the alphabet in which names are written, though it may look like
// one.
func foreignLetter(name string) string {
	for _, r := range name {
		if r >= utf8.RuneSelf {
			return fmt.Sprintf("Its letter %s is U+%04X, of another alphabet, however like it looks. Names have the "+
				"letters a to z; type it anew.", strconv.Quote(string(r)), r)
		}
	}
	return ""
}

var closers = map[byte]byte{'(': ')', '[': ']', '{': '}'}

// unclosed reports quotes and brackets that nothing closes, at the place where they open, and such as close nothing. It
// tells whether there are any.
func unclosed(text string, locate Locate, out *diag.List) bool {
	if syntax.SeparatorAdviceAt(text, -1) != "" {
		return false // 5'000
	}
	for i := 0; i < len(text); i++ {
		if strings.IndexByte("\"'`", text[i]) < 0 {
			continue
		}
		end := closingQuote(text, i)
		if end == len(text) && (end == i+1 || text[end-1] != text[i] || escaped(text, i, end-1)) {
			out.Errorf(diag.BadSyntax, locate(i, i+1), "the quotes that open here are not closed").
				Detail = "Write " + string(text[i]) + " behind the word, too."
			return true
		}
		i = end - 1
	}
	seen := significant(text)
	var open []int
	for i := 0; i < len(seen); i++ {
		switch c := seen[i]; c {
		case '(', '[', '{':
			open = append(open, i)
		case ')', ']', '}':
			if len(open) == 0 {
				out.Errorf(diag.BadSyntax, locate(i, i+1), "this %q closes nothing",
					string(c)).Detail = "Take it out, or open it where it is meant to begin."
				return true
			}
			from := open[len(open)-1]
			if want := closers[seen[from]]; want != c {
				d := out.Errorf(diag.BadSyntax, locate(i, i+1), "this %q stands where %q is wanted", string(c),
					string(want))
				d.Detail = "Brackets are closed in the order in which they were opened, each by its own kind."
				d.Related = []diag.Related{{Span: locate(from, from+1), Says: "opened here"}}
				return true
			}
			open = open[:len(open)-1]
		}
	}
	if len(open) == 0 {
		return false
	}
	from := open[len(open)-1]
	out.Errorf(diag.BadSyntax, locate(from, from+1), "this %q is not closed", string(seen[from])).
		Detail = "Write " + string(closers[seen[from]]) + " where it is to end."
	return true
}

// escaped tells whether the quote at an offset is written as an escape, in a text that opens at another.
func escaped(text string, open, at int) bool {
	if text[open] == '`' {
		return false
	}
	n := 0
	for i := at - 1; i > open && text[i] == '\\'; i-- {
		n++
	}
	return n%2 == 1
}

// ways of speaking that stand for an operator, the longest first.
var ways = []struct {
	form *regexp.Regexp
	sign string
}{
	{regexp.MustCompile(`\bis (?:greater|more|higher|larger) than\b|\b(?:greater|more|higher|larger) than\b|\bis (?:above|over)\b`), ">"},
	{regexp.MustCompile(`\bis (?:less|lower|smaller) than\b|\b(?:less|lower|smaller) than\b|\bis (?:below|under)\b`),
		"<"},
	{regexp.MustCompile(`\bis at least\b|\bat least\b|\bfrom\b`), ">="},
	{regexp.MustCompile(`\bis at most\b|\bat most\b|\bup to\b`), "<="},
	{regexp.MustCompile(`\b(?:above|over)\b`), ">"},
	{regexp.MustCompile(`\b(?:below|under)\b`), "<"},
	{regexp.MustCompile(`\bis equal to\b|\bequals?\b|===`), "=="},
	{regexp.MustCompile(`\bis one of\b|\bone of\b|\bis in\b`), "in"},
	{regexp.MustCompile(`<>|!==`), "!="},
	{regexp.MustCompile(`=>`), ">="},
	{regexp.MustCompile(`=<`), "<="},
}

var (
	betweenForm = regexp.MustCompile(`([A-Za-z_.]+)\s+(?:is\s+)?between\s+(-?[0-9.]+)\s+and\s+(-?[0-9.]+)`)
	toForm      = regexp.MustCompile(`([A-Za-z_.]+)\s*(?:==?|is|from)?\s+(-?[0-9]+(?:\.[0-9]+)?)\s*(?:to|-|\.\.\.?)\s*(-?[0-9]+(?:\.[0-9]+)?)`)
	hasForm     = regexp.MustCompile(`([A-Za-z_]+)\s+(?:has|have|shows?|includes?)\s+(?:x+|[A-Za-z]+)`)
)

// spoken reports what is said as people say it, and how it is written. It tells whether there is anything of the kind.
func spoken(text string, scope *Scope, locate Locate, out *diag.List) bool {
	seen := significant(text)
	told := func(from, to int, detail string) bool {
		out.Errorf(diag.BadSyntax, locate(from, to), "%q is no part of the language", text[from:to]).Detail = detail
		return true
	}
	for _, form := range []*regexp.Regexp{betweenForm, toForm} {
		if m := form.FindStringSubmatchIndex(seen); m != nil && scope.Symbol(seen[m[2]:m[3]]) != nil {
			return told(m[0], m[1], fmt.Sprintf("Write a range as %s <= %s <= %s.", seen[m[4]:m[5]], seen[m[2]:m[3]],
				seen[m[6]:m[7]]))
		}
	}
	if m := hasForm.FindStringSubmatchIndex(seen); m != nil {
		if s := scope.Symbol(seen[m[2]:m[3]]); s != nil && len(s.words()) > 0 {
			return told(m[0], m[1], askFor(s, scope.outcome(s.Name, strings.Trim(text[m[1]-wordLen(seen[:m[1]]):m[1]],
				`"'`))))
		}
	}
	for _, w := range ways {
		if at := w.form.FindStringIndex(seen); at != nil && scope.Symbol(seen[at[0]:at[1]]) == nil {
			return told(at[0], at[1], "Write "+w.sign+" for it.")
		}
	}
	return false
}

// wordLen is the length of the word with which a text ends.
func wordLen(text string) int {
	return len(text) - len(strings.TrimRightFunc(text, func(r rune) bool { return r != ' ' }))
}

// split is a known name that was written with blanks or hyphens for its "_", and where.
type split struct {
	start, end int
	name       string
}

// splitNames finds the names that were written in several words.
func splitNames(text string, scope *Scope) (out []split) {
	words := wordsOf(text)
	for i := 0; i < len(words); i++ {
		joined, end := words[i].text, -1
		if words[i].kind != 'w' || i > 0 && words[i-1].ends() {
			continue // behind a value an operator is wanted, and this is perhaps a slip of one
		}
		for j := i + 1; j < len(words) && j < i+6; j++ {
			if words[j].kind == '-' && j+1 < len(words) {
				j++
			}
			if words[j].kind != 'w' || slices.Contains(operators, words[j].text) {
				break
			}
			if joined += "_" + words[j].text; scope.Symbol(joined) != nil || diag.Slip(joined, scope.names) != "" &&
				!scope.knows(words[i].text) {
				end = j
				break
			}
		}
		if end < 0 {
			continue
		}
		name := joined
		if scope.Symbol(joined) == nil {
			name = diag.Slip(joined, scope.names)
		}
		out = append(out, split{words[i].start, words[end].end, name})
		i = end
	}
	return out
}

// tell reports a name in several words.
func (s split) tell(text string, locate Locate, out *diag.List) {
	d := out.Errorf(diag.UnknownName, locate(s.start, s.end), "%q is no name: the words of a name are joined by \"_\"",
		text[s.start:s.end])
	d.Nearest = s.name
}

// reportSplit reports all names in several words of a text that has no grammar. It tells whether there are any.
func reportSplit(text string, scope *Scope, locate Locate, out *diag.List) bool {
	all := splitNames(text, scope)
	for _, s := range all {
		s.tell(text, locate, out)
	}
	return len(all) > 0
}
