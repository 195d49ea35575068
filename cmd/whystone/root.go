package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"whystone/cmd/whystone/config"
	"whystone/cmd/whystone/terminal"
	"whystone/kb/diag"
	"whystone/kb/english"
)

const about = `Whystone judges what a stone on the counter is from the readings that were
taken: a verdict in plain words, what it rests on, and the reasoning behind it.

A verdict is the house's opinion on the readings given, not a laboratory report.`

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:           "whystone",
		Short:         "Say what a stone is, how sure that is, and why",
		Long:          about,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	config.AddFlags(root.PersistentFlags())
	root.SetFlagErrorFunc(flagError)
	root.SetUsageTemplate(strings.Replace(usage, "TOPICS", strings.TrimSuffix(topicList(), "\n"), 1))
	for _, g := range []struct {
		id, title string
		commands  []*cobra.Command
	}{
		{"judge", "Judging:", []*cobra.Command{a.judge(), a.why(), a.next()}},
		{"book", "Keeping cases:", []*cobra.Command{a.desk(), a.casebook(), a.user()}},
		{"look", "Looking things up:", []*cobra.Command{a.material(), a.procedure(), a.rule(), a.reckon()}},
		{"write", "Writing rules:", []*cobra.Command{a.proofread(), a.new()}},
		{"archive", "Going over the archive:", []*cobra.Command{a.replay(), a.archive()}},
	} {
		root.AddGroup(&cobra.Group{ID: g.id, Title: g.title})
		for _, cmd := range g.commands {
			cmd.GroupID = g.id
		}
		root.AddCommand(g.commands...)
	}
	root.SetHelpCommand(help(root))
	return a.group(root, settings())
}

// knownCommand refuses what is no command.
func (a *app) knownCommand(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	known := english.Only(cmd.Commands(), func(c *cobra.Command) (string, bool) {
		return c.Name(), c.IsAvailableCommand()
	})
	return usageError("there is no command %q", args[0]).near(args[0], known)
}

// flagError names the flag that was perhaps meant.
func flagError(cmd *cobra.Command, err error) error {
	unknown, ok := errors.AsType[*pflag.NotExistError](err)
	if !ok {
		return usageError("%s", err)
	}
	var known []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) { known = append(known, f.Name) })
	e := usageError("%s has no flag %s", cmd.CommandPath(), flagName(unknown))
	if near := diag.Nearest(unknown.GetSpecifiedName(), known); near != "" {
		e.says += fmt.Sprintf("; did you mean --%s?", near)
	}
	return e
}

func flagName(e *pflag.NotExistError) string {
	if e.GetSpecifiedShortnames() != "" {
		return "-" + e.GetSpecifiedName()
	}
	return "--" + e.GetSpecifiedName()
}

func usageError(format string, args ...any) *ended {
	return &ended{status: unusable, says: fmt.Sprintf(format, args...)}
}

// near adds the known name that was perhaps meant.
func (e *ended) near(name string, known []string) *ended {
	e.says += diag.Meant(diag.Nearest(name, known))
	return e
}

// settings is a page of help: where settings come from, and which there are.
func settings() *cobra.Command {
	var b strings.Builder
	p := terminal.New(&b, 0, false)
	p.Text(terminal.Plain, 0, `Settings come from a file, then from variables of the environment, then from flags; each counts over the one
before. The file is the one that --config or WHYSTONE_CONFIG names, else whystone/config.yaml in your configuration
folder. None of them can change a verdict, except by the layers of rules that are read.`)
	for _, k := range config.Keys() {
		p.Blank()
		p.Text(terminal.Plain, 2, k.Name+" ("+k.Variable()+", "+k.Flag+")")
		p.Text(terminal.Plain, 6, k.Says)
		p.Text(terminal.Plain, 6, "default: "+defaultOf(k))
	}
	_ = p.Flush() // a strings.Builder takes everything
	return &cobra.Command{Use: "settings", Short: "Where settings come from, and which there are", Long: b.String()}
}

func defaultOf(k config.Key) string {
	if list, ok := k.Default.([]string); ok && len(list) == 0 {
		return "none"
	}
	if k.Name == "book" {
		return "whystone in your data folder"
	}
	return fmt.Sprint(k.Default)
}

func init() { cobra.AddTemplateFunc("flagUsages", flagUsages) }

// flagUsages lays flags out, without the "[=true|false]" that pflag writes behind every switch.
func flagUsages(fs *pflag.FlagSet) string {
	shown := pflag.NewFlagSet("", pflag.ContinueOnError)
	fs.VisitAll(func(f *pflag.Flag) {
		one := *f
		if f.Value.Type() == "bool" {
			one.Value = struct{ pflag.Value }{f.Value} // which doesn't tell that it is a switch
		}
		shown.AddFlag(&one)
	})
	return strings.TrimRight(shown.FlagUsagesWrapped(80), "\n")
}

// usage is how a command is explained: what it is called with, its examples, its flags.
const usage = `Usage:
  {{if .HasAvailableSubCommands}}{{.CommandPath}} COMMAND{{else}}{{.UseLine}}{{end}}{{if .HasExample}}

Examples:
{{.Example}}{{end}}{{if .HasAvailableSubCommands}}{{$cmds := .Commands}}{{range $group := .Groups}}

{{.Title}}{{range $cmds}}{{if (and (eq .GroupID $group.ID) .IsAvailableCommand)}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}

Besides:{{range $cmds}}{{if (and (eq .GroupID "") (or .IsAvailableCommand (eq .Name "help") (eq .Name "settings")))}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}{{if not .HasParent}}

Topics ("whystone help TOPIC"):
TOPICS{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{flagUsages .LocalFlags}}{{end}}{{if .HasAvailableInheritedFlags}}

For every command:
{{flagUsages .InheritedFlags}}{{end}}
`
