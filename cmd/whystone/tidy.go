package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/aymanbagabas/go-udiff"

	"whystone/cmd/whystone/terminal"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/load"
	"whystone/kb/tidy"
)

// tidied is a file as it would be laid out.
type tidied struct {
	path          string
	before, after []byte
}

// tidy lays the files of a house's own folders out evenly. A file that can't be read as YAML keeps all of them as they
// are.
func (s *session) tidy(ctx context.Context, args []string, diff bool) error {
	folders := s.config.Layers
	if len(args) == 1 {
		folders = args
	}
	if len(folders) == 0 {
		return usageError("which folder? The shipped rules are part of the program and are not written to")
	}
	files, err := s.toTidy(ctx, folders)
	if err != nil {
		return err
	}
	for _, f := range files {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err := s.tidyOne(f, diff); err != nil {
			return err
		}
	}
	// told last, so that it never names a file that was not written
	names := append([]string{}, english.Each(files, func(f tidied) string { return f.path })...)
	err = s.tell(map[string]any{"format": 1, "changed": names, "written": !diff}, func() {
		if len(files) == 0 {
			s.out.Text(terminal.Plain, 0, "All files are tidy.")
		}
	})
	if err != nil {
		return err
	}
	if diff && len(files) > 0 {
		return &ended{status: finding}
	}
	return nil
}

// tidyOne writes one file, or shows what would change in it.
func (s *session) tidyOne(f tidied, diff bool) error {
	switch {
	case diff && s.json():
		return nil
	case diff:
		_, err := s.stdout.Write([]byte(udiff.Unified(f.path, f.path, string(f.before), string(f.after))))
		return err
	}
	if err := writeFile(f.path, func(w io.Writer) error { _, err := w.Write(f.after); return err }); err != nil {
		return usageError("a file can't be written: %s", err)
	}
	if s.json() {
		return nil
	}
	s.out.Text(terminal.Plain, 0, "tidied "+f.path)
	return write(s.out)
}

// toTidy lists the files that would change.
func (s *session) toTidy(ctx context.Context, folders []string) ([]tidied, error) {
	var out []tidied
	var found diag.List
	for _, folder := range folders {
		if strings.HasPrefix(folder, "git:") {
			return nil, usageError("a revision is history: only a folder can be tidied")
		}
		for _, f := range load.ReadFiles(ctx, []load.Layer{{Name: layerName(folder), FS: os.DirFS(folder)}}, &found) {
			if load.IsTableFile(f.Path) {
				continue
			}
			after, _, wrong := tidy.File(f.Source)
			found = append(found, wrong...)
			if after != nil && !bytes.Equal(after, f.Source.Text) {
				out = append(out, tidied{filepath.Join(folder, filepath.FromSlash(f.Path)), f.Source.Text, after})
			}
		}
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if found.HasErrors() {
		found.Sort()
		return nil, s.refuse("nothing was tidied: a file can't be read", found)
	}
	return out, nil
}
