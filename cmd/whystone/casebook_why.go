package main

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/phrase"
)

// kept takes the cases of the casebook out of a list of names.
func kept(names []string) (cases, files []string) {
	for _, n := range names {
		if strings.HasPrefix(n, judging.CasePrefix) && !strings.HasPrefix(n, judging.CasePrefix+"?") {
			cases = append(cases, n)
		} else {
			files = append(files, n)
		}
	}
	return cases, files
}

// whyEachTold shows what was told of the cases of the casebook, and returns the names of what nothing was told of.
func (s *session) whyEachTold(ctx context.Context, names []string) ([]string, error) {
	cases, rest := kept(names)
	for _, name := range cases {
		told, err := s.whyTold(ctx, name)
		if err != nil {
			return nil, err
		}
		if !told {
			s.err.Text(terminal.Plain, 0, "No verdict was issued on "+strings.TrimPrefix(name, judging.CasePrefix)+
				"; this is today's.")
			if err := write(s.err); err != nil {
				return nil, err
			}
			rest = append(rest, name)
		}
	}
	return rest, nil
}

// whyEachNow compares what was told of cases with today.
func (s *session) whyEachNow(ctx context.Context, names []string, asOf string, q *asked) error {
	cases, rest := kept(names)
	if len(rest) > 0 || q.count() > 0 {
		return usageError("--now compares what was told of cases of the casebook with today: name them as " +
			"case:NUMBER, and ask nothing else")
	}
	for _, name := range cases {
		if err := s.whyNow(ctx, name, asOf); err != nil {
			return err
		}
	}
	return nil
}

// whyTold shows what was told of a case, byte for byte. It returns false when nothing was.
func (s *session) whyTold(ctx context.Context, name string) (told bool, err error) {
	var texts [][]byte
	err = s.withCase(ctx, name, func(v casebook.View, st *casebook.State) error {
		last := st.Last()
		if last == nil {
			return nil
		}
		told = true
		hashes := []string{last.Told, last.Why}
		if s.json() {
			hashes = []string{last.Chain}
		}
		for _, hash := range hashes {
			b, err := casebook.Need(v, hash)
			if err != nil {
				return err
			}
			texts = append(texts, b)
		}
		return nil
	})
	if err != nil || !told {
		return told, err
	}
	_, err = s.stdout.Write(bytes.Join(texts, []byte("\n")))
	return true, err
}

// withCase opens the casebook for a look at one case.
func (s *session) withCase(ctx context.Context, name string, do func(casebook.View, *casebook.State) error) error {
	return s.look(ctx, func(v casebook.View) error {
		st, err := atVersion(v, strings.TrimPrefix(name, judging.CasePrefix))
		if err != nil {
			return err
		}
		return do(v, st)
	})
}

// whyNow compares what was told of a case with what would be told of it now.
func (s *session) whyNow(ctx context.Context, name, asOf string) error {
	j, err := s.judging(ctx, asOf)
	if err != nil {
		return err
	}
	var out *judging.Then
	err = s.withCase(ctx, name, func(v casebook.View, st *casebook.State) error {
		out, err = judging.Since(ctx, v, st, j)
		return err
	})
	if err != nil {
		return err
	}
	return s.tell(out, func() {
		s.tellSince(out)
		s.out.Blank()
		s.closing(j.Ruleset)
	})
}

// tellSince tells it.
func (s *session) tellSince(x *judging.Then) {
	p := s.out
	p.Text(terminal.Bold, 0, x.Case)
	p.Field("Told", terminal.Plain, x.Told.At[:10]+" by "+x.Told.By+", in version "+terminal.Count(x.Told.Version)+": "+
		x.Told.Says)
	p.Field("Now", terminal.Accent, x.Now.Says)
	if x.Parts == nil {
		p.Field("Reasoning", terminal.Plain, "the same, step by step")
	} else {
		p.Field("Parts at", terminal.Plain, "step "+terminal.Count(x.Parts.Step)+" of the reasoning")
		p.Field("then", terminal.Plain, phrase.InWords(cmp.Or(x.Parts.Was, "no further step")))
		p.Field("now", terminal.Plain, phrase.InWords(cmp.Or(x.Parts.Is, "no further step")))
	}
	p.Field("Case", terminal.Plain, x.Readings...)
	rules := slices.Clone(x.Rules)
	if len(rules) > mostRules {
		rules = append(rules[:mostRules], fmt.Sprintf("and %d more; --json has all", len(x.Rules)-mostRules))
	}
	if len(rules) == 0 && x.Old.Load {
		rules = []string{"no sheet differs"}
	}
	p.Field("Rules", terminal.Plain, rules...)
	p.Field("Rules of then", terminal.Plain, x.Old.Says)
}

// mostRules is how many sheets that differ are listed.
const mostRules = 12
