package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/engine/replay"
	"whystone/kb/diag"
)

func (a *app) archive() *cobra.Command {
	return a.group(&cobra.Command{Use: "archive", Short: "Convert an archive, or invent one"},
		a.archiveSample(), a.archiveConvert())
}

func (a *app) archiveSample() *cobra.Command {
	var cases int
	var seed uint64
	var allForms bool
	cmd := &cobra.Command{
		Use:   "sample",
		Short: "Write an invented archive to standard output",
		Long: `Sample writes an invented archive of an invented saleroom's intake as JSON
lines: stones drawn by what is common at the counter, readings drawn from their
sheets with the errors and blunders stated there. The same seed gives the same
bytes.`,
		Example: "  whystone archive sample --cases 10000 --seed 1 > sample.jsonl",
		Args:    cobra.NoArgs,
		RunE: a.does(func(s *session, cmd *cobra.Command, _ []string) error {
			if cases < 1 {
				return usageError("--cases must be at least 1")
			}
			rs, err := s.ruleset(cmd.Context())
			if err != nil {
				return err
			}
			return s.buffered(func(out io.Writer) error {
				return replay.Sample(cmd.Context(), engine.Prepare(rs), cases, seed, allForms, out)
			})
		}),
	}
	cmd.Flags().IntVar(&cases, "cases", 1000, "how many `cases`")
	cmd.Flags().BoolVar(&allForms, "all-forms", false,
		"draw readings in all forms: rays, repeats, places, bounds, instruments, measured stones")
	cmd.Flags().Uint64Var(&seed, "seed", 1, "the `number` that the draws begin from")
	return cmd
}

func (a *app) archiveConvert() *cobra.Command {
	var mapping string
	cmd := &cobra.Command{
		Use:   "convert FROM... TO",
		Short: "Write archives in another form, losing nothing",
		Long: `Convert reads archives and writes one in the form that the last name's ending
says: .jsonl, .csv or .parquet, the first two also with .gz or .zst. Nothing is
lost; what can't be read is told, and nothing is written then. - is standard
input: JSON lines, or with --mapping a table.`,
		Example: `  whystone archive convert intake.csv intake.parquet
  whystone archive convert --mapping ledger.yaml ledger.csv intake.jsonl.zst`,
		Args: arguments(2, math.MaxInt, "needs an archive, and where to write"),
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			return s.convert(cmd.Context(), args[:len(args)-1], args[len(args)-1], mapping)
		}),
	}
	cmd.Flags().StringVar(&mapping, "mapping", "", "a mapping `file` for a foreign spreadsheet's columns")
	return cmd
}

func (s *session) convert(ctx context.Context, from []string, to, mapping string) error {
	rs, err := s.ruleset(ctx)
	if err != nil {
		return err
	}
	in, err := s.input(from, mapping, rs)
	if err != nil {
		return err
	}
	if err := s.mayWrite([]string{to}, append(slices.Clone(in.Paths), mapping)...); err != nil {
		return err
	}
	n := int64(0)
	err = writeFile(to, func(out io.Writer) error {
		buf := bufio.NewWriter(out)
		w, err := archive.NewWriter(to, buf, rs.Vocabulary.Names())
		if err != nil {
			return err
		}
		if n, err = s.copyRecords(ctx, in, w); err != nil {
			return err
		}
		return errors.Join(w.Close(), buf.Flush())
	})
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		return usageError("nothing is written: %s", err)
	}
	s.complain("%d cases written to %s\n", n, to)
	return nil
}

func (s *session) copyRecords(ctx context.Context, in archive.Input, w *archive.Writer) (n int64, err error) {
	readErr := archive.Each(ctx, in, func(r *archive.Raw) bool {
		if e := w.Write(r); e != nil {
			err = fmt.Errorf("%s: %s", r.Place(), told(e))
			return false
		}
		n++
		return true
	})
	if err == nil {
		err = readErr
	}
	return n, err
}

// told is an error on one line.
func told(err error) string {
	if l, ok := errors.AsType[diag.List](err); ok && len(l) > 0 {
		return l[0].Summary
	}
	return err.Error()
}
