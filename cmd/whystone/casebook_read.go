package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
)

func (a *app) bookList() *cobra.Command {
	var all, particulars bool
	var most int
	cmd := &cobra.Command{
		Use:   "list [CASE]",
		Short: "List the open cases, or show one with its history",
		Example: `  whystone casebook list
  whystone casebook list 2031-42-K`,
		Args: atMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.keep(cmd, false, func(k *keeping) error {
				switch {
				case len(args) == 1:
					return k.show(cmd.Context(), args[0], particulars)
				case all:
					return k.search(cmd.Context(), nil, most)
				}
				return k.search(cmd.Context(), []string{"status=open"}, most)
			})
		},
	}
	cmd.Flags().BoolVar(&all, "all", false, "closed cases too")
	cmd.Flags().BoolVar(&particulars, "particulars", false, "the customer's particulars and notes too")
	mostFlag(cmd, &most)
	return cmd
}

func mostFlag(cmd *cobra.Command, most *int) {
	cmd.Flags().IntVar(most, "most", 50, "list at most so `many`; 0: all")
}

func (a *app) bookSearch() *cobra.Command {
	var most int
	cmd := &cobra.Command{
		Use:   "search WHAT...",
		Short: "Search the cases",
		Long: `Search lists the cases that meet all that is given, newest first: words, which
are looked for in claims, notes, customers' particulars, what others call a
case, and reports; or KEY=VALUE:

  claim=diamond             what is claimed
  material=corundum         what the last verdict names, or a group above it
  verdict=narrowed          the last verdict
  truth=glass               what it turned out to be
  from=2031-04-01 to=...    the day it was opened
  by=anna                   who did something to it
  status=open               open or closed
  called=HQ-0101            what others call it`,
		Example: `  whystone casebook search claim=diamond verdict=identified from=2031-04-01
  whystone judge 'case:?claim=diamond&status=open'`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageError("%s needs something to look for", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.keep(cmd, false, func(k *keeping) error { return k.search(cmd.Context(), args, most) })
		},
	}
	mostFlag(cmd, &most)
	return cmd
}

// query reads what is looked for.
func (s *session) query(ctx context.Context, parts []string) (*casebook.Query, error) {
	q, err := judging.Query(parts, func() (*kb.Ruleset, error) { return s.ruleset(ctx) })
	if err != nil {
		return nil, usageError("%s", err)
	}
	return q, nil
}

func (k *keeping) search(ctx context.Context, parts []string, most int) error {
	q, err := k.query(ctx, parts)
	if err != nil {
		return err
	}
	var list []casebook.Summary
	more := false
	err = k.Read(ctx, func(v casebook.View) (err error) {
		list, more, err = casebook.Search(v, q, most)
		return err
	})
	if err != nil {
		return err
	}
	if k.json() {
		for _, sum := range list {
			if err := k.print(sum); err != nil {
				return err
			}
		}
		return nil
	}
	k.out.Cases(list, more)
	return write(k.out)
}

// show shows one case.
func (k *keeping) show(ctx context.Context, name string, particulars bool) error {
	var s *casebook.State
	var head casebook.Head
	held := map[string]string{}
	err := k.Read(ctx, func(v casebook.View) (err error) {
		if head, err = v.Head(); err != nil {
			return err
		}
		if s, err = casebook.Find(v, strings.TrimPrefix(name, judging.CasePrefix)); err != nil || !particulars {
			return err
		}
		held, err = casebook.Texts(v, s)
		return err
	})
	if err != nil {
		return err
	}
	if k.json() {
		return k.print(s.Keep(head, held))
	}
	k.out.Case(s, held)
	k.out.Blank()
	k.out.Text(terminal.Dim, 0, "Casebook "+head.String()+".")
	return write(k.out)
}

func (k *keeping) writePictures(ctx context.Context, name, folder string) error {
	var written []string
	err := k.Read(ctx, func(v casebook.View) error {
		s, err := casebook.Find(v, strings.TrimPrefix(name, judging.CasePrefix))
		if err != nil {
			return err
		}
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return err
		}
		for _, h := range s.Held {
			if h.What != casebook.Picture {
				continue
			}
			p, err := v.Particular(h.ID)
			if err != nil {
				return err
			}
			if p == nil {
				return fmt.Errorf("the picture %s is gone, and no event says that it was erased", h.ID)
			}
			_, kind, _ := strings.Cut(h.Type, "/")
			path := filepath.Join(folder, s.Number+"-"+strings.ReplaceAll(h.ID, "/", "-")+"."+kind)
			if err := os.WriteFile(path, p.Content, 0o600); err != nil {
				return err
			}
			written = append(written, filepath.ToSlash(path))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return k.say(counted(len(written), "picture") + " written: " + strings.Join(written, ", "))
}
