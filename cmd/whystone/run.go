package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"time"

	"whystone/cmd/whystone/config"
	"whystone/cmd/whystone/terminal"
	"whystone/kb/diag"
)

// Exit statuses.
const (
	done        = 0
	finding     = 1 // a finding, or a gate that failed
	unusable    = 2 // input or a command line that can't be used
	fault       = 3 // the program's own mistake, or output that can't be written
	interrupted = 130
)

// run carries out one command line, and returns the exit status. All that a command takes from the outside is handed
// in: its streams, the environment as os.Environ gives it, and the clock.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer, env []string,
	now func() time.Time) (status int) {
	a := &app{stdin: stdin, stdout: &output{to: stdout}, stderr: stderr, env: config.Env(env), now: now}
	defer func() {
		if r := recover(); r != nil {
			status = a.fault(fmt.Sprint(r), debug.Stack())
		}
	}()
	root := a.root()
	root.SetArgs(append([]string{}, args...))
	root.SetIn(stdin)
	root.SetOut(a.stdout)
	root.SetErr(stderr)
	return a.status(ctx, root.ExecuteContext(ctx))
}

// ended is how a command ends other than well. The list or text goes to people; both may be empty when all was said.
type ended struct {
	status int
	says   string
	list   diag.List
}

func (e *ended) Error() string {
	if len(e.list) > 0 {
		return e.list.Error()
	}
	return e.says
}

// status turns the end of a command into an exit status, and says what is still to be said.
func (a *app) status(ctx context.Context, err error) int {
	var e *ended
	switch {
	case a.stdout.err != nil:
		a.complain("whystone: the output can't be written: %s\n", a.stdout.err)
		return fault
	case ctx.Err() != nil:
		return interrupted
	case err == nil:
		return done
	case !errors.As(err, &e): // cobra's own, about the command line
		e = &ended{status: unusable, says: err.Error()}
	}
	if e.says != "" {
		a.complain("whystone: %s\n", e.says)
	}
	if len(e.list) > 0 {
		p := a.printer(a.stderr, nil)
		p.Diagnostics(e.list)
		_ = p.Flush() // nowhere is left to report it
	}
	return e.status
}

func (a *app) fault(what string, stack []byte) int {
	a.complain("whystone: internal fault: %s\nThis is a mistake in the program, not in what you gave it.\n", what)
	if a.env.Get("WHYSTONE_DEBUG") == "1" {
		a.complain("\n%s", stack)
	} else {
		a.complain("With WHYSTONE_DEBUG=1 it tells where.\n")
	}
	return fault
}

// complain writes to standard error, nothing that would command a terminal. Where that fails there is nowhere left to
// say so.
func (a *app) complain(format string, args ...any) {
	_, _ = io.WriteString(a.stderr, terminal.Clean(fmt.Sprintf(format, args...)))
}

// output is standard output that remembers whether it failed.
type output struct {
	to  io.Writer
	err error
}

func (o *output) Write(b []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.to.Write(b)
	o.err = err
	return n, err
}
