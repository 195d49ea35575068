package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"whystone/kb/load"
)

// mayWrite sees to it, before any work is done, that each of these files can be written, and that none of them is one
// that is read, by whatever name, or another that is written. The settings and the layers are read by all commands; a
// folder stands for the rules in it. Empty names are passed over.
func (s *session) mayWrite(out []string, in ...string) error {
	in = slices.Concat(in, s.config.Layers, []string{s.config.File})
	out = slices.DeleteFunc(slices.Clone(out), func(name string) bool { return name == "" })
	for i, name := range out {
		for _, other := range in {
			if isOrHolds(other, name) {
				return usageError("%s is read, and would be overwritten", name)
			}
		}
		for _, other := range out[:i] {
			if sameFile(name, other) {
				return usageError("%s and %s are one file, and would be written twice", other, name)
			}
		}
		if err := writable(name); err != nil {
			return usageError("%s can't be written: %s", name, plain(err))
		}
	}
	return nil
}

// sameFile tells whether two names are of one file, which need not be there yet.
func sameFile(a, b string) bool {
	x, errA := os.Stat(a)
	y, errB := os.Stat(b)
	if errA == nil && errB == nil {
		return os.SameFile(x, y)
	}
	a, errA = filepath.Abs(a)
	b, errB = filepath.Abs(b)
	return errA == nil && errB == nil && a == b
}

// liesIn tells whether a name is a folder or lies below it. Neither need be there.
func liesIn(folder, name string) bool {
	a, errA := filepath.Abs(folder)
	b, errB := filepath.Abs(name)
	if errA != nil || errB != nil {
		return false
	}
	if to, err := filepath.EvalSymlinks(a); err == nil {
		a = to
	}
	if to, err := filepath.EvalSymlinks(b); err == nil {
		b = to
	}
	way, err := filepath.Rel(a, b)
	return err == nil && way != ".." && !strings.HasPrefix(way, ".."+string(filepath.Separator))
}

// isOrHolds tells whether a name that is read is of the same file, or of a folder of rules that holds it.
func isOrHolds(read, name string) bool {
	info, err := os.Stat(read)
	if err != nil || !info.IsDir() || !load.IsRulesetFile(name) {
		return sameFile(read, name)
	}
	held := false
	_ = filepath.WalkDir(read, func(p string, d fs.DirEntry, err error) error { // what can't be read is told when it is
		if err == nil && !d.IsDir() && sameFile(p, name) {
			held = true
			return fs.SkipAll
		}
		return nil
	})
	return held
}

// writable tells why a file can't be written, if it can't.
func writable(name string) error {
	if info, err := os.Stat(name); err == nil {
		if info.IsDir() {
			return errors.New("it is a folder")
		}
		if !info.Mode().IsRegular() {
			return nil // opening a pipe would wait for its reader
		}
	}
	f, _, err := beside(name)
	if err != nil {
		return err
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}

// writeFile writes a file so that nobody, a desk that follows its folder least of all, ever reads half of it: written
// beside it, synced, renamed. A link stays a link, permissions stay; a pipe or a device is written to as it is.
func writeFile(name string, write func(io.Writer) error) error {
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() {
		f, err := os.OpenFile(name, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		return errors.Join(write(f), f.Close())
	}
	f, name, err := beside(name)
	if err != nil {
		return err
	}
	if err = write(f); err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		return fmt.Errorf("%w%s", err, leftover(os.Remove(f.Name()), f.Name()))
	}
	return syncFolder(filepath.Dir(name))
}

// beside begins a file in the same folder as one that is to be written, with its permissions, and gives that one's own
// name.
func beside(name string) (*os.File, string, error) {
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	new := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+"."+strconv.FormatUint(rand.Uint64(), 36))
	f, err := os.OpenFile(new, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, name, plain(err)
	}
	if info, err := os.Stat(name); err == nil {
		if err := f.Chmod(info.Mode().Perm()); err != nil {
			return nil, name, errors.Join(err, f.Close(), os.Remove(new))
		}
	}
	return f, name, nil
}

func leftover(err error, name string) string {
	if err == nil {
		return ""
	}
	return "; " + name + " is left over"
}

// syncFolder makes a rename last. Not every system can; then it lasts as long as the file's other changes do.
func syncFolder(name string) error {
	d, err := os.Open(name)
	if err != nil {
		return err
	}
	_ = d.Sync() // see above
	return d.Close()
}

// plain takes the path off a file error, as it is told beside it.
func plain(err error) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err
	}
	return err
}

// toFile writes a file that was asked for.
func toFile(path string, write func(io.Writer) error) error {
	if err := writeFile(path, write); err != nil {
		return usageError("%s can't be written: %s", path, plain(err))
	}
	return nil
}
