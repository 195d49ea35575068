package main

import (
	"archive/tar"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"strings"
	"testing/fstest"

	"whystone/kb"
	"whystone/kb/load"
)

// rulesetOf loads the ruleset with these folders in place of the settings' own layers, or with what the folders held in
// a revision.
func (s *session) rulesetOf(ctx context.Context, folders []string) (*kb.Ruleset, error) {
	layers, err := s.layersOf(ctx, folders)
	if err != nil {
		return nil, err
	}
	return s.load(ctx, layers)
}

// layersOf is the stack with these folders in place of the settings' own.
func (s *session) layersOf(ctx context.Context, folders []string) ([]load.Layer, error) {
	layers := s.shipped()
	for _, where := range folders {
		layer := load.Layer{Name: layerName(where), FS: os.DirFS(where)}
		if rest, ok := strings.CutPrefix(where, "git:"); ok {
			rev, folder, ok := strings.Cut(rest, ":")
			if !ok || rev == "" || folder == "" {
				return nil, usageError("%q is no revision: write git:REV:FOLDER", where)
			}
			var err error
			if layer.FS, err = atRevision(ctx, rev, folder); err != nil {
				return nil, &ended{status: unusable, says: err.Error()}
			}
		}
		layers = append(layers, layer)
	}
	return layers, nil
}

// maxRevision bounds what is taken from a repository's history.
const maxRevision = 64 << 20

// atRevision is a folder as a revision of the repository around holds it.
func atRevision(ctx context.Context, rev, folder string) (fs.FS, error) {
	if strings.HasPrefix(rev, "-") || strings.HasPrefix(folder, "-") {
		return nil, errors.New("a revision or folder can't begin with a hyphen")
	}
	cmd := exec.CommandContext(ctx, "git", "archive", "--format=tar", rev+":"+folder)
	var wrong bytes.Buffer
	out := &atMost{left: maxRevision}
	cmd.Stdout, cmd.Stderr = out, &wrong
	if err := cmd.Run(); err != nil {
		if out.left < 0 {
			return nil, fmt.Errorf("%s of %s holds more than can be rules", folder, rev)
		}
		return nil, fmt.Errorf("git can't give %s of %s: %s", folder, rev, strings.TrimSpace(firstLine(wrong.String()+err.Error())))
	}
	files := fstest.MapFS{}
	for r := tar.NewReader(&out.held); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return files, nil
		}
		if err != nil {
			return nil, err
		}
		if h.Typeflag != tar.TypeReg {
			continue
		}
		text, err := io.ReadAll(r)
		if err != nil {
			return nil, err
		}
		files[strings.TrimSuffix(h.Name, "/")] = &fstest.MapFile{Data: text}
	}
}

// atMost is a buffer that takes no more than that many bytes.
type atMost struct {
	held bytes.Buffer // not embedded: its ReadFrom would pass the bound by
	left int
}

func (b *atMost) Write(p []byte) (int, error) {
	if b.left -= len(p); b.left < 0 {
		return 0, errors.New("that is too much")
	}
	return b.held.Write(p)
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}
