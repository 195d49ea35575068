package tidy

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// writer writes random YAML that parses, with whatever layout the grammar lets pass: indentation, blanks, blank lines,
// comments, line ends, quotes, block texts and brackets.
type writer struct {
	t      *rapid.T
	b      strings.Builder
	keys   int
	breaks []string
}

func (w *writer) pick(of ...string) string { return rapid.SampledFrom(of).Draw(w.t, "pick") }
func (w *writer) upTo(n int) int           { return rapid.IntRange(0, n).Draw(w.t, "n") }
func (w *writer) chance(percent int) bool {
	return rapid.IntRange(1, 100).Draw(w.t, "chance") <= percent
}
func (w *writer) put(s ...string) { w.b.WriteString(strings.Join(s, "")) }
func (w *writer) spaces(n int)    { w.put(strings.Repeat(" ", n)) }
func (w *writer) blank() string   { return w.pick("", "", "", " ", "  ", "\t", " \t ") }
func (w *writer) some() string    { return w.pick(" ", " ", "   ", " \t", "  ") }

// lineEnd ends a line, with or without a comment behind what stands there.
func (w *writer) lineEnd(comment bool) {
	if comment && w.chance(20) {
		w.put(w.some(), w.comment())
	}
	w.put(w.blank(), w.pick(w.breaks...))
}

func (w *writer) comment() string {
	return w.pick("# a word", "#word", "#", "##", "#!x", "#  - [not: a, list", "# 'quote\" é", "# tab\tand blanks  ",
		"#\tx")
}

// between writes blank lines and comments, at any indentation.
func (w *writer) between() {
	for range w.upTo(3) {
		switch w.upTo(3) {
		case 0:
			w.put(w.pick("", "", "   "), w.pick(w.breaks...))
		case 1:
			w.spaces(w.upTo(9))
			w.put(w.comment())
			w.lineEnd(false)
		}
	}
}

func (w *writer) key() string {
	w.keys++
	if w.chance(15) {
		return fmt.Sprintf(w.pick("'k %d'", `"k# %d"`, "--- k %d", "k.%d#x"), w.keys)
	}
	return w.pick("rules", "tests", "k", "straße") + fmt.Sprint(w.keys)
}

// mapping writes a block mapping whose first key comes next and whose others stand at a column.
func (w *writer) mapping(column, depth int) {
	for i := range 1 + w.upTo(2) {
		if i > 0 {
			w.between()
			w.spaces(column)
		}
		key := w.key()
		if column == 0 {
			if key = strings.TrimLeft(key, "- "); i == 0 && w.chance(40) {
				key = w.pick("rules", "materials", "tests", "tables")
			}
		}
		w.put(key, w.blank(), ":")
		if depth > 0 && w.chance(40) {
			w.lineEnd(true)
			w.between()
			if w.chance(50) {
				w.list(column+w.upTo(3), depth-1)
				continue
			}
			inner := column + 1 + w.upTo(4)
			w.spaces(inner)
			w.mapping(inner, depth-1)
			continue
		}
		w.inline(column, depth)
	}
}

// list writes a block list at a column, from a line start.
func (w *writer) list(column, depth int) {
	for i := range 1 + w.upTo(3) {
		if i > 0 {
			w.between()
		}
		w.spaces(column)
		w.put("-")
		switch {
		case depth == 0 || w.chance(30):
			w.inline(column, depth)
		case w.chance(20):
			w.lineEnd(true)
			w.between()
			inner := column + 1 + w.upTo(3)
			if w.chance(50) {
				w.list(inner, depth-1)
				continue
			}
			w.spaces(inner)
			w.mapping(inner, depth-1)
		default:
			gap := 1 + w.upTo(3)
			w.spaces(gap)
			w.mapping(column+1+gap, depth-1)
		}
	}
}

// inline writes a value that begins on the line of its key or dash, or on the next, and ends its line.
func (w *writer) inline(column, depth int) {
	switch n := w.upTo(9); {
	case n == 0:
		w.lineEnd(true) // left out
	case n <= 2:
		w.put(w.some())
		w.blockText(column)
	case n <= 4:
		w.put(w.some())
		w.brackets(column, 3)
		w.lineEnd(true)
	case n == 5:
		w.lineEnd(true)
		w.between()
		w.spaces(column + 1 + w.upTo(3))
		w.words(column)
		w.lineEnd(true)
	default:
		w.put(w.some())
		w.words(column)
		w.lineEnd(true)
	}
}

// words writes a plain or quoted text of one line or several.
func (w *writer) words(column int) {
	quote := w.pick("", "", "'", `"`)
	inside := []string{"word", "it", "a-b", "x:y", "c#d", "1.50", "true", "2031-01-01", "null", "é日", "---", "..."}
	switch quote {
	case "'":
		inside = append(inside, "''", "# no comment", "a: b", `\`, "- x", "[")
	case `"`:
		inside = append(inside, `\"`, "# no comment", `\t`, `\ `, `\\`, "a: b", "]", "\\\t")
	}
	w.put(quote)
	if quote == "" {
		w.put("w")
	}
	for range 1 + w.upTo(4) {
		switch {
		case w.chance(15):
			w.fold(column, quote)
		case w.chance(70):
			w.put(w.pick(" ", " ", "  ", "\t"))
		}
		w.put(w.pick(inside...))
	}
	if quote != "" && w.chance(10) {
		w.fold(column, quote)
	}
	w.put(quote)
}

// fold writes a line break within a text, and indents the next line by any blanks that are enough.
func (w *writer) fold(column int, quote string) {
	if quote == `"` && w.chance(30) {
		w.put(w.pick(`\`, `\ `, "\\\t"))
	}
	if !strings.HasSuffix(w.b.String(), `\`) {
		w.put(w.blank())
	}
	for range 1 + w.upTo(2)/2 {
		w.put(w.pick(w.breaks...))
	}
	w.spaces(column + 1 + w.upTo(5))
	if quote != "" {
		w.put(w.pick("", "", "\t"))
	} else {
		w.put("v")
	}
}

// blockText writes a literal or folded text that stands in a collection at a column, and ends its last line.
func (w *writer) blockText(column int) {
	indent := column + 1 + w.upTo(4)
	head, more := w.pick("|", ">"), 0
	chomp := w.pick("", "", "-", "+")
	if w.chance(30) {
		head += fmt.Sprint(indent - column)
		more = w.upTo(3) // its first line can be indented further
	}
	w.put(head, chomp)
	w.lineEnd(true)
	first := true
	for range w.upTo(4) {
		if w.chance(25) && (!first || more == 0) {
			w.spaces(w.upTo(indent))
			w.put(w.pick(w.breaks...))
			continue
		}
		w.spaces(indent)
		if !first || more > 0 {
			w.spaces(w.upTo(2) + more)
		}
		first = false
		w.put(w.pick("x", "a: b", "# content", "- y", "é", "'", "[", "...", "x\t"), w.pick("", "", "  "),
			w.pick(w.breaks...))
	}
	for range w.upTo(2) {
		w.spaces(w.upTo(indent + 2))
		w.put(w.pick(w.breaks...))
	}
}

// brackets writes a list or mapping in brackets. Its lines stand further in than a column.
func (w *writer) brackets(column, depth int) {
	isMap := w.chance(50)
	w.put(map[bool]string{true: "{", false: "["}[isMap])
	n := w.upTo(3)
	for i := range n {
		w.turn(column)
		if isMap || w.chance(15) {
			w.put(w.key(), w.blank(), ":", w.some())
		}
		switch {
		case depth > 0 && w.chance(30):
			w.brackets(column, depth-1)
		case isMap && w.chance(10): // left out
		default:
			w.words(column)
		}
		if w.turn(column); i < n-1 || w.chance(15) {
			w.put(",")
		}
	}
	w.turn(column)
	w.put(map[bool]string{true: "}", false: "]"}[isMap])
}

// turn writes white space between brackets, at times with line ends and comments in it.
func (w *writer) turn(column int) {
	if w.chance(80) {
		w.put(w.blank())
		return
	}
	w.lineEnd(true)
	w.between()
	w.spaces(column + 1 + w.upTo(5))
}

// document writes a whole text of one document or more.
func (w *writer) document() string {
	w.put(w.pick("", "", "", "\uFEFF"))
	w.breaks = [][]string{{"\n"}, {"\n"}, {"\r\n"}, {"\n", "\r\n"}, {"\r", "\n"}}[w.upTo(4)]
	for i := range 1 + w.upTo(2)/2 {
		w.between()
		if i > 0 || w.chance(20) {
			w.put("---")
			w.lineEnd(true)
			w.between()
		}
		switch w.upTo(5) {
		case 0:
			w.list(w.upTo(2), 3)
		case 1:
			w.brackets(0, 3)
			w.lineEnd(true)
		case 2:
			w.spaces(2)
			w.mapping(2, 3)
		default:
			w.mapping(0, 3)
		}
	}
	w.between()
	text := w.b.String()
	if w.chance(20) {
		text = strings.TrimRight(text, "\r\n")
	}
	return text
}

func TestRandomYAML(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := (&writer{t: t}).document()
		if check(t, []byte(text)) == nil {
			t.Fatalf("what is written here must be read: %q", text)
		}
	})
}
