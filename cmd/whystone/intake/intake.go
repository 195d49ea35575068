// Package intake reads case files: YAML of one or several documents, JSON, and JSON lines, from files or standard
// input.
//
// Every case comes out as an [Item], in the order of the text: either the case, or what is wrong with it. One that
// can't be read never keeps the others from being read, so texts are cut into cases before they are parsed: YAML at its
// document markers, JSON lines at line ends. JSON lines stream, a line at a time; the other forms are held whole, up to
// [doc.MaxBytes].
package intake

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"strings"

	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// Stdin is the name that stands for standard input, on a command line and in messages.
const (
	Stdin     = "-"
	StdinName = "standard input"
)

// Item is one case of a text.
type Item struct {
	ID    string         // its number or name, as far as it could be read
	File  string         // where it stands
	Node  *syntax.Node   // as it stands there; nil when the text can't be parsed
	Case  *casefile.Case // nil when it can't be used
	Found diag.List      // what is wrong, or worth knowing
}

// All reads files one after another; "-" is standard input.
func All(names []string, stdin io.Reader, rd *casefile.Reader) iter.Seq[Item] {
	return func(yield func(Item) bool) {
		for _, name := range names {
			for it := range one(name, stdin, rd) {
				if !yield(it) {
					return
				}
			}
		}
	}
}

// one reads one file, which is open for as long as it is read.
func one(name string, stdin io.Reader, rd *casefile.Reader) iter.Seq[Item] {
	if name == Stdin {
		return Read(stdin, StdinName, rd)
	}
	return func(yield func(Item) bool) {
		f, err := os.Open(name)
		if err != nil {
			yield(unreadable(name, "the file can't be opened: %s", reason(err)))
			return
		}
		defer func() { _ = f.Close() }() // it was only read
		if info, err := f.Stat(); err == nil && info.IsDir() {
			yield(unreadable(name, "%s is a folder; name the files in it", name))
			return
		}
		Read(f, name, rd)(yield)
	}
}

// ReadFile reads a file that is held whole, unless it is longer than most bytes.
func ReadFile(name string, most int64) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }() // only read from
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(text)) > most {
		err = fmt.Errorf("%s is longer than the %d MiB that are read", name, most>>20)
	}
	return text, err
}

// reason is an error without what the message says already.
func reason(err error) string {
	if path, ok := errors.AsType[*os.PathError](err); ok {
		return path.Path + ": " + path.Err.Error()
	}
	return err.Error()
}

// broken is the item of what can't be used.
func broken(name string, code diag.Code, at diag.Span, format string, args ...any) Item {
	it := Item{File: name}
	it.Found.Errorf(code, at, format, args...)
	return it
}

func unreadable(name, format string, args ...any) Item {
	return broken(name, diag.FileUnreadable, diag.Span{}, format, args...)
}

func tooLong(name string, at diag.Span, what string) Item {
	return broken(name, diag.TooLong, at, "%s is longer than the %d MiB that are read", what, syntax.MaxBytes>>20)
}

// nothing is the item of a text without a case.
func nothing(name string) Item {
	return broken(name, diag.MissingKey, diag.Span{}, "%s holds no case", name)
}

// form is how a text holds cases.
type form int

const (
	yamlForm form = iota
	jsonForm
	linesForm
)

// Read reads the cases of one text. Its form is told by the name's ending, else by how the text begins.
func Read(r io.Reader, name string, rd *casefile.Reader) iter.Seq[Item] {
	return func(yield func(Item) bool) {
		given := false
		tell := func(it Item) bool {
			given = true
			return yield(it)
		}
		if read(r, name, rd, tell); !given {
			yield(nothing(name))
		}
	}
}

// read hands on the cases of one text as far as there are any.
func read(r io.Reader, name string, rd *casefile.Reader, yield func(Item) bool) {
	in := bufio.NewReaderSize(r, peeked)
	what := formOf(name, in)
	if what == linesForm {
		readLines(in, name, rd, yield)
		return
	}
	text, err := io.ReadAll(io.LimitReader(in, syntax.MaxBytes+1))
	if err != nil {
		yield(unreadable(name, "%s can't be read: %s", name, reason(err)))
		return
	}
	if len(text) > syntax.MaxBytes {
		it := tooLong(name, diag.Span{}, name)
		it.Found[0].Detail = "A long archive is read as JSON lines, a case a line, from a file whose name ends " +
			"with .jsonl."
		yield(it)
		return
	}
	src := diag.NewSource(name, text)
	if what == jsonForm {
		readJSON(src, rd, yield)
		return
	}
	readYAML(src, rd, yield)
}

// peeked is how much of a text is looked at to tell its form.
const peeked = 64 << 10

func formOf(name string, in *bufio.Reader) form {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".yaml", ".yml":
		return yamlForm
	case ".jsonl", ".ndjson":
		return linesForm
	case ".json":
		if f := sniff(in); f != yamlForm {
			return f
		}
		return jsonForm
	}
	return sniff(in)
}

// sniff tells the form by how a text begins. One that begins with a brace and a quote is JSON, and JSON lines when its
// first line is an object of its own, or the next line begins another.
func sniff(in *bufio.Reader) form {
	var start []byte
	for need := 1; need <= peeked; need = len(start) + 1 { // no more than is needed: standard input may come slowly
		_, err := in.Peek(need)
		start, _ = in.Peek(in.Buffered())
		if err != nil || bytes.IndexByte(bytes.TrimLeft(start, blanks), '\n') >= 0 {
			break
		}
	}
	start = bytes.TrimLeft(bytes.TrimPrefix(start, []byte("\uFEFF")), blanks)
	switch {
	case bytes.HasPrefix(start, []byte("[")):
		return jsonForm
	case !bytes.HasPrefix(start, []byte("{")):
		return yamlForm
	}
	if inner := bytes.TrimLeft(start[1:], blanks); len(inner) > 0 && inner[0] != '"' && inner[0] != '}' {
		return yamlForm // a flow mapping
	}
	line, rest, _ := bytes.Cut(start, []byte("\n"))
	whole := bytes.HasSuffix(bytes.TrimRight(line, blanks), []byte("}"))
	another := bytes.HasPrefix(bytes.TrimLeft(rest, blanks), []byte("{"))
	if whole || another && len(bytes.TrimSpace(line)) > 1 {
		return linesForm
	}
	return jsonForm
}

const blanks = " \t\r\n"

// Of makes an item of a case that is a tree already.
func Of(n *syntax.Node, name string, rd *casefile.Reader) Item { return item(n, name, rd, nil) }

// item makes an item of a parsed case.
func item(n *syntax.Node, name string, rd *casefile.Reader, found diag.List) Item {
	it := Item{File: name, ID: idOf(n), Node: n, Found: found}
	if n == nil || it.Found.HasErrors() {
		if n != nil && n.Kind == syntax.Map { // tell all that is wrong at once
			rd.Read(n, &it.Found)
		}
		it.Found.Sort()
		return it
	}
	it.Case = rd.Read(n, &it.Found)
	it.Found.Sort()
	if it.Case == nil && !it.Found.HasErrors() {
		it.Found.Errorf(diag.WrongKind, n.Span, "a case is a mapping of keys")
	}
	return it
}

func idOf(n *syntax.Node) string {
	if v := n.Get("case"); v != nil && v.Kind == syntax.Scalar {
		return v.Text
	}
	return ""
}
