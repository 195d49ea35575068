package load

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"regexp"
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

// IsRulesetFile tells whether a name in a layer's folder is read: YAML, or CSV for the rows of tables, and neither
// hidden nor an editor's leftover.
func IsRulesetFile(name string) bool {
	base := path.Base(name)
	ext := strings.ToLower(path.Ext(base))
	return (ext == ".yaml" || ext == ".yml" || IsTableFile(base)) && !strings.HasPrefix(base, ".") &&
		!strings.HasPrefix(base, "#")
}

// IsTableFile tells whether a file holds the rows of a table rather than sheets.
func IsTableFile(name string) bool { return strings.EqualFold(path.Ext(name), ".csv") }

var (
	// looksMeant are the ends of names that programs give to files that were to be sheets.
	looksMeant = regexp.MustCompile(`(?i)\.(ya?ml\.txt|csv\.txt|json|yalm|ymal|yam|yml?l)$`)
	saysSheets = regexp.MustCompile(`(?m)(?:^|[{,])[ \t]*"?(rules|materials|tests|tables|policy|retires|definitions)"?[ \t]*:`)
)

// passedOver warns of a file that is not read, as of its name, and says what files of a ruleset say.
func passedOver(layer fs.FS, name string, at string, out *diag.List) {
	if base := path.Base(name); !looksMeant.MatchString(base) || strings.HasPrefix(base, ".") ||
		strings.HasPrefix(base, "#") {
		return
	}
	if info, err := fs.Stat(layer, name); err != nil || !info.Mode().IsRegular() {
		return
	}
	text, err := readFile(layer, name)
	if err != nil || !saysSheets.Match(text) {
		return
	}
	out.Warnf(diag.UnusedFile, diag.Span{Source: diag.NewSource(at, text)},
		"this file holds sheets, and is not read, as its name ends in neither .yaml nor .yml").
		Detail = "Give it a name that ends in .yaml."
}

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
			name := path.Join(l.Name, p)
			if d.IsDir() {
				if p != "." && strings.HasPrefix(d.Name(), ".") {
					return fs.SkipDir
				}
				if IsRulesetFile(p) {
					noFile(name, "a folder", out)
				}
				return nil
			}
			if !IsRulesetFile(p) {
				passedOver(l.FS, p, name, out)
				return nil
			}
			info, err := fs.Stat(l.FS, p) // follows links
			switch {
			case err != nil:
				return unreadable(name, err, out)
			case info.IsDir():
				noFile(name, "a folder", out)
				return nil
			case !info.Mode().IsRegular(): // a pipe would be waited for without end
				noFile(name, "no ordinary file", out)
				return nil
			}
			text, err := readFile(l.FS, p)
			if err != nil {
				return unreadable(name, err, out)
			}
			files = append(files, kb.File{Layer: l.Name, Path: p, Source: diag.NewSource(name, text)})
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

// noFile refuses what has the name of a file and is none: the sheets that are meant to be there would be gone without a
// word.
func noFile(name, is string, out *diag.List) {
	out.Errorf(diag.FileUnreadable, diag.Span{}, "%s is %s, and a file of sheets is meant by such a name", name, is).
		Detail = "Put the file back, or give the other thing another name."
}

// unreadable reports a file that can't be read. The others are read all the same.
func unreadable(name string, err error, out *diag.List) error {
	out.Errorf(diag.FileUnreadable, diag.Span{}, "the file %s can't be read: %s", name, err)
	return nil
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
