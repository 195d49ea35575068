// Whystone says what a stone on the counter is, how sure that is, and why: an expert system for the desk that takes
// stones in.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
)

func main() { os.Exit(program()) }

// program runs the command line of this process. It is apart from main so that deferred calls are made.
func program() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	// a command may be waiting for what never comes: the next signal ends the program at once
	context.AfterFunc(ctx, stop)
	return run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Environ(), time.Now)
}
