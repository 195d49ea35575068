package main

import (
	"io"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/topics"
)

// help explains a command, or prints a page of help on a topic.
func help(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND or TOPIC]",
		Short: "Explain a command, or a topic",
		Long:  "Explain a command, or print a page on a topic, in Markdown. The topics:\n\n" + topicList(),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
			names := topics.Names()
			for _, c := range root.Commands() {
				names = append(names, c.Name())
			}
			return names, cobra.ShellCompDirectiveNoFileComp
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
				known := topics.Names()
				for _, c := range root.Commands() {
					known = append(known, c.Name())
				}
				return usageError("there is no command and no topic %q", args[0]).near(args[0], known)
			}
			explained.InitDefaultHelpFlag()
			return explained.Help()
		},
	}
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
