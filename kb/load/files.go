package load

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"syscall"

	"whystone/kb"
	"whystone/kb/diag"
)

// Layer is one set of files in the stack: the shipped ruleset below, the house's own above.
type Layer struct {
	Name string // shown in messages, before the file's path
	FS   fs.FS
}

// MaxFileBytes bounds a ruleset's file.
const MaxFileBytes = 4 << 20

// IsRulesetFile tells whether a name in a layer's folder is read: YAML, or CSV for the rows of tables, and neither hidden
// nor an editor's leftover.
func IsRulesetFile(name string) bool {
	base := path.Base(name)
	ext := path.Ext(base)
	return (ext == ".yaml" || ext == ".yml" || IsTableFile(base)) && !strings.HasPrefix(base, ".") && !strings.HasPrefix(base, "#")
}

// IsTableFile tells whether a file holds the rows of a table rather than sheets.
func IsTableFile(name string) bool { return path.Ext(name) == ".csv" }

// ReadFiles reads all files of a stack, layer by layer, sorted by path. A file that can't be read is reported.
func ReadFiles(ctx context.Context, layers []Layer, out *diag.List) []kb.File {
	var files []kb.File
	for _, l := range layers {
		before := len(files)
		err := fs.WalkDir(l.FS, ".", func(p string, d fs.DirEntry, err error) error {
			if p == "." && errors.Is(err, syscall.ENOTDIR) {
				return errors.New("it is a file, and a layer is the folder that holds its files")
			}
			if err != nil || ctx.Err() != nil {
				return cmp.Or(err, ctx.Err())
			}
			if d.IsDir() {
				if p != "." && strings.HasPrefix(d.Name(), ".") {
					return fs.SkipDir
				}
				return nil
			}
			if !IsRulesetFile(p) {
				return nil
			}
			info, err := fs.Stat(l.FS, p) // follows links
			if err != nil {
				return err
			}
			if !info.Mode().IsRegular() {
				return nil // a pipe would be waited for without end
			}
			text, err := readFile(l.FS, p)
			if err != nil {
				return err
			}
			files = append(files, kb.File{Layer: l.Name, Path: p, Source: diag.NewSource(path.Join(l.Name, p), text)})
			return nil
		})
		if err != nil {
			out.Errorf(diag.FileUnreadable, diag.Span{}, "the layer %s can't be read: %s", l.Name, err)
			continue
		}
		if !slices.ContainsFunc(files[before:], func(f kb.File) bool { return !IsTableFile(f.Path) }) {
			out.Errorf(diag.FileUnreadable, diag.Span{}, "the layer %s holds no YAML file", l.Name)
		}
		slices.SortStableFunc(files[before:], func(a, b kb.File) int { return cmp.Compare(a.Path, b.Path) })
	}
	return files
}

// readFile reads a file, unless it is longer than any ruleset's.
func readFile(layer fs.FS, name string) ([]byte, error) {
	f, err := layer.Open(name)
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }() // only read
	text, err := io.ReadAll(io.LimitReader(f, MaxFileBytes+1))
	if err == nil && len(text) > MaxFileBytes {
		err = fmt.Errorf("%s is longer than the %d MiB that are read", name, MaxFileBytes>>20)
	}
	return text, err
}
