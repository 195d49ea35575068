package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/judging"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
)

func (a *app) bookOpen() *cobra.Command {
	var customer string
	cmd := &cobra.Command{
		Use:   "open FILE...",
		Short: "Open cases: each gets a number",
		Long: `Open takes the cases of files into the casebook, all of them or, if one can't be
read, none. Each gets a number that can be said aloud: the year, a running
number, and a letter that catches a slip. The number or name that a file gives a
case is kept as what others call it, and finds it too.`,
		Example: `  whystone casebook open intake.yaml --customer "M. Example, by telephone"`,
		Args:    needs("a case file, or - for standard input"),
		RunE: a.keep(true, func(ctx context.Context, k *keeping, args []string) error {
			return k.openAll(ctx, args, customer)
		}),
	}
	cmd.Flags().StringVar(&customer, "customer", "",
		"`who` brings the stone, held apart and erasable; of one case only")
	return cmd
}

func (k *keeping) openAll(ctx context.Context, files []string, customer string) error {
	rs, err := k.ruleset(ctx)
	if err != nil {
		return err
	}
	var cases [][]casebook.Deed
	bad := false
	for it := range intake.All(files, k.stdin, eval.CaseReader(rs)) {
		if it.Case == nil {
			bad = true
			if err := k.notJudged(it); err != nil {
				return err
			}
			continue
		}
		cases = append(cases, casebook.Opening(it.Node, customer))
	}
	switch {
	case bad:
		return usageError("no case was opened")
	case customer != "" && len(cases) > 1:
		return usageError("--customer is of one case, and these are %d", len(cases))
	}
	opened, err := k.Open(ctx, k.by, cases...)
	if err != nil {
		return err
	}
	for _, s := range opened {
		if err := k.done(s, "opened"); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) bookAdd() *cobra.Command {
	return &cobra.Command{
		Use:   "add CASE OBSERVABLE=READING...",
		Short: "Add readings",
		Long: `Add adds readings to a case, each as it is typed in a case file. It is kept as
it is typed. A second reading of the same observable is a repeat; to put
another in the place of one, correct it.`,
		Example: `  whystone casebook add 2031-42-K thermal_probe='diamond range' \
    ri='{above: 1.81}'`,
		Args: needCase("a reading"),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			typed, err := assignments(args[1:])
			if err != nil {
				return err
			}
			rs, err := k.ruleset(ctx)
			if err != nil {
				return err
			}
			s, _, err := k.find(ctx, args[0])
			if err != nil {
				return err
			}
			deeds := english.Each(typed, func(t assignment) casebook.Deed {
				return casebook.Add(judging.NameIn(rs, s, t.name), t.text)
			})
			return k.change(ctx, s.Number, 0, "has "+counted(len(deeds), "reading")+" more", deeds)
		}),
	}
}

func counted(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// assignment is NAME=VALUE.
type assignment struct{ name, text string }

func assignments(args []string) ([]assignment, error) {
	var out []assignment
	for _, arg := range args {
		name, text, ok := strings.Cut(arg, "=")
		if !ok || name == "" {
			return nil, usageError("%q says no value; write NAME=VALUE", arg)
		}
		if !utf8.ValidString(text) {
			return nil, usageError("the value of %s is not valid UTF-8", name)
		}
		var found diag.List
		if casebook.Parse(diag.NewSource(name, []byte(text)), &found) == nil {
			return nil, &ended{status: unusable, says: "the value of " + name + " can't be read", list: found}
		}
		out = append(out, assignment{name, strings.TrimSpace(text)})
	}
	return out, nil
}

// change does deeds that the ruleset must be able to read.
func (k *keeping) change(ctx context.Context, name string, seen int, what string, deeds []casebook.Deed) error {
	rs, err := k.ruleset(ctx)
	if err != nil {
		return err
	}
	return k.deeds(ctx, name, seen, what, judging.Readable(rs), deeds)
}

// deeds does deeds that pass a check, and tells it.
func (k *keeping) deeds(ctx context.Context, name string, seen int, what string,
	check func(before, after *casebook.State) error, deeds []casebook.Deed) error {
	s, _, err := k.find(ctx, name)
	if err != nil {
		return err
	}
	if s, err = k.Do(ctx, k.by, s, seen, check, deeds...); err != nil {
		return err
	}
	return k.done(s, what)
}

func (a *app) bookCorrect() *cobra.Command {
	var seen int
	var because string
	cmd := &cobra.Command{
		Use:   "correct CASE WHAT=VALUE...",
		Short: "Correct a reading, or what is said of stone, claim or stake",
		Long: `Correct puts another value in the place of one. WHAT is a reading's number as
"casebook list CASE" shows it, or the observable where it was read once; or
claim, stake, taken, desk, by, stone.carat and so on. Nothing after the = takes
a field away. What stood there before stays in the log.`,
		Example: `  whystone casebook correct 2031-42-K ri=1.77 --seen 7 --because misread`,
		Args:    needCase("what to correct"),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			return k.correct(ctx, args[0], args[1:], seen, because)
		}),
	}
	versionFlag(cmd, &seen)
	becauseFlag(cmd, &because)
	return cmd
}

func versionFlag(cmd *cobra.Command, seen *int) {
	cmd.Flags().IntVar(seen, "seen", 0, "the `version` of the case by which this is decided")
}

func becauseFlag(cmd *cobra.Command, because *string) {
	cmd.Flags().StringVar(because, "because", "", "the `reason`; it can't be erased, so it names nobody")
}

func (k *keeping) correct(ctx context.Context, name string, args []string, seen int, because string) error {
	typed, err := assignments(args)
	if err != nil {
		return err
	}
	if because == "" {
		return usageError("say why with --because")
	}
	rs, err := k.ruleset(ctx)
	if err != nil {
		return err
	}
	s, _, err := k.find(ctx, name)
	if err != nil {
		return err
	}
	var deeds []casebook.Deed
	fields := map[string]string{}
	for _, t := range typed {
		if casebook.KnownField(t.name) {
			fields[t.name] = t.text
			continue
		}
		id, err := readingOf(s, judging.NameIn(rs, s, t.name))
		if err != nil {
			return err
		}
		deeds = append(deeds, casebook.Correct(id, t.text, because))
	}
	if len(fields) > 0 {
		deeds = append(deeds, casebook.Amend(fields, because))
	}
	return k.change(ctx, s.Number, seen, "corrected", deeds)
}

// readingOf finds the reading that is meant: by its number, or by the observable where it was read once.
func readingOf(s *casebook.State, what string) (int, error) {
	if id, err := strconv.Atoi(what); err == nil {
		return id, nil
	}
	var ids, names []string
	id := 0
	for _, r := range s.Live() {
		names = append(names, r.Observable)
		if r.Observable == what {
			id = r.ID
			ids = append(ids, strconv.Itoa(r.ID))
		}
	}
	switch len(ids) {
	case 0:
		return 0, usageError("%s has no reading of %s", s.Number, what).near(what, append(names, casebook.Fields()...))
	case 1:
		return id, nil
	}
	return 0, usageError("%s was read %d times in %s: say which, by its number: %s", what, len(ids), s.Number,
		strings.Join(ids, ", "))
}

func (a *app) bookWithdraw() *cobra.Command {
	var seen int
	var because string
	cmd := &cobra.Command{
		Use:     "withdraw CASE READING...",
		Short:   "Withdraw readings",
		Long:    `Withdraw takes readings back, with a reason. They stay in the log.`,
		Example: `  whystone casebook withdraw 2031-42-K ri --seen 7 --because "another stone"`,
		Args:    needCase("a reading"),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			if because == "" {
				return usageError("say why with --because")
			}
			s, _, err := k.find(ctx, args[0])
			if err != nil {
				return err
			}
			var deeds []casebook.Deed
			for _, what := range args[1:] {
				id, err := readingOf(s, what)
				if err != nil {
					return err
				}
				deeds = append(deeds, casebook.Withdraw(id, because))
			}
			return k.do(ctx, s.Number, seen, "has "+counted(len(deeds), "reading")+" less", deeds...)
		}),
	}
	versionFlag(cmd, &seen)
	becauseFlag(cmd, &because)
	return cmd
}

// do does deeds that change nothing of what is judged.
func (k *keeping) do(ctx context.Context, name string, seen int, what string, deeds ...casebook.Deed) error {
	return k.deeds(ctx, name, seen, what, nil, deeds)
}

func (a *app) bookClose() *cobra.Command {
	var seen int
	var because string
	cmd := &cobra.Command{
		Use:   "close CASE",
		Short: "Close a case",
		Long: `Close closes a case. Nothing more is read of it until it is opened again; what
it turned out to be can still be recorded, and what is held apart erased.`,
		Example: `  whystone casebook close 2031-42-K --seen 9`,
		Args:    needCase(""),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			return k.do(ctx, args[0], seen, "closed", casebook.Close(because))
		}),
	}
	versionFlag(cmd, &seen)
	becauseFlag(cmd, &because)
	return cmd
}

func (a *app) bookReopen() *cobra.Command {
	var because string
	cmd := &cobra.Command{
		Use:     "reopen CASE",
		Short:   "Open a closed case again",
		Example: `  whystone casebook reopen 2031-42-K --because "the owner is back"`,
		Args:    needCase(""),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			return k.do(ctx, args[0], 0, "open again", casebook.Reopen(because))
		}),
	}
	becauseFlag(cmd, &because)
	return cmd
}

func (a *app) bookNote() *cobra.Command {
	var customer bool
	cmd := &cobra.Command{
		Use:   "note CASE TEXT",
		Short: "Record a note, or who the customer is",
		Long: `Note records a note on a case; with --customer, particulars of who brought it.
- in place of the text reads it from standard input. Both are held apart and can
be erased.`,
		Example: `  whystone casebook note 2031-42-K "called back on Friday"`,
		Args:    needCase("a text"),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			text := strings.Join(args[1:], " ")
			if text == intake.Stdin {
				b, err := io.ReadAll(io.LimitReader(k.stdin, mostHeld+1))
				if err != nil {
					return err
				}
				text = string(b)
			}
			if strings.TrimSpace(text) == "" || len(text) > mostHeld || !utf8.ValidString(text) {
				return usageError("a note is a text in UTF-8 of at most %d MiB", mostHeld>>20)
			}
			what, says := casebook.Note, "has a note more"
			if customer {
				what, says = casebook.Customer, "knows more of its customer"
			}
			return k.do(ctx, args[0], 0, says, casebook.Write(what, text))
		}),
	}
	cmd.Flags().BoolVar(&customer, "customer", false, "the text is about the customer")
	return cmd
}

// mostHeld bounds a note or picture.
const mostHeld = 32 << 20

func (a *app) bookPicture() *cobra.Command {
	var to string
	cmd := &cobra.Command{
		Use:   "picture CASE FILE...",
		Short: "Record pictures, or write them out",
		Long: `Picture records pictures of a case; they are held apart and can be erased. With
--to it writes the pictures of the case to a folder.`,
		Example: `  whystone casebook picture 2031-42-K girdle.jpg
  whystone casebook picture 2031-42-K --to pictures`,
		Args: needCaseOr(&to),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			if to != "" {
				return k.writePictures(ctx, args[0], to)
			}
			var deeds []casebook.Deed
			for _, file := range args[1:] {
				d, err := photograph(file)
				if err != nil {
					return err
				}
				deeds = append(deeds, d)
			}
			return k.do(ctx, args[0], 0, "has "+counted(len(deeds), "picture")+" more", deeds...)
		}),
	}
	cmd.Flags().StringVar(&to, "to", "", "write the pictures to this `folder`")
	return cmd
}

// needCaseOr needs a case, and something after it unless the flag is given.
func needCaseOr(flag *string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if *flag != "" {
			return needCase("")(cmd, args)
		}
		return needCase("a file")(cmd, args)
	}
}

func photograph(file string) (casebook.Deed, error) {
	info, err := os.Stat(file)
	if err == nil && info.Size() > mostHeld {
		return casebook.Deed{}, usageError("%s is larger than the %d MiB that are kept", file, mostHeld>>20)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		return casebook.Deed{}, usageError("the picture can't be read: %s", err)
	}
	media := http.DetectContentType(b)
	if !strings.HasPrefix(media, "image/") {
		return casebook.Deed{}, usageError("%s is no picture, but %s", file, media)
	}
	return casebook.Show(media, b), nil
}

func (a *app) bookTruth() *cobra.Command {
	var f casebook.Finding
	cmd := &cobra.Command{
		Use:   "truth CASE MATERIAL",
		Short: "Record what the stone turned out to be",
		Long: `Truth records what a stone turned out to be, and who says so: a laboratory's
report, for instance. It never reaches the judging; replay counts by it.`,
		Example: `  whystone casebook truth 2031-42-K synthetic-moissanite \
    --laboratory "an invented one" --report 77-1 --dated 2031-05-02`,
		Args: needCase("a material"),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			rs, err := k.ruleset(ctx)
			if err != nil {
				return err
			}
			m, err := catalog.FindMaterial(rs, strings.Join(args[1:], " "))
			if err != nil {
				return usageError("%s", err)
			}
			f.Material = m.ID
			return k.do(ctx, args[0], 0, "turned out to be "+m.ID, casebook.Know(f))
		}),
	}
	cmd.Flags().StringVar(&f.Laboratory, "laboratory", "", "`who` says so")
	cmd.Flags().StringVar(&f.Report, "report", "", "the `number` of the report")
	cmd.Flags().StringVar(&f.Dated, "dated", "", "the report's `date`")
	return cmd
}

func (a *app) bookErase() *cobra.Command {
	var customer, notes, pictures bool
	var because string
	cmd := &cobra.Command{
		Use:   "erase CASE",
		Short: "Erase a customer's particulars, notes and pictures",
		Long: `Erase takes what is held apart of a case out of the casebook, with its salt: all
of it, or what the flags name. Readings and verdicts stay, and so does the chain
of hashes. That it was erased, by whom and when, is an event like any other.

Backups and exports that were made before still hold it: erase it there by
making new ones and destroying the old.`,
		Example: `  whystone casebook erase 2031-42-K --customer --because "asked for"`,
		Args:    needCase(""),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			s, _, err := k.find(ctx, args[0])
			if err != nil {
				return err
			}
			all := !customer && !notes && !pictures
			ids := s.HeldOf(customer || all, notes || all, pictures || all)
			if len(ids) == 0 {
				return usageError("%s holds nothing of the kind", s.Number)
			}
			err = k.do(ctx, s.Number, s.Version, "has "+counted(len(ids), "particular")+" less",
				casebook.Forget(ids, because))
			if err == nil && !k.json() {
				_, err = fmt.Fprintln(k.stderr,
					"Backups and exports that were made before still hold what was erased.")
			}
			return err
		}),
	}
	f := cmd.Flags()
	f.BoolVar(&customer, "customer", false, "the customer's particulars")
	f.BoolVar(&notes, "notes", false, "the notes, those of readings too")
	f.BoolVar(&pictures, "pictures", false, "the pictures, and what they show")
	becauseFlag(cmd, &because)
	return cmd
}
