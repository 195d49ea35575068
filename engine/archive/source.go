package archive

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"

	"github.com/klauspost/compress/zstd"
)

// open opens an archive of text. Reading it ends with ctx, whatever it is read from.
func (in *Input) open(ctx context.Context, path string) (io.ReadCloser, error) {
	if in.Lines != nil {
		if lines, ok := in.Lines(ctx, path); ok {
			return lines, nil
		}
	}
	if path == Stdin {
		return until(ctx, func() (io.ReadCloser, error) { return io.NopCloser(in.Stdin), nil }), nil
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return until(ctx, func() (io.ReadCloser, error) { return os.Open(path) }), nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, plainError(err)
	}
	return &file{f, ctx, in.Read}, nil
}

// file is a regular file: its bytes are counted, and no more are given once ctx is over.
type file struct {
	*os.File
	ctx context.Context
	n   *atomic.Int64
}

func (f *file) Read(p []byte) (int, error) {
	if err := f.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := f.File.Read(p)
	if f.n != nil {
		f.n.Add(int64(n))
	}
	return n, plainError(err)
}

// until is a reader that ends with ctx. To open or read a pipe or a device can't be broken off, so a goroutine of its
// own does it, which ends with its next read.
func until(ctx context.Context, open func() (io.ReadCloser, error)) io.ReadCloser {
	out, to := io.Pipe()
	stop := context.AfterFunc(ctx, func() { to.CloseWithError(ctx.Err()) })
	go func() {
		in, err := open()
		if err == nil {
			_, err = io.Copy(to, in)
			_ = in.Close() // only read from
		}
		stop()
		to.CloseWithError(plainError(err))
	}()
	return out
}

// kindOf is a file's ending, that of compression taken off.
func kindOf(path string) string {
	for _, c := range []string{".gz", ".zst"} {
		path = strings.TrimSuffix(path, c)
	}
	return strings.ToLower(filepath.Ext(path))
}

func decompress(path string, in io.Reader) (io.ReadCloser, error) {
	switch {
	case strings.HasSuffix(path, ".gz"):
		return gzip.NewReader(in)
	case strings.HasSuffix(path, ".zst"):
		d, err := zstd.NewReader(in, zstd.WithDecoderMaxMemory(256<<20), zstd.WithDecoderConcurrency(1))
		if err != nil {
			return nil, err
		}
		return d.IOReadCloser(), nil
	}
	return io.NopCloser(in), nil
}

var errUTF16 = errors.New("it is written in UTF-16: save it as UTF-8")

// passMark passes over a byte order mark.
func passMark(in *bufio.Reader) error {
	first, _ := in.Peek(3) // an error comes again with the first read
	switch {
	case bytes.HasPrefix(first, []byte("\uFEFF")):
		_, err := in.Discard(len("\uFEFF"))
		return err
	case bytes.HasPrefix(first, []byte{0xFE, 0xFF}), bytes.HasPrefix(first, []byte{0xFF, 0xFE}):
		return errUTF16
	}
	return nil
}

// plainError takes the path off a file error, as it is told beside it.
func plainError(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}
