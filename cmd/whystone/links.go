package main

import (
	"io/fs"
	"path"
	"strings"

	"whystone/kb/load"
)

// tellLinks tells of links to folders: they are not followed, and somebody who made one believes that its rules count.
func (s *session) tellLinks(layers []load.Layer) {
	for _, l := range layers {
		for _, name := range linkedFolders(l.FS) {
			s.complain("whystone: %s is a link to a folder, and not followed: rules in it do not count\n",
				path.Join(l.Name, name))
		}
	}
}

// linkedFolders finds the links to folders among the files that could be rules: not the hidden ones, which mounted
// settings have.
func linkedFolders(layer fs.FS) (out []string) {
	// what can't be read is told when it is loaded
	_ = fs.WalkDir(layer, ".", func(p string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return fs.SkipDir
		case p != "." && strings.HasPrefix(d.Name(), "."):
			if d.IsDir() {
				return fs.SkipDir
			}
		case d.Type()&fs.ModeSymlink != 0:
			if info, err := fs.Stat(layer, p); err == nil && info.IsDir() {
				out = append(out, p)
			}
		}
		return nil
	})
	return out
}
