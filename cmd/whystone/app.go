package main

import (
	"context"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"whystone/cmd/whystone/config"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/load"
	"whystone/rulesets"
)

// app is what all commands share: the outside world.
type app struct {
	stdin  io.Reader
	stdout *output
	stderr io.Writer
	env    config.Env
	now    func() time.Time
}

// session is one command at work, with its settings.
type session struct {
	*app
	config *config.Config
	head   string // of the casebook, once it was read from
	out    *terminal.Printer
	err    *terminal.Printer
}

// begin reads the settings.
func (a *app) begin(cmd *cobra.Command) (*session, error) {
	c, found := config.Load(cmd.Flags(), a.env)
	if found.HasErrors() {
		return nil, &ended{status: unusable, list: found}
	}
	return &session{app: a, config: c, out: a.printer(a.stdout, c), err: a.printer(a.stderr, c)}, nil
}

// runs is how cobra has what a command runs.
type runs = func(cmd *cobra.Command, args []string) error

// does is what a command runs: its work, once the settings are read.
func (a *app) does(work func(s *session, cmd *cobra.Command, args []string) error) runs {
	return func(cmd *cobra.Command, args []string) error {
		s, err := a.begin(cmd)
		if err != nil {
			return err
		}
		return work(s, cmd, args)
	}
}

// group is a command that has commands below it, and lists them.
func (a *app) group(cmd *cobra.Command, below ...*cobra.Command) *cobra.Command {
	cmd.Args, cmd.RunE = a.knownCommand, func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
	cmd.AddCommand(below...)
	return cmd
}

// arguments refuses a command line with fewer arguments than least, or more than most, and says what the command needs.
func arguments(least, most int, says string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < least || len(args) > most {
			return usageError("%s %s", cmd.CommandPath(), says)
		}
		return nil
	}
}

// needs refuses a command line without arguments.
func needs(what string) cobra.PositionalArgs { return arguments(1, math.MaxInt, "needs "+what) }

func (s *session) json() bool { return s.config.Output == "json" }

// printer writes for a stream: in the width of its terminal, in colour if it has one and nobody objects.
func (a *app) printer(to io.Writer, c *config.Config) *terminal.Printer {
	if c == nil {
		c = &config.Config{Colour: "auto"}
	}
	fd, screen := terminalOf(to)
	width := c.Width
	if width == 0 && screen {
		if cells, _, err := term.GetSize(fd); err == nil && cells > 0 {
			width = min(cells, terminal.DefaultWidth)
		}
	}
	if columns, err := strconv.Atoi(a.env.Get("COLUMNS")); width == 0 && !screen && err == nil && columns > 0 {
		width = config.Within(columns)
	}
	colour := c.Colour == "always"
	if c.Colour == "auto" { // any value of the variable counts, an empty one does not (https://no-color.org)
		colour = screen && a.env.Get(noColour) == "" && a.env.Get("TERM") != "dumb"
	}
	return terminal.New(to, width, colour)
}

// noColour is the variable that asks all programs for no colour.
const noColour = "NO_COLOR" //nolint:misspell // it is spelt so

func terminalOf(w io.Writer) (fd int, ok bool) {
	if o, is := w.(*output); is {
		w = o.to
	}
	f, is := w.(*os.File)
	if !is {
		return 0, false
	}
	return int(f.Fd()), term.IsTerminal(int(f.Fd()))
}

// write sends on what a printer gathered.
func write(p *terminal.Printer) error {
	if err := p.Flush(); err != nil {
		return &ended{status: fault}
	}
	return nil
}

// print writes an object as one line of JSON.
func (s *session) print(object any) error {
	enc := json.NewEncoder(s.stdout)
	enc.SetEscapeHTML(false) // it is read as JSON, not as a page
	if err := enc.Encode(object); err != nil {
		return &ended{status: fault, says: "the output can't be written: " + err.Error()}
	}
	return nil
}

// tell writes an object as a line of JSON, or prints what people read.
func (s *session) tell(object any, text func()) error {
	if s.json() {
		return s.print(object)
	}
	text()
	return write(s.out)
}

// tellEach writes objects, each as a line of JSON, or prints what people read of all of them.
func tellEach[T any](s *session, list []T, text func()) error {
	if !s.json() {
		text()
		return write(s.out)
	}
	for _, x := range list {
		if err := s.print(x); err != nil {
			return err
		}
	}
	return nil
}

// shipped is the lowest of a stack: the layers of the shipped ruleset, unless it is left out.
func (s *session) shipped() []load.Layer {
	if !s.config.Shipped {
		return nil
	}
	return english.Each(rulesets.Layers(s.config.Ruleset), func(name string) load.Layer {
		return load.Layer{Name: name, FS: rulesets.FS(name)}
	})
}

// layers is the stack of the settings: the shipped ruleset, and the house's folders above it.
func (s *session) layers() ([]load.Layer, error) {
	out := s.shipped()
	for _, dir := range s.config.Layers {
		out = append(out, load.Layer{Name: layerName(dir), FS: os.DirFS(dir)})
	}
	if len(out) == 0 {
		var none diag.List
		none.Errorf(diag.MissingKey, diag.Span{},
			"there is no ruleset: the shipped one is left out, and no layer is given").
			Detail = "Give a folder with --layer, or leave out --no-shipped."
		return nil, &ended{status: unusable, list: none}
	}
	return out, nil
}

// ruleset loads the stack of the settings.
func (s *session) ruleset(ctx context.Context) (*kb.Ruleset, error) {
	rs, _, err := s.rulesetOf(ctx, nil)
	return rs, err
}

// rulesetOf loads the stack with these folders in place of the settings' own layers, if there are any: with what was
// found, in a ruleset that can't be used too.
func (s *session) rulesetOf(ctx context.Context, folders []string) (*kb.Ruleset, diag.List, error) {
	layers, err := s.layersOf(ctx, folders)
	if err != nil {
		return nil, nil, err
	}
	s.tellLinks(layers)
	rs, found := load.Load(ctx, layers)
	switch {
	case ctx.Err() != nil:
		return nil, nil, ctx.Err()
	case rs == nil:
		return nil, found, s.noRuleset(found)
	}
	return rs, found, nil
}

// layerName is a folder's name as a layer. A layer is known by its name, and those of the shipped rulesets are taken.
func layerName(dir string) string {
	name := filepath.Clean(dir)
	if full, err := filepath.Abs(dir); err == nil && slices.Contains(rulesets.Names(), name) {
		name = full
	}
	return filepath.ToSlash(name)
}

// noRuleset says why there is nothing to judge by.
func (s *session) noRuleset(found diag.List) error {
	return s.refuse("the ruleset can't be used", found)
}

// refuse ends a command for what was found wrong with files: in JSON the findings are the output.
func (s *session) refuse(says string, found diag.List) error {
	if !s.json() {
		return &ended{status: unusable, says: says, list: found}
	}
	if err := diag.WriteJSON(s.stdout, found); err != nil {
		return &ended{status: fault}
	}
	return &ended{status: unusable, says: says}
}
