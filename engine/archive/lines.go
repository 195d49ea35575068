package archive

import (
	"bufio"
	"bytes"
	"errors"
	"io"
)

// MaxLine bounds a record's text.
const MaxLine = 1 << 20

// eachLine cuts JSON lines. Blank lines are passed over; a line that is too long is reported and skipped.
func eachLine(path string, in io.Reader, yield func(*Raw) bool) error {
	r := bufio.NewReaderSize(in, 256<<10)
	for number := 1; ; number++ {
		text, tooLong, err := line(r)
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		text = bytes.TrimSpace(text)
		raw := &Raw{File: path, Line: number, Text: text}
		if tooLong {
			raw.Err = errors.New("the line is longer than a record may be")
		}
		if (len(text) > 0 || tooLong) && !yield(raw) {
			return nil
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
	}
}

func line(r *bufio.Reader) (text []byte, tooLong bool, err error) {
	for {
		part, err := r.ReadSlice('\n')
		if len(text)+len(part) > MaxLine {
			tooLong, text = true, text[:0]
		}
		if !tooLong {
			text = append(text, part...)
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return text, tooLong, err
		}
	}
}
