package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// update rewrites the expected output in the scripts; WHYSTONE_UPDATE=1 does the same. Read what it wrote.
var update = flag.Bool("update", false, "rewrite the expected output in testdata/script")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"whystone": main})
}

// TestScripts runs the scripts: the program as people run it, with the small ruleset of testdata/desk as its only
// layer.
func TestScripts(t *testing.T) {
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		UpdateScripts:       *update || os.Getenv("WHYSTONE_UPDATE") == "1",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("WHYSTONE_LAYERS", "desk")
			e.Setenv("WHYSTONE_SHIPPED", "false")
			e.Setenv("HOME", filepath.Join(e.WorkDir, "home"))
			e.Setenv("XDG_CONFIG_HOME", "")
			e.Setenv("REPO", filepath.Join(here, "..", ".."))
			w := &watcher{}
			e.Values[watcherKey{}] = w
			e.Defer(w.stop)
			return os.CopyFS(filepath.Join(e.WorkDir, "desk"), os.DirFS(filepath.Join("testdata", "desk")))
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "lines": linesWithin,
			"start": start, "await": await, "interrupt": interrupt, "save": save, "write": overwrite, "edit": edit,
		},
	})
}

// exits STATUS COMMAND...: runs a command and expects the exit status.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var failed *exec.ExitError
	switch {
	case errors.As(err, &failed):
		got = failed.ExitCode()
	case err != nil:
		ts.Fatalf("%s", err)
	}
	if got != want {
		ts.Fatalf("%s: exit status %d, want %d", strings.Join(args[1:], " "), got, want)
	}
}

// lines WIDTH FILE: expects no line longer than that many characters, save those that are one word.
func linesWithin(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: lines WIDTH FILE")
	}
	most, err := strconv.Atoi(args[0])
	ts.Check(err)
	for i, l := range strings.Split(ts.ReadFile(args[1]), "\n") {
		if n := len([]rune(l)); n > most && strings.Contains(strings.TrimLeft(l, " │├└"), " ") {
			ts.Fatalf("line %d has %d characters: %s", i+1, n, l)
		}
	}
}

// watcher is one "judge --watch" at work within the test.
type watcher struct {
	mu     sync.Mutex
	said   bytes.Buffer
	from   int // what was awaited already
	cancel context.CancelFunc
	ended  chan int
}

type watcherKey struct{}

func (w *watcher) Write(b []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.said.Write(b)
}

func (w *watcher) stop() {
	if w.cancel != nil {
		w.cancel()
		<-w.ended
		w.cancel = nil
	}
}

func of(ts *testscript.TestScript) *watcher { return ts.Value(watcherKey{}).(*watcher) }

// start ARGS...: runs the program within the test, and goes on. Its standard output and error are one stream. Paths are
// looked up from the folder of the test binary, so they begin with $WORK.
func start(ts *testscript.TestScript, neg bool, args []string) {
	w := of(ts)
	ctx, cancel := context.WithCancel(context.Background())
	w.cancel, w.ended = cancel, make(chan int, 1)
	env := []string{"WHYSTONE_LAYERS=" + ts.MkAbs("desk"), "WHYSTONE_SHIPPED=false"}
	go func() { w.ended <- run(ctx, args, strings.NewReader(""), w, w, env, noon) }()
}

func noon() time.Time { return time.Date(2031, 4, 12, 12, 0, 0, 0, time.UTC) }

// patience is how long await waits. What it waits for comes within a second on a machine at rest.
const patience = 20 * time.Second

// await PATTERN: waits until what was said since the last await matches.
func await(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: await PATTERN")
	}
	w, re := of(ts), regexp.MustCompile("(?s)"+args[0])
	for until := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		w.mu.Lock()
		fresh := w.said.String()[w.from:]
		at := re.FindStringIndex(fresh)
		if at != nil {
			w.from += at[1]
		}
		w.mu.Unlock()
		if at != nil {
			return
		}
		if time.Now().After(until) {
			ts.Fatalf("waited %s for %q; this was said:\n%s", patience, args[0], fresh)
		}
	}
}

// interrupt STATUS: ends what was started as Ctrl-C does, and expects the exit status.
func interrupt(ts *testscript.TestScript, neg bool, args []string) {
	w := of(ts)
	if neg || len(args) != 1 || w.cancel == nil {
		ts.Fatalf("usage: interrupt STATUS, after start")
	}
	w.cancel()
	select {
	case got := <-w.ended:
		w.cancel = nil
		if strconv.Itoa(got) != args[0] {
			ts.Fatalf("exit status %d, want %s", got, args[0])
		}
	case <-time.After(patience):
		ts.Fatalf("still running %s after the interrupt", patience)
	}
}

// save NEW FILE: puts a file in another's place as careful editors do: written beside it, then renamed over it.
func save(ts *testscript.TestScript, neg bool, args []string) {
	text := []byte(ts.ReadFile(args[0]))
	beside := ts.MkAbs(args[1]) + ".new"
	ts.Check(os.WriteFile(beside, text, 0o600))
	ts.Check(os.Rename(beside, ts.MkAbs(args[1])))
}

// write NEW FILE: writes over a file in place, by way of an empty one and a half written one.
func overwrite(ts *testscript.TestScript, neg bool, args []string) {
	text := ts.ReadFile(args[0])
	f, err := os.Create(ts.MkAbs(args[1]))
	ts.Check(err)
	defer f.Close()
	for _, half := range []string{text[:len(text)/2], text[len(text)/2:]} {
		time.Sleep(30 * time.Millisecond)
		_, err = f.WriteString(half)
		ts.Check(err)
	}
}

// edit FILE OLD NEW: writes FILE.edited, in which every OLD is NEW; there must be one.
func edit(ts *testscript.TestScript, neg bool, args []string) {
	text := ts.ReadFile(args[0])
	if !strings.Contains(text, args[1]) {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0])+".edited", []byte(strings.ReplaceAll(text, args[1], args[2])), 0o600))
}
