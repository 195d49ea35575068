package tidy

import (
	"bytes"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// kind is what a token is.
type kind int

const (
	scalar kind = iota // a key or a value, but for block texts
	header             // the first line of a block text, from its | or >
	body               // the lines of a block text
	dash
	colon
	comma
	opener
	closer
	comment
	mark // --- or ...
)

// token is a piece of the text; between tokens there are blanks and line ends only. column is where it is to stand if
// it is the first of its line, was where it stands then.
type token struct {
	kind        kind
	start, end  int
	own         bool // the first of its line
	was, column int
	level       *level // what it stands in: of comments, what the token before stands in
	inFlow      bool   // between brackets

	style   syntax.Style // of a scalar
	further int          // the column of a scalar's further lines
	block   indents      // of a body
	keeps   bool         // blank lines after it would be part of a text
	bare    bool         // at the end of the file a line end after it would be part of a text
	sheet   bool         // a dash that parts two sheets
}

// level is a block mapping or list, with the columns of its keys or dashes before and after.
type level struct {
	above    *level
	was, now int
}

// step is by how much a level is indented.
const step = 2

// tokeniser walks the tree and the text side by side, and knows of every token where it belongs.
type tokeniser struct {
	text   []byte
	at     int
	tokens []token
	sheets []*syntax.Node // the lists of sheets of the document
	lost   bool           // the text is not what the tree says: must never happen

	depth int  // brackets that are open
	flow  flow // of the outermost
}

// tokenise splits a text that was parsed. It is not ok if the text and its tree don't fit.
func tokenise(src *diag.Source, docs []*syntax.Node) (tokens []token, ok bool) {
	t := &tokeniser{text: src.Text}
	t.at = len(bom(src.Text))
	for _, root := range docs {
		t.marks()
		t.sheets = sheetLists(root)
		t.node(root, &level{was: -1, now: topColumn(root) - step})
	}
	t.marks()
	return t.tokens, !t.lost && t.at == len(t.text)
}

func bom(text []byte) []byte {
	const bom = "\uFEFF"
	if bytes.HasPrefix(text, []byte(bom)) {
		return text[:len(bom)]
	}
	return nil
}

// topColumn is where the top of a document stands: at the line start, unless it begins with what would be a document
// mark there.
func topColumn(root *syntax.Node) int {
	if root.Kind == syntax.Scalar && root.Style == syntax.Plain && isMark([]byte(root.Span.Text())) {
		return step
	}
	for _, e := range root.Entries {
		if raw := e.Key.Span.Text(); len(raw) > 3 && isMark([]byte(raw)) {
			return step
		}
	}
	return 0
}

// isMark tells whether a line that begins so begins with a document mark.
func isMark(line []byte) bool {
	if !bytes.HasPrefix(line, []byte("---")) && !bytes.HasPrefix(line, []byte("...")) {
		return false
	}
	return len(line) == 3 || isBlank(line[3]) || isBreak(line[3])
}

// marks passes the document marks that come next.
func (t *tokeniser) marks() {
	for t.skip(); t.at < len(t.text) && t.lineStart(t.at) == t.at && isMark(t.text[t.at:]); t.skip() {
		t.add(token{kind: mark, start: t.at, end: t.at + 3})
	}
}

// skip passes blanks, line ends and comments, and adds the comments.
func (t *tokeniser) skip() {
	for t.at < len(t.text) {
		switch b := t.text[t.at]; {
		case isBlank(b) || isBreak(b):
			t.at++
		case b == '#':
			end := syntax.LineEnd(t.text, t.at)
			c := token{kind: comment, start: t.at, end: t.at + len(bytes.TrimRight(t.text[t.at:end], " \t")),
				inFlow: t.depth > 0}
			if t.depth > 0 {
				c.column = t.inner()
			} else if n := len(t.tokens); n > 0 {
				c.level = t.tokens[n-1].within()
			}
			t.add(c)
		default:
			return
		}
	}
}

// within is the level at which a comment right after the token can stand. A colon or a dash opens one.
func (t token) within() *level {
	if !t.inFlow && (t.kind == colon || t.kind == dash) {
		return &level{t.level, t.level.was + 1, t.level.now + step}
	}
	return t.level
}

// add adds a token and moves behind it.
func (t *tokeniser) add(tok token) *token {
	n := len(t.tokens)
	tok.own = n == 0 || bytes.ContainsAny(t.text[t.tokens[n-1].end:tok.start], "\r\n")
	if tok.own {
		tok.was = tok.start - t.lineStart(tok.start)
	}
	t.at = tok.end
	t.tokens = append(t.tokens, tok)
	return &t.tokens[n]
}

// sign adds a token of one character, which must come next.
func (t *tokeniser) sign(k kind, c byte, tok token) *token {
	t.skip()
	if t.at >= len(t.text) || t.text[t.at] != c {
		t.lost = true
		return &token{}
	}
	tok.kind, tok.start, tok.end = k, t.at, t.at+1
	return t.add(tok)
}

// lineStart returns the start of the line that the offset i lies in. It is asked for offsets near it only.
func (t *tokeniser) lineStart(i int) int { return lineStart(t.text, len(bom(t.text)), i) }

// lineStart returns the start of the line that the offset i lies in, where that is not before first.
func lineStart(text []byte, first, i int) int {
	for i > first && !isBreak(text[i-1]) {
		i--
	}
	return i
}

func isBlank(b byte) bool { return b == ' ' || b == '\t' }

func isBreak(b byte) bool { return b == '\n' || b == '\r' }

// breakEnd returns the offset behind the line break at i, or i if there is none.
func breakEnd(text []byte, i int) int { return i + syntax.BreakAt(text, i) }
