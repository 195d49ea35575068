package main

import (
	"io"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/topics"
	"whystone/kb/english"
)

// help explains a command, or prints a page of help on a topic.
func help(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND or TOPIC]",
		Short: "Explain a command, or a topic",
		Long:  "Explain a command, or print a page on a topic, in Markdown. The topics:\n\n" + topicList(),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return explainable(root), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				if page, ok := topics.Page(args[0]); ok {
					_, err := io.WriteString(cmd.OutOrStdout(), page)
					return err
				}
			}
			explained, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return usageError("there is no command and no topic %q", args[0]).near(args[0], explainable(root))
			}
			explained.InitDefaultHelpFlag()
			return explained.Help()
		},
	}
}

// explainable are the names of topics and commands.
func explainable(root *cobra.Command) []string {
	return append(topics.Names(), english.Each(root.Commands(), (*cobra.Command).Name)...)
}

// topicList lists the topics as "name  heading", a line each.
func topicList() string {
	list := ""
	for _, name := range topics.Names() {
		page, _ := topics.Page(name)
		list += "  " + name + "            "[:max(0, 14-len(name))] + topics.Title(page) + "\n"
	}
	return list
}
