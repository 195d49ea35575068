package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/sarif"
	"whystone/engine"
	"whystone/engine/separation"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/proofread"
)

// proofreading is what the flags of proofread say.
type proofreading struct {
	strict, all, tidy, diff bool
	apart                   bool
	explain, sarif, witness string
	asOf, mapping           string
	cases, lacks            []string
}

func (a *app) proofread() *cobra.Command {
	var o proofreading
	cmd := &cobra.Command{
		Use:   "proofread [DIR]",
		Short: "Find mistakes in rules before a customer does",
		Long: `Proofread checks a ruleset that loads: rules that can never fire or say what
another says, that pull a material both ways on one reading, that exclude a
material whose own sheet says it belongs; parts of conditions that decide
nothing; facts nobody reads; examples that don't come out; gaps and overlaps of
tables; materials that no harmless test tells apart.

DIR is a house's own folder of rules above the shipped ones (or git:REV:FOLDER);
without it the settings' layers are read. Where a finding says that something
can happen, it shows a case that does it; --witnesses writes these cases out,
ready for judge.

A finding that is meant to stay is accepted on its sheet:

  accepts:
    - {finding: pulls-both-ways, with: other-rule, because: "why", until: 2032-01-01}

Exit status: 0 nothing but notes, 1 errors or warnings (--strict: notes too),
2 files that can't be loaded.`,
		Example: `  whystone proofread
  whystone proofread house/rules --strict --sarif findings.sarif
  whystone proofread --explain pulls-both-ways
  whystone proofread house/rules --cases archive.jsonl
  whystone proofread --apart --lacks refractometer
  whystone proofread house/rules --tidy`,
		Args: atMostOne,
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			return s.proofread(cmd.Context(), args, cmd.Flags().Changed("explain"), &o)
		}),
	}
	f := cmd.Flags()
	f.BoolVar(&o.strict, "strict", false, "exit status 1 for notes, too")
	f.BoolVar(&o.all, "all", false, "write out notes and accepted findings, too; with --cases, all rules")
	f.StringVar(&o.explain, "explain", "", "explain a finding's `code`; \"all\" lists them")
	f.StringVar(&o.witness, "witnesses", "", "write the cases that show findings into this `folder`")
	f.StringVar(&o.sarif, "sarif", "", "write the findings to this `file` in SARIF 2.1.0")
	f.StringVar(&o.asOf, "as-of", "", "proofread as of this `date`: acceptances, examples without a date (default: now)")
	f.BoolVar(&o.apart, "apart", false, "tell which materials no harmless test tells apart, and what hangs on one test")
	f.StringArrayVar(&o.lacks, "lacks", nil,
		"a `test` that the house has no instrument for; with --apart: what it would buy. May be repeated")
	f.StringArrayVar(&o.cases, "cases", nil, "how often each rule held and decided in this `archive`; may be repeated")
	f.StringVar(&o.mapping, "mapping", "", "a mapping `file` for the columns of --cases")
	f.BoolVar(&o.tidy, "tidy", false, "lay the files of DIR out evenly; what they say stays the same")
	f.BoolVar(&o.diff, "diff", false, "with --tidy: show what would change, and change nothing")
	return cmd
}

func (s *session) proofread(ctx context.Context, args []string, explain bool, o *proofreading) error {
	switch {
	case explain:
		return s.explain(o.explain)
	case o.tidy:
		return s.tidy(ctx, args, o.diff)
	case o.diff:
		return usageError("--diff goes with --tidy")
	}
	if err := s.mayWrite([]string{o.sarif}, slices.Concat(args, o.cases, []string{o.mapping})...); err != nil {
		return err
	}
	if err := s.mayHoldWitnesses(o.witness, args); err != nil {
		return err
	}
	rs, loaded, err := s.rulesetOf(ctx, args)
	if err != nil && o.sarif != "" && len(loaded) > 0 { // when an editor needs it most
		if wrong := o.writeSARIF(findings(loaded)); wrong != nil {
			return wrong
		}
	}
	if err != nil {
		return err
	}
	on, err := s.dateOrNow(rs, o.asOf)
	if err != nil {
		return err
	}
	if err := knownTests(rs, o.lacks); err != nil {
		return err
	}
	switch {
	case len(o.cases) > 0:
		return s.coverage(ctx, rs, on, o)
	case o.apart:
		return s.apart(ctx, rs, on, o)
	}
	report, err := proofread.Run(ctx, rs, proofread.Options{On: on, Loaded: loaded, Lacks: o.lacks})
	if err != nil {
		return err
	}
	if err := o.writeOut(report); err != nil {
		return err
	}
	return s.tellFindings(rs, report, o)
}

// apart tells what no test tells apart, and what a further instrument would buy.
func (s *session) apart(ctx context.Context, rs *kb.Ruleset, on time.Time, o *proofreading) error {
	table, err := separation.Build(ctx, engine.Prepare(rs), on)
	if err != nil {
		return err
	}
	report := table.Report(o.lacks)
	return s.tell(report, func() { s.out.Apart(rs, report, o.all) })
}

// writeOut writes the files that were asked for.
func (o *proofreading) writeOut(r *proofread.Report) error {
	if o.sarif != "" {
		if err := o.writeSARIF(r.Findings); err != nil {
			return err
		}
	}
	if o.witness == "" {
		return nil
	}
	if err := writeWitnesses(o.witness, r.Findings); err != nil {
		return usageError("the cases can't be written: %s", err)
	}
	return nil
}

func (o *proofreading) writeSARIF(list []proofread.Finding) error {
	return toFile(o.sarif, func(w io.Writer) error { return sarif.Write(w, list) })
}

// findings are what loading found, of which there is no ruleset to say more.
func findings(found diag.List) []proofread.Finding {
	return english.Each(found, func(d diag.Diagnostic) proofread.Finding {
		return proofread.Finding{Diagnostic: d, Sheets: []proofread.Sheet{}}
	})
}

// mayHoldWitnesses refuses a folder that rules are read from: a case among them would keep them from being read.
func (s *session) mayHoldWitnesses(folder string, dirs []string) error {
	if folder == "" {
		return nil
	}
	for _, dir := range slices.Concat(dirs, s.config.Layers) {
		if liesIn(dir, folder) {
			return usageError("%s is read as rules, so no cases can be written into it", folder)
		}
	}
	return nil
}

// shows begins the files that hold witnesses, so that they are known again.
const shows = "# It shows: "

// writeWitnesses writes each witness as a case file that says what it shows. A file that is no witness is left as it
// is, and then none is written.
func writeWitnesses(folder string, findings []proofread.Finding) error {
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return err
	}
	texts := map[string]string{}
	var names []string
	for _, f := range findings {
		if f.Witness == nil {
			continue
		}
		name := filepath.Join(folder, f.Witness.ID+".yaml")
		for n := 2; texts[name] != ""; n++ {
			name = filepath.Join(folder, fmt.Sprintf("%s-%d.yaml", f.Witness.ID, n))
		}
		if there, err := os.ReadFile(name); err == nil && !strings.HasPrefix(string(there), shows) {
			return fmt.Errorf("%s is there already, and is no case that proofreading wrote", name)
		}
		texts[name] = shows + f.Summary + ".\n" + f.Witness.Text
		names = append(names, name)
	}
	for _, name := range names {
		if err := os.WriteFile(name, []byte(texts[name]), 0o666); err != nil {
			return err
		}
	}
	return nil
}

func (s *session) tellFindings(rs *kb.Ruleset, r *proofread.Report, o *proofreading) error {
	if err := s.tell(r.JSON(rs.Digest), func() { s.out.Findings(r, o.all) }); err != nil {
		return err
	}
	if len(r.Open(o.strict)) > 0 {
		return &ended{status: finding}
	}
	return nil
}

// explain says what is known of a code.
func (s *session) explain(code string) error {
	if code == "all" {
		return s.tell(map[string]any{"format": 1, "codes": diag.Codes()}, func() { s.out.Explanations(diag.Codes()) })
	}
	e, ok := diag.Explain(diag.Code(code))
	if !ok {
		return usageError("there is no finding %q", code).near(code, diag.Words())
	}
	return s.tell(struct {
		Format int `json:"format"`
		diag.Explanation
	}{1, e}, func() { s.out.Explanation(e) })
}
