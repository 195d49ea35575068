package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"whystone/cmd/whystone/terminal"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/load"
)

// lookup is a command that lists the sheets of one kind, or shows one of them.
type lookup[T any] struct {
	use, short, long, example string
	list                      func(*terminal.Printer, *kb.Ruleset)
	show                      func(*terminal.Printer, *kb.Ruleset, T)
	all                       func(*kb.Ruleset) []T
	find                      func(*kb.Ruleset, string) (T, error)
	object                    func(*kb.Ruleset, T) any
	id                        func(T) (id, says string)
}

// command makes the command.
func (l lookup[T]) command(a *app) *cobra.Command {
	return &cobra.Command{
		Use: l.use, Short: l.short, Long: l.long, Example: l.example,
		Args: atMostOne,
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			rs, err := s.ruleset(cmd.Context())
			if err != nil {
				return err
			}
			chosen := l.all(rs)
			if len(args) == 1 {
				one, err := l.find(rs, args[0])
				if err != nil {
					return err
				}
				chosen = []T{one}
			}
			return l.tell(s, rs, chosen, len(args) == 1)
		}),
		ValidArgsFunction: a.completing(func(rs *kb.Ruleset) []cobra.Completion {
			return english.Each(l.all(rs), func(t T) cobra.Completion { return cobra.CompletionWithDesc(l.id(t)) })
		}),
	}
}

// tell writes what was chosen: an object a line, the sheet of one, or the list of all.
func (l lookup[T]) tell(s *session, rs *kb.Ruleset, chosen []T, one bool) error {
	return tellEach(s, english.Each(chosen, func(t T) any { return l.object(rs, t) }), func() {
		if one {
			l.show(s.out, rs, chosen[0])
		} else {
			l.list(s.out, rs)
		}
	})
}

func atMostOne(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return usageError("%s takes one name, in quotes if it has spaces, and got %d", cmd.CommandPath(), len(args))
	}
	return nil
}

// completing completes the one argument of a command with words of the ruleset.
func (a *app) completing(words func(*kb.Ruleset) []cobra.Completion) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, start string) ([]cobra.Completion, cobra.ShellCompDirective) {
		once(cmd.Flags())
		var all []cobra.Completion
		s, err := a.begin(cmd)
		if err == nil && len(args) == 0 {
			layers, err := s.layers()
			rs, _ := load.Load(cmd.Context(), layers) // what is wrong with it is told when it is used
			if err == nil && rs != nil {
				all = words(rs)
			}
		}
		all = slices.DeleteFunc(all, func(w cobra.Completion) bool { return !strings.HasPrefix(w, start) })
		return all, cobra.ShellCompDirectiveNoFileComp
	}
}

// once undoes that cobra reads the flags twice before it completes: a flag that may be repeated then has all it was
// given twice.
func once(flags *pflag.FlagSet) {
	f := flags.Lookup("layer")
	if f == nil {
		return
	}
	if v, ok := f.Value.(pflag.SliceValue); ok {
		list := v.GetSlice()
		if half := len(list) / 2; slices.Equal(list[:half], list[half:]) {
			_ = v.Replace(list[:half]) // the same words as before
		}
	}
}
