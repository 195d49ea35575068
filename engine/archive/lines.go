package archive

import (
	"bufio"
	"bytes"
	"errors"
	"io"
)

// MaxLine bounds a record's text.
const MaxLine = 1 << 20

var errTooLong = errors.New("the line is longer than the 1 MiB that a record may have")

// eachLine cuts JSON lines. Blank lines are passed over; a line that is too long is reported and skipped.
func eachLine(path string, r *bufio.Reader, yield func(*Raw) bool) error {
	for number := 1; ; number++ {
		text, tooLong, err := line(r)
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		raw := &Raw{File: path, Line: number, Text: bytes.TrimRight(text, " \t\r\n")}
		if tooLong {
			raw.Err = errTooLong
		}
		if (tooLong || len(bytes.TrimSpace(text)) > 0) && !yield(raw) {
			return nil
		}
		if err != nil {
			return nil
		}
	}
}

func line(r *bufio.Reader) (text []byte, tooLong bool, err error) {
	for {
		part, err := r.ReadSlice('\n')
		if len(text)+len(part) > MaxLine {
			tooLong, text = true, nil
		}
		if !tooLong {
			text = append(text, part...)
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return text, tooLong, err
		}
	}
}
