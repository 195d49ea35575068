package main

import (
	"context"
	"io"
	"strings"

	"whystone/cmd/whystone/terminal"
	"whystone/engine/picture"
)

// toPicture writes pictures to a file: one alone as a drawing, where the file's name ends so, else all on a page with
// their tables.
func toPicture(path, title string, pictures ...*picture.Picture) error {
	return toFile(path, func(w io.Writer) error {
		if drawing(path) {
			return pictures[0].WriteSVG(w)
		}
		return picture.WritePage(w, title, pictures...)
	})
}

func drawing(path string) bool { return strings.HasSuffix(strings.ToLower(path), ".svg") }

// mayDraw sees to it that a picture can be written.
func (s *session) mayDraw(path string, read ...string) error {
	if !drawing(path) && !strings.HasSuffix(strings.ToLower(path), ".html") {
		return usageError("a picture is written to a file that ends in .svg (the drawing alone) or .html (with its "+
			"table), not %s", path)
	}
	return s.mayWrite([]string{path}, read...)
}

// whyPicture draws the stones of all cases among the materials.
func (s *session) whyPicture(ctx context.Context, files []string, asOf, path string) error {
	if err := s.mayDraw(path, files...); err != nil {
		return err
	}
	var all []*picture.Picture
	err := s.eachCase(ctx, files, asOf, false, func(t terminal.Told) error {
		all = append(all, picture.OfCase(t.Ruleset, t.Case, t.Explained).Draw())
		if !drawing(path) {
			all = append(all, picture.OfEvidence(t.Explained).Draw())
		}
		return nil
	})
	switch {
	case len(all) == 0:
		return err
	case len(all) > 1 && drawing(path):
		return usageError("a drawing is of one case, and there are %d; a page that ends in .html takes them all",
			len(all))
	}
	if e := toPicture(path, "Stones among the materials", all...); e != nil {
		return e
	}
	return err
}
