package desk

import (
	"context"
	"slices"
	"time"

	"whystone/cmd/whystone/users"
	"whystone/engine/picture"
	"whystone/kb"
	"whystone/kb/proofread"
	"whystone/kb/reload"
)

// pictureRoutes show what one would rather look at, and what the rules are that are live.
var pictureRoutes = []route{
	{"GET", "/cases/{number}/pictures", users.Look, of((*asked).explained, showPictures), ""},
	{"GET", "/ruleset", users.Look, showRuleset, "Ruleset"},
}

// picturesView is what the page of pictures shows.
type picturesView struct {
	*kept
	Pictures []*picture.Picture
}

func showPictures(_ *asked, k *kept) (*page, error) {
	v := &picturesView{k, []*picture.Picture{
		picture.OfCase(k.Rules.Ruleset, k.Case, k.Told.Explained).Draw(),
		picture.OfEvidence(k.Told.Explained).Draw(),
	}}
	return &page{Template: "pictures", Title: "Pictures: " + k.Number, View: v, Data: k.Told.Explained}, nil
}

// layerOf is a layer with what stands in it.
type layerOf struct {
	Name                             string
	Materials, Tests, Rules, Retired int
}

// rulesetView is what the page of the live ruleset shows.
type rulesetView struct {
	Ruleset  *kb.Ruleset
	Status   reload.Status
	Layers   []layerOf // the uppermost first
	Findings *proofread.Report
}

func showRuleset(a *asked) (*page, error) {
	rs := a.ruleset()
	v := &rulesetView{Ruleset: rs, Status: a.desk.live.Status(),
		Findings: a.desk.now().Prepared.proofread(a.desk.Now())}
	for _, name := range slices.Backward(rs.Layers) {
		l := layerOf{Name: name}
		for _, s := range rs.Sheets {
			switch {
			case s.Layer != name:
			case s.Retires:
				l.Retired++
			case s.Kind == kb.MaterialSheet || s.Kind == kb.GroupSheet:
				l.Materials++
			case s.Kind == kb.TestSheet:
				l.Tests++
			case s.Kind == kb.RuleSheet:
				l.Rules++
			}
		}
		v.Layers = append(v.Layers, l)
	}
	return &page{Template: "ruleset", Title: "Ruleset", View: v}, nil
}

// proofread is what proofreading finds in the ruleset. It takes as long as a hundred verdicts, so it is made once.
func (b *bench) proofread(on time.Time) *proofread.Report {
	b.proofreading.Do(func() {
		// the context does not end
		b.found, _ = proofread.Run(context.Background(), b.first.Ruleset, proofread.Options{On: on})
	})
	return b.found
}

// Open are the findings that nobody has accepted.
func (v *rulesetView) Open() []proofread.Finding {
	return slices.DeleteFunc(slices.Clone(v.Findings.Findings),
		func(f proofread.Finding) bool { return f.Accepted != nil })
}
