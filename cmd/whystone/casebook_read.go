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
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			switch {
			case len(args) == 1:
				return k.show(ctx, args[0], particulars)
			case all:
				return k.search(ctx, nil, most)
			}
			return k.search(ctx, []string{"status=open"}, most)
		}),
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
		Args: needs("something to look for"),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			return k.search(ctx, args, most)
		}),
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
	return tellEach(k.session, list, func() { k.out.Cases(list, more) })
}

// show shows one case.
func (k *keeping) show(ctx context.Context, name string, particulars bool) error {
	var s *casebook.State
	var head casebook.Head
	var held map[string]string
	err := k.Read(ctx, func(v casebook.View) (err error) {
		if head, err = v.Head(); err != nil {
			return err
		}
		if s, err = findCase(v, name); err != nil {
			return err
		}
		held, err = heldOf(v, s, particulars)
		return err
	})
	if err != nil {
		return err
	}
	return k.tell(s.Keep(head, held), func() {
		k.out.Case(s, held)
		k.out.Blank()
		k.out.Text(terminal.Dim, 0, "Casebook "+head.String()+".")
	})
}

// heldOf are the texts that are held apart of a case, if they are asked for.
func heldOf(v casebook.View, s *casebook.State, particulars bool) (map[string]string, error) {
	if !particulars {
		return map[string]string{}, nil
	}
	return casebook.Texts(v, s)
}

func (k *keeping) writePictures(ctx context.Context, name, folder string) error {
	var written []string
	err := k.Read(ctx, func(v casebook.View) error {
		s, err := findCase(v, name)
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
