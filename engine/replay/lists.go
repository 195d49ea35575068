package replay

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"whystone/engine/archive"
	"whystone/engine/diff"
	"whystone/kb/diag"
	"whystone/kb/english"
)

// The lists of cases that a replay makes. A [Tally] keeps a count, a hash and a sample of each; [Lists] writes them
// whole.
const (
	NotReplayable      = "not replayable"
	NotByNew           = "not replayable by the new ruleset"
	FalselyAccepted    = "falsely accepted"
	FalselyRefused     = "falsely refused"
	NamedWrongly       = "named wrongly"
	Changed            = "changed"
	RightToWrong       = "right to wrong"
	WrongToRight       = "wrong to right"
	Moved              = "moved in share"
	NewlyAccepted      = "newly falsely accepted"
	PinnedChanged      = "pinned changed"
	listFile           = ".jsonl"
	bytesBeforeWriting = 64 << 10
)

var (
	singleLists = []string{NotReplayable, FalselyAccepted, FalselyRefused, NamedWrongly}
	pairLists   = []string{NotByNew, Changed, RightToWrong, WrongToRight, Moved, NewlyAccepted, PinnedChanged}
)

// Line is a case of a list that is written whole.
type Line struct {
	Entry
	Truth string `json:"truth,omitempty"`
	Was   string `json:"was,omitempty"` // the verdict by the old ruleset, or the only one
	Is    string `json:"is,omitempty"`  // by the new one
	// Parts is where the two chains part.
	Parts *diff.Parting `json:"parts,omitempty"`
	// Record is the case as the archive has it; Text what it has where that is no JSON.
	Record json.RawMessage `json:"record,omitempty"`
	Text   string          `json:"text,omitempty"`
}

// listed is a line on its way to its file.
type listed struct {
	list string
	line []byte
}

// Lists writes every list of a replay in full, as JSON lines in a folder, a file each, in the order of the archive. It
// keeps none of it in memory.
type Lists struct {
	files map[string]*os.File
	bufs  map[string]*bufio.Writer
}

// ListFile is the name of the file that holds a list.
func ListFile(list string) string { return strings.ReplaceAll(list, " ", "-") + listFile }

// ListFiles names the files that a replay's lists are written to.
func ListFiles(dir string, pair bool) []string {
	return english.Each(listNames(pair), func(name string) string { return filepath.Join(dir, ListFile(name)) })
}

func listNames(pair bool) []string {
	if !pair {
		return singleLists
	}
	return slices.Concat(singleLists, pairLists)
}

// OpenLists begins the files of a replay, of two rulesets when pair is set. What an interrupted run counted before is
// kept of them, and what it wrote after that is cut off.
func OpenLists(dir string, pair bool, before *Tally) (*Lists, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	l := &Lists{files: map[string]*os.File{}, bufs: map[string]*bufio.Writer{}}
	for _, name := range listNames(pair) {
		keep := int64(0)
		if before != nil && before.Lists[name] != nil {
			keep = before.Lists[name].Count
		}
		f, err := openList(filepath.Join(dir, ListFile(name)), keep)
		if err != nil {
			return nil, errors.Join(err, l.Close())
		}
		l.files[name], l.bufs[name] = f, bufio.NewWriterSize(f, bytesBeforeWriting)
	}
	return l, nil
}

// openList opens a file and keeps so many lines of it.
func openList(path string, lines int64) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, err
	}
	end := int64(0)
	r := bufio.NewReader(f)
	for found := int64(0); found < lines && err == nil; {
		var part []byte
		part, err = r.ReadSlice('\n')
		end += int64(len(part))
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			err = nil
		case errors.Is(err, io.EOF):
			err = fmt.Errorf("%s holds fewer cases than the checkpoint counted", path)
		case err == nil:
			found++
		}
	}
	if err == nil {
		err = f.Truncate(end)
	}
	if err == nil {
		_, err = f.Seek(end, io.SeekStart)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

func (l *Lists) write(lines []listed) error {
	for _, x := range lines {
		if _, err := l.bufs[x.list].Write(x.line); err != nil {
			return err
		}
	}
	return nil
}

// Flush writes out what is buffered, as a checkpoint must not count what is not written.
func (l *Lists) Flush() error {
	var err error
	for _, name := range Sorted(l.bufs) {
		err = errors.Join(err, l.bufs[name].Flush())
	}
	return err
}

// Close ends the files.
func (l *Lists) Close() error {
	err := l.Flush()
	for _, name := range Sorted(l.files) {
		err = errors.Join(err, l.files[name].Close())
	}
	return err
}

// list puts a case on a list, and writes it whole if lists are.
func (w *worker) list(name string, r *archive.Raw, x Line) {
	x.Place = r.Place()
	entry(w.res.lists, name).add(x.Entry)
	if w.config.Lists == nil {
		return
	}
	x.Record, x.Text = asJSON(r)
	w.res.lines = append(w.res.lines, listed{name, jsonLine(x)})
}

// asJSON is a record as JSON; what is no JSON comes as text.
func asJSON(r *archive.Raw) (json.RawMessage, string) {
	if r.Header == nil {
		var b bytes.Buffer
		if json.Compact(&b, []byte(r.Text)) == nil && b.Len() > 0 {
			return b.Bytes(), ""
		}
		return nil, r.Text
	}
	var l diag.List
	if n := r.Tree(&l); n != nil && !l.HasErrors() {
		return json.RawMessage(archive.JSON(n)), ""
	}
	return nil, strings.Join(r.Row(), ",")
}

func jsonLine(x Line) []byte {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(x); err != nil {
		x.Record, x.Text = nil, string(x.Record) // it is no JSON after all
		b.Reset()
		_ = enc.Encode(x) // nothing is left in it that can fail
	}
	return b.Bytes()
}
