package archive

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"
)

// MaxLine bounds a record's text.
const MaxLine = 1 << 20

var errTooLong = errors.New("the line is longer than the 1 MiB that a record may have")

// blockBytes is how much text is cut at once: the records of a block are parts of one text.
const blockBytes = 64 << 10

// eachLine cuts JSON lines. Blank lines are passed over; a line that is too long is reported and skipped.
func eachLine(path string, r *bufio.Reader, yield func(*Raw) bool) error {
	l := liner{path: path, yield: yield, more: true}
	block, held := make([]byte, blockBytes), 0 // the first held bytes are a line that is not whole yet
	for {
		n, err := r.Read(block[held:])
		end := held + n
		if at := bytes.LastIndexByte(block[held:end], '\n'); at >= 0 {
			l.cut(string(block[:held+at+1]))
			held = copy(block, block[held+at+1:end])
		} else if held = end; held > MaxLine {
			l.tooLong, held = true, 0
		}
		switch {
		case errors.Is(err, io.EOF):
			if held > 0 || l.tooLong {
				l.line(string(block[:held]))
			}
			return nil
		case err != nil || !l.more:
			return err
		case held == len(block):
			block = append(block, make([]byte, len(block))...)
		}
	}
}

// liner numbers lines and hands them out.
type liner struct {
	path    string
	yield   func(*Raw) bool
	number  int
	tooLong bool // the line at hand is, by what was passed over of it
	more    bool
	free    []Raw // of the text at hand, not handed out yet: they last as long as it
}

// cut hands out the lines of a text that ends with one.
func (l *liner) cut(text string) {
	l.free = make([]Raw, strings.Count(text, "\n"))
	for text != "" && l.more {
		at := strings.IndexByte(text, '\n') + 1
		l.line(text[:at])
		text = text[at:]
	}
}

func (l *liner) line(text string) {
	l.number++
	if len(l.free) == 0 {
		l.free = make([]Raw, 1)
	}
	raw := &l.free[0]
	*raw = Raw{File: l.path, Line: l.number, Text: strings.TrimRight(text, " \t\r\n")}
	if l.tooLong || len(text) > MaxLine {
		raw.Text, raw.Err, l.tooLong = "", errTooLong, false
	}
	if raw.Err != nil || strings.TrimSpace(raw.Text) != "" {
		l.free = l.free[1:]
		l.more = l.yield(raw)
	}
}
