package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"strconv"
	"strings"
	"testing/fstest"

	"whystone/kb/load"
)

// layersOf is the stack with these folders, or what they held in a revision, in place of the settings' own layers.
// Without any it is that of the settings.
func (s *session) layersOf(ctx context.Context, folders []string) ([]load.Layer, error) {
	if len(folders) == 0 {
		return s.layers()
	}
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
				return nil, err
			}
		}
		layers = append(layers, layer)
	}
	return layers, nil
}

// maxRevision bounds what is taken from a repository's history.
const maxRevision = 64 << 20

// atRevision is a folder as a revision of the repository around holds it: from the top of the repository, or, with ./
// or ../ before it, from here. It is taken from the objects themselves: nothing that a repository says of archives of
// it, or of line ends, changes what the files hold. A link to a file is that file, as it is in a folder.
func atRevision(ctx context.Context, rev, folder string) (fs.FS, error) {
	if strings.HasPrefix(rev, "-") || strings.ContainsAny(rev+folder, "\n\x00") {
		return nil, errors.New("a revision can't begin with a hyphen, and is written on one line")
	}
	folder = strings.TrimRight(folder, "/")
	list, err := git(ctx, "", "ls-tree", "-r", "-z", "-l", "--full-tree", rev+":"+folder)
	if err != nil {
		return nil, fmt.Errorf("git can't give %s of %s: %w", folder, rev, err)
	}
	top, err := git(ctx, "", "rev-parse", "--show-prefix")
	if err != nil {
		return nil, fmt.Errorf("git can't tell where it is: %w", err)
	}
	if folder == "." || folder == ".." || strings.HasPrefix(folder, "./") || strings.HasPrefix(folder, "../") {
		folder = path.Join(strings.TrimSpace(top), folder)
	}
	var names, wanted []string
	size := int64(0)
	for entry := range strings.SplitSeq(strings.TrimSuffix(list, "\x00"), "\x00") {
		about, name, _ := strings.Cut(entry, "\t") // mode, type, object, size
		words := strings.Fields(about)
		if len(words) != 4 || words[1] != "blob" || !load.IsRulesetFile(name) && words[0] != linkMode {
			continue
		}
		n, _ := strconv.ParseInt(words[3], 10, 64) // it is a number, as the object is a blob
		if size += n; size > maxRevision {
			return nil, fmt.Errorf("%s of %s holds more than can be rules", folder, rev)
		}
		object := words[2]
		if words[0] == linkMode {
			object = rev + ":" + path.Join(folder, name)
			if strings.Contains(name, "\n") {
				return nil, fmt.Errorf("%s of %s has a link with a line end in its name", folder, rev)
			}
		}
		names, wanted = append(names, name), append(wanted, object)
	}
	held, err := git(ctx, strings.Join(wanted, "\n")+"\n", "cat-file", "--batch", "--follow-symlinks")
	if err != nil {
		return nil, fmt.Errorf("git can't give %s of %s: %w", folder, rev, err)
	}
	return asFiles(names, held)
}

// linkMode is how git marks a symbolic link.
const linkMode = "120000"

// asFiles makes files of what git gives of each: a line that says what it is and how long, the bytes, and a line end.
func asFiles(names []string, held string) (fs.FS, error) {
	files := fstest.MapFS{}
	for _, name := range names {
		head, rest, _ := strings.Cut(held, "\n")
		words := append(strings.Fields(head), "", "", "") // object, kind, size; or what is wrong with a link, and size
		n, _ := strconv.Atoi(cmp.Or(words[2], words[1]))  // of what is missing it says none
		n = min(max(n, 0), len(rest))
		held = strings.TrimPrefix(rest[n:], "\n")
		switch {
		case words[1] == "blob":
			files[name] = &fstest.MapFile{Data: []byte(rest[:n])}
		case words[1] == "tree":
			files[name] = &fstest.MapFile{Mode: fs.ModeSymlink, Data: []byte(".")}
		case load.IsRulesetFile(name):
			return nil, fmt.Errorf("%s is a link that leads to no file of the repository", name)
		}
	}
	return files, nil
}

// git runs git, and gives what it says, or its first complaint.
func git(ctx context.Context, stdin string, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, "git", args...)
	var wrong bytes.Buffer
	out := &atMost{left: 2 * maxRevision}
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(stdin), out, &wrong
	err := cmd.Run()
	switch {
	case out.left < 0:
		return "", errors.New("that is more than can be rules")
	case err != nil:
		complaint, _, _ := strings.Cut(wrong.String()+err.Error(), "\n")
		return "", errors.New(strings.TrimSpace(complaint))
	}
	return out.held.String(), nil
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
