package reload

import (
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/fsnotify/fsnotify"

	"whystone/kb/load"
)

// notifier is what is used of a file system's notifications. Add of a name that is watched already does nothing; both
// channels are closed by Close at the latest.
type notifier interface {
	Add(folder string) error
	Events() <-chan fsnotify.Event
	Errors() <-chan error
	Close() error
}

// opener makes a notifier that watches nothing yet.
type opener func() (notifier, error)

type systemNotifier struct{ *fsnotify.Watcher }

func (n systemNotifier) Events() <-chan fsnotify.Event { return n.Watcher.Events }
func (n systemNotifier) Errors() <-chan error          { return n.Watcher.Errors }

func openNotifier() (notifier, error) {
	w, err := fsnotify.NewWatcher()
	if err != nil {
		return nil, err
	}
	return systemNotifier{w}, nil
}

// watch is one laying of watches over some roots. All it tells is that something changed: its pump empties the
// notifier's channels at once, so that a long load makes nothing overflow, and leaves at most one signal waiting.
type watch struct {
	from    notifier
	changed chan struct{} // holds one
	pumped  chan struct{} // closed when the pump has ended
	log     *slog.Logger
	errs    []error // what could not be watched; only touched while laying

	mu      sync.Mutex
	folders map[string]bool // watched, and all that happens in them matters
	hinges  map[string]bool // names that matter, in folders where nothing else does
	beside  map[string]bool // the folders of hinges
}

// openWatch lays watches over the roots. An error says that not all could be laid; the watch is nil if none could.
func openWatch(open opener, roots []string, log *slog.Logger) (*watch, error) {
	from, err := open()
	if err != nil {
		return nil, err
	}
	w := &watch{from: from, changed: make(chan struct{}, 1), pumped: make(chan struct{}), log: log,
		folders: map[string]bool{}, hinges: map[string]bool{}, beside: map[string]bool{}}
	go w.pump()
	for _, root := range roots {
		if folder, err := w.follow(root); err != nil {
			w.errs = append(w.errs, err)
		} else {
			w.tree(folder)
		}
	}
	return w, errors.Join(w.errs...)
}

// signal is nil, and so never ready, when there is no watch.
func (w *watch) signal() <-chan struct{} {
	if w == nil {
		return nil
	}
	return w.changed
}

// close ends the watch and its goroutines.
func (w *watch) close() {
	if w == nil {
		return
	}
	if err := w.from.Close(); err != nil {
		w.log.Warn("closing the watches on a ruleset's folders", "error", err)
	}
	<-w.pumped
}

// pump turns notifications into signals until both channels are closed. Errors are signals too: what went missing may
// have been a change.
func (w *watch) pump() {
	defer close(w.pumped)
	events, errs := w.from.Events(), w.from.Errors()
	for events != nil || errs != nil {
		select {
		case e, ok := <-events:
			if !ok {
				events = nil
			} else if w.matters(e) {
				w.tell()
			}
		case err, ok := <-errs:
			if !ok {
				errs = nil
				continue
			}
			w.log.Warn("notifications from a ruleset's folders were lost; reading them again", "error", err)
			w.tell()
		}
	}
}

func (w *watch) tell() {
	select {
	case w.changed <- struct{}{}:
	default: // one is waiting
	}
}

// matters leaves out changes of attributes alone, which backups and virus scanners make all the time, unless a file
// can't be read since; and what happens beside a root: a database there would otherwise keep the files being read for
// ever.
func (w *watch) matters(e fsnotify.Event) bool {
	if e.Op&^fsnotify.Chmod == 0 && (!load.IsRulesetFile(e.Name) || mayRead(e.Name)) {
		return false
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.folders[filepath.Dir(e.Name)] || w.folders[e.Name] || w.hinges[e.Name] || w.beside[e.Name]
}

// mayRead tells whether a file may be read. It is a variable so that a test, which may do everything, can take the
// right away.
var mayRead = func(name string) bool {
	f, err := os.Open(name)
	if err == nil {
		_ = f.Close() // nothing was done with it
	}
	return !errors.Is(err, fs.ErrPermission)
}

// lay watches a folder. That one just went is no failure: the reading that follows finds out.
func (w *watch) lay(folder string) {
	if err := w.from.Add(folder); err != nil && !errors.Is(err, fs.ErrNotExist) {
		w.errs = append(w.errs, fmt.Errorf("watching %s: %w", folder, err))
	}
}

// mark notes a name before it is watched, so that no notification comes too early to be known.
func (w *watch) mark(set map[string]bool, name string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	set[name] = true
}

// hinge watches a name for being replaced: in its folder, because what has the name may go and come back.
func (w *watch) hinge(name string) {
	w.mark(w.hinges, name)
	w.mark(w.beside, filepath.Dir(name))
	w.lay(filepath.Dir(name))
}

// tree watches a folder and all folders below it that a ruleset's files are read from, and where links to such files
// lead. Each is watched before it is listed: what comes later is then notified.
func (w *watch) tree(folder string) {
	w.mark(w.folders, folder)
	w.lay(folder)
	entries, err := os.ReadDir(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		w.errs = append(w.errs, err)
	}
	for _, e := range entries {
		name := filepath.Join(folder, e.Name())
		switch {
		case e.IsDir() && !strings.HasPrefix(e.Name(), "."):
			w.tree(name)
		case e.Type()&fs.ModeSymlink != 0 && load.IsRulesetFile(e.Name()):
			if _, err := w.follow(name); err != nil {
				w.errs = append(w.errs, err)
			}
		}
	}
}

// mostLinks is how many symbolic links a path may lead through.
const mostLinks = 40

// follow resolves a path and sets a hinge at its end, at each symbolic link on the way and, when something is missing,
// at what is missing.
func (w *watch) follow(path string) (string, error) {
	at, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	at, todo := top(at)
	for links := 0; len(todo) > 0; {
		next := filepath.Join(at, todo[0]) // at holds no link, so ".." may be taken as written
		todo = todo[1:]
		info, err := os.Lstat(next)
		link := err == nil && info.Mode()&fs.ModeSymlink != 0
		if err != nil || link || len(todo) == 0 {
			w.hinge(next)
		}
		switch {
		case err != nil:
			return "", err
		case !link:
			at = next
			continue
		}
		if links++; links > mostLinks {
			return "", fmt.Errorf("%s leads through more than %d symbolic links", path, mostLinks)
		}
		target, err := os.Readlink(next)
		if err != nil {
			return "", err
		}
		ahead := parts(target)
		if filepath.IsAbs(target) {
			at, ahead = top(target)
		}
		todo = append(ahead, todo...)
	}
	return at, nil
}

// top splits an absolute path into its root and its parts.
func top(path string) (string, []string) {
	volume := filepath.VolumeName(path)
	return volume + string(filepath.Separator), parts(path[len(volume):])
}

func parts(path string) []string {
	return strings.FieldsFunc(path, func(r rune) bool { return r < 0x80 && os.IsPathSeparator(uint8(r)) })
}
