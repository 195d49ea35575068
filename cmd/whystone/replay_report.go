package main

import (
	"context"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"whystone/cmd/whystone/intake"
	"whystone/engine/replay"
)

// reports are the forms in which a report is written beside the one on standard output.
type reports struct{ html, junit, report string }

func (r *reports) flags(f *pflag.FlagSet) {
	f.StringVar(&r.report, "report", "", "write the report as JSON to this `file`, for replay merge")
	f.StringVar(&r.html, "html", "", "write the report as a page to this `file`")
	f.StringVar(&r.junit, "junit", "", "write the gate and the pinned cases as JUnit XML to this `file`")
}

// files are those that are written.
func (r *reports) files() []string { return []string{r.html, r.junit, r.report} }

var errNotKept = &ended{status: finding, says: "the gate is not kept"}

// tellReplay writes the report in all the forms that were asked for.
func (s *session) tellReplay(p *replay.Page, r *reports) error {
	for _, f := range []struct {
		path  string
		write func(io.Writer) error
	}{{r.html, p.HTML}, {r.junit, func(w io.Writer) error { return replay.JUnit(w, p.Gate, p.Tally) }},
		{r.report, p.Write}} {
		if f.path == "" {
			continue
		}
		if err := toFile(f.path, f.write); err != nil {
			return err
		}
	}
	if s.json() {
		return s.print(p.Data())
	}
	text := p.Summary()
	if s.head != "" {
		text = strings.TrimRight(text, "\n") + "\n\ncasebook " + s.head + "\n"
	}
	_, err := io.WriteString(s.stdout, text)
	return err
}

func (a *app) replayMerge() *cobra.Command {
	var r reports
	cmd := &cobra.Command{
		Use:   "merge REPORT...",
		Short: "Add up reports of parts of an archive",
		Long: `Merge adds up reports that replay --report wrote of parts of an archive, in the
order given. The sum is that of a replay of all parts together.`,
		Args: needs("reports that replay --report wrote"),
		RunE: a.does(func(s *session, _ *cobra.Command, args []string) error {
			if err := s.mayWrite(r.files(), args...); err != nil {
				return err
			}
			var parts []*replay.Part
			for _, path := range args {
				p, err := readPart(path)
				if err != nil {
					return usageError("%s: %s", path, plain(err))
				}
				parts = append(parts, p)
			}
			p, err := replay.Merge(parts)
			if err != nil {
				return err
			}
			return s.tellMerged(p, &r)
		}),
	}
	r.flags(cmd.Flags())
	return cmd
}

// readPart reads a checkpoint or a report.
func readPart(path string) (*replay.Part, error) {
	raw, err := intake.ReadFile(path, replay.MaxPart)
	if err != nil {
		return nil, err
	}
	return replay.ReadPart(raw)
}

func (s *session) tellMerged(p *replay.Part, r *reports) error {
	page, kept := &replay.Page{Part: p}, true
	if len(p.Conditions) > 0 {
		gate, found := replay.Gate(p.Conditions)
		if found.HasErrors() {
			return &ended{status: unusable, says: "the reports' gate can't be used", list: found}
		}
		page.Gate, kept = replay.CheckGate(gate, p)
		if err := page.Refuse(context.Background(), nil, gate, false); err != nil {
			return err
		}
	}
	if p.Tally.Pair != nil {
		page.Untold = "Changed cases are not shown with their chains: a merged report has no archive."
	}
	if err := s.tellReplay(page, r); err != nil {
		return err
	}
	if !kept {
		return errNotKept
	}
	return nil
}
