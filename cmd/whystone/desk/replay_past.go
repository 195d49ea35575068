package desk

import (
	"encoding/json"
	"slices"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/kb"
	"whystone/kb/load"
)

// pastRules is a ruleset of before, by which that of now can be compared.
type pastRules struct {
	Digest, Says string
	verdict      *casebook.Verdict // by whose files it can be made anew; nil where the desk still has it
}

// mostLookedThrough is how many of the newest cases are looked through for rulesets of before.
const mostLookedThrough = 200

// pastRules lists the rulesets that were live since the desk was opened, and those by which verdicts on the newest
// cases were issued.
func (a *asked) pastRules() ([]pastRules, error) {
	seen := map[string]bool{a.ruleset().Digest: true}
	var out []pastRules
	add := func(digest, says string, v *casebook.Verdict) {
		if !seen[digest] {
			seen[digest] = true
			out = append(out, pastRules{digest, kb.ShortDigest(digest) + ", " + says, v})
		}
	}
	for _, s := range slices.Backward(a.desk.past.all()) {
		add(s.Ruleset.Digest, "live before", nil)
	}
	err := a.desk.Book.Read(a.Context(), func(v casebook.View) error {
		looked := 0
		for e, err := range v.Find(casebook.Terms{}) {
			if looked++; err != nil || looked > mostLookedThrough {
				return err
			}
			var sum casebook.Summary
			if json.Unmarshal(e.Summary, &sum) != nil || sum.Verdict == "" {
				continue
			}
			st, err := casebook.Load(v, e.Number)
			if err != nil {
				return err
			}
			for _, told := range slices.Backward(st.Verdicts) {
				add(told.Ruleset, "by which "+st.Number+" was issued, "+terminal.Moment(told.Event.At), told.Verdict)
			}
		}
		return nil
	})
	return out, err
}

// rulesOf prepares the ruleset of before that a form names, and says which it is.
func (a *asked) rulesOf(f *replayForm) (e *engine.Engine, says string, err error) {
	var verdict *casebook.Verdict
	if f.Against != "" {
		if s := a.desk.past.find(func(s *snapshot) bool { return s.Ruleset.Digest == f.Against }); s != nil {
			return s.Prepared.first.Engine, "the rules of before, " + kb.ShortDigest(f.Against), nil
		}
		list, err := a.pastRules()
		if err != nil {
			return nil, "", err
		}
		i := slices.IndexFunc(list, func(p pastRules) bool { return p.Digest == f.Against })
		if i < 0 {
			return nil, "", wrong("There is no such ruleset any more; choose another.")
		}
		verdict = list[i].verdict
	}
	err = a.desk.Book.Read(a.Context(), func(v casebook.View) error {
		if verdict == nil {
			st, err := casebook.Find(v, f.Case)
			if err != nil {
				return err
			}
			last := st.Last()
			if last == nil {
				return wrong("No verdict was issued on %s, so no ruleset was kept with it.", st.Number)
			}
			verdict = last.Verdict
		}
		e, err = rebuilt(v, verdict)
		return err
	})
	if err != nil {
		return nil, "", notDone(err)
	}
	return e, "the rules that were kept, " + kb.ShortDigest(verdict.Ruleset), nil
}

// notDone tells what keeps a form from being taken; what is no matter of the form stays as it is.
func notDone(err error) error {
	if _, is := isProblem(err); is || outside(err) {
		return err
	}
	return wrong("%s.", err)
}

// rebuilt is the ruleset by which a verdict was issued, made anew of the files that were kept with it.
func rebuilt(v casebook.View, verdict *casebook.Verdict) (*engine.Engine, error) {
	if verdict.Method != kb.ArithmeticVersion {
		return nil, wrong("That verdict was told by method %d, and this program judges by method %d: the two can't "+
			"be compared.", verdict.Method, kb.ArithmeticVersion)
	}
	files, err := casebook.Files(v, verdict)
	if err != nil {
		return nil, err
	}
	rs, list := load.Build(files)
	if rs == nil {
		return nil, unfit("The rules of then can't be used by this program any more.", list)
	}
	return engine.Prepare(rs), nil
}
