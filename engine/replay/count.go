package replay

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/diff"
	"whystone/engine/phrase"
	"whystone/engine/stats"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/logic"
)

// outcome is one case judged by one ruleset, and what that is worth.
type outcome struct {
	d         engine.Decision
	said      string // what was said: the named node's topmost nameable node, or the class
	known     bool   // the truth is known
	claimTrue bool   // the truth is known, and as claimed
	claimOpen bool   // the truth is known, and does not settle the claim: a group that holds more than is claimed
	wrong     []string
}

// judged tells what a decision on a case is worth against its truth; truth is nil when it is not known.
func judged(d *engine.Decision, known *kb.Material) outcome {
	o := outcome{d: *d, said: d.Class.String(), known: known != nil}
	if d.Named != nil {
		o.said = top(d.Named).ID
	}
	if known == nil {
		return o
	}
	if d.Named != nil && !d.Named.Under(known) && !known.Under(d.Named) {
		o.wrong = append(o.wrong, NamedWrongly)
	}
	c := d.Claim.Claim
	if c == nil {
		return o
	}
	inside := 0
	for _, i := range known.Leaves {
		if _, ok := slices.BinarySearch(c.Leaves, i); ok {
			inside++
		}
	}
	o.claimTrue, o.claimOpen = inside == len(known.Leaves), inside > 0 && inside < len(known.Leaves)
	groupTrue := d.Claim.Group != nil && known.Under(d.Claim.Group)
	switch {
	case o.claimOpen:
	case !o.claimTrue && d.Claim.Answer == engine.Stands:
		o.wrong = append(o.wrong, FalselyAccepted)
	case o.claimTrue && d.Claim.Answer == engine.Falls:
		o.wrong = append(o.wrong, FalselyRefused)
	}
	switch {
	case d.Claim.Group == nil:
	case !groupTrue && !d.Claim.Group.Under(known) && d.Claim.GroupAnswer == engine.Stands && !o.is(FalselyAccepted):
		o.wrong = append(o.wrong, FalselyAccepted)
	case groupTrue && d.Claim.GroupAnswer == engine.Falls && !o.is(FalselyRefused):
		o.wrong = append(o.wrong, FalselyRefused)
	}
	return o
}

// is tells whether the decision is wrong in this way.
func (o *outcome) is(wrong string) bool { return slices.Contains(o.wrong, wrong) }

func top(m *kb.Material) *kb.Material {
	for n := m.NameableAbove(); n != nil; n = n.NameableAbove() {
		m = n
	}
	return m
}

// claimFalse tells whether the truth is known and not what was claimed.
func (o *outcome) claimFalse(known *kb.Material) bool {
	return known != nil && o.d.Claim.Claim != nil && !o.claimTrue && !o.claimOpen
}

// count adds one case's outcome.
func (t *Tally) count(w *worker, c *casefile.Case, o *outcome, known *kb.Material, on time.Time, lane int) {
	t.Judged++
	t.Verdicts[o.d.Class.String()]++
	for _, r := range o.d.FaultyRules {
		t.Faults["the rule "+r.ID]++
	}
	for _, a := range t.groups(w, c, o, on) {
		a.add(o, known)
	}
	if known != nil {
		count(t.Confusion, top(known).ID, o.said)
		calibrate(w.judge, known, &t.Scores, &t.Reliability)
		if o.d.Claim.Answer != engine.NoClaim {
			count(t.ClaimAnswers, claimWord(c, o), claimSays[o.claimed()][o.d.Claim.Answer])
		}
	}
	t.recorded(w, c, o)
	if w.old.block.Odd(lane) {
		t.coverOne(w.judge)
	}
	if len(o.wrong) > 0 {
		t.behind(w, c, lane)
	}
}

// groups are the counters that a case belongs to.
func (t *Tally) groups(w *worker, c *casefile.Case, o *outcome, on time.Time) []*Answers {
	out := w.belongs[:0]
	out = append(out, &t.All, entry(t.Desks, clip(orNone(c.Desk), 100)), entry(t.Months, w.month(on)),
		entry(t.Claims, claimWord(c, o)))
	for _, r := range c.Readings {
		if r.Instrument == "" {
			continue
		}
		if tool := entry(t.Tools, r.Instrument); !slices.Contains(out, tool) {
			out = append(out, tool)
		}
	}
	w.belongs = out
	return out
}

// month is how a month is written: there are few.
func (w *worker) month(on time.Time) string {
	on = on.In(w.zone)
	year, month, _ := on.Date()
	at := year*12 + int(month)
	if w.months[at] == "" {
		w.months[at] = on.Format("2006-01")
	}
	return w.months[at]
}

// claimWord is the claim by which a case is counted. Whatever people write that the ruleset has no word for is counted
// as one, so that the table stays small.
func claimWord(c *casefile.Case, o *outcome) string {
	if c.Claim != "" && o.d.Claim.Claim == nil {
		return "(word not known)"
	}
	return orNone(strings.ToLower(c.Claim))
}

// Whether a claim is true, where the truth is known.
const (
	notSettled = iota
	claimTrue
	claimFalse
)

// claimSays is how each of these and each answer are written together.
var claimSays = func() (out [3][4]string) {
	for i, is := range [...]string{"not settled", "true", "false"} {
		for a := engine.NoClaim; a <= engine.Falls; a++ {
			out[i][a] = is + ", " + a.String()
		}
	}
	return out
}()

func (o *outcome) claimed() int {
	switch {
	case o.d.Claim.Claim == nil || o.claimOpen:
		return notSettled
	case o.claimTrue:
		return claimTrue
	}
	return claimFalse
}

func orNone(s string) string {
	if s == "" {
		return "(none)"
	}
	return s
}

func (a *Answers) add(o *outcome, known *kb.Material) {
	one := func(n *int64, yes bool) {
		if yes {
			*n++
		}
	}
	a.Cases++
	one(&a.Known, known != nil)
	one(&a.Claimed, o.d.Claim.Answer != engine.NoClaim)
	one(&a.Open, o.d.Claim.Answer == engine.Open)
	one(&a.Imitations, o.claimFalse(known))
	one(&a.TrueClaims, o.claimTrue)
	one(&a.Named, o.d.Named != nil)
	one(&a.NamedWrongly, o.is(NamedWrongly))
	one(&a.FalseAccepted, o.is(FalselyAccepted))
	one(&a.FalseRefused, o.is(FalselyRefused))
}

// calibrate scores the share of the likeliest topmost nameable node against the truth.
func calibrate(j *engine.Judge, known *kb.Material, scores *stats.Scores, curve *stats.Reliability) {
	best, share := j.Likeliest()
	if best == nil {
		return
	}
	hit := known.Under(best) || best.Under(known)
	scores.Add(share, hit)
	curve.Add(share, hit)
}

// recorded compares with what was said when the case was judged, if that was by the same method.
func (t *Tally) recorded(w *worker, c *casefile.Case, o *outcome) {
	r := &c.Recorded
	if r.Verdict == "" {
		return
	}
	if r.Method != 0 && r.Method != w.old.engine.Ruleset.Method {
		t.OtherMethod[methodName(r.Method)]++
		return
	}
	count(t.Recorded, r.Verdict, o.d.Class.String())
}

// methodName names a method of the arithmetic. There are few, whatever an archive says.
func methodName(n int) string {
	if n < 0 || n > 100 {
		return "an unknown method"
	}
	return fmt.Sprintf("method %d", n)
}

// cover counts what came of each rule in the lanes of a block that were not judged one by one.
func (t *Tally) cover(s *side) {
	lanes := s.block.Plain()
	for i, r := range s.engine.Ruleset.Order {
		holds, fails := s.block.Counts(i)
		t.came(r, holds, fails, lanes-holds-fails)
	}
}

// coverOne counts what came of each rule in the case that was judged last.
func (t *Tally) coverOne(j *engine.Judge) {
	j.EachRule(func(r *kb.Rule, v logic.Value) {
		switch v {
		case logic.Holds:
			t.came(r, 1, 0, 0)
		case logic.Fails:
			t.came(r, 0, 1, 0)
		default:
			t.came(r, 0, 0, 1)
		}
	})
}

func (t *Tally) came(r *kb.Rule, holds, fails, undecided int) {
	if holds+fails+undecided == 0 {
		return // a rule that was not looked at is not counted
	}
	c := entry(t.Rules, r.ID)
	c.Holds, c.Fails, c.Undecided = c.Holds+int64(holds), c.Fails+int64(fails), c.Undecided+int64(undecided)
}

// behind counts what stands behind an error.
func (t *Tally) behind(w *worker, c *casefile.Case, lane int) {
	for i, r := range w.old.engine.Ruleset.Order {
		is := w.old.block.Truth(i, lane)
		if w.old.block.Odd(lane) {
			is = w.judge.Truth(r)
		}
		if is == logic.Holds && r.Status == kb.Active && mayMislead(r) {
			t.Behind["rule "+r.ID]++
		}
	}
	for _, r := range c.Readings {
		if r.Usable() {
			t.Behind["reading "+r.Observable.Name]++
		}
	}
}

// mayMislead tells whether a rule that holds can stand behind an error: it weighs, it excludes, or on a condition it
// sets readings aside. One that always sets the same aside is behind no case more than another.
func mayMislead(r *kb.Rule) bool {
	return r.Excludes != nil || len(r.Weights) > 0 || r.If != nil && len(r.SetsAside) > 0
}

// compare counts what changes from the old ruleset to the new, and tells the lists that the case belongs on.
func (t *Tally) compare(was, is *outcome, threshold float64) (lists []string) {
	p := t.Pair
	if was.known && is.known {
		p.Known++
	}
	count(p.Verdicts, was.d.Class.String(), is.d.Class.String())
	count(p.Answers, answerText(&was.d), answerText(&is.d))
	switch {
	case !diff.SameAnswers(&was.d, &is.d):
		p.Changed++
		lists = append(lists, Changed)
	case !math.IsNaN(was.d.Share) && math.Abs(was.d.Share-is.d.Share) > threshold:
		p.Moved++
		lists = append(lists, Moved)
	}
	switch {
	case !was.known || !is.known: // an id that one of them doesn't have settles nothing
	case len(was.wrong) > 0 && len(is.wrong) == 0:
		p.WrongToRight++
		lists = append(lists, WrongToRight)
	case len(was.wrong) == 0 && len(is.wrong) > 0:
		p.RightToWrong++
		lists = append(lists, RightToWrong)
	}
	return lists
}

func answerText(d *engine.Decision) string {
	if d.Claim.Answer == engine.NoClaim {
		return noClaim
	}
	return d.Claim.Answer.String()
}

const noClaim = "no claim"

// verdictText names what of a decision counts as a change (diff.SameAnswers).
func verdictText(d *engine.Decision) string {
	parts := []string{d.Class.String()}
	if d.Named != nil {
		parts = append(parts, phrase.ID(d.Named))
	}
	for _, n := range d.Nodes {
		parts = append(parts, phrase.ID(n))
	}
	out := strings.Join(parts, " ")
	if d.NotListed != engine.Listed {
		out += ", perhaps not on the list"
	}
	if len(d.KeptBack) > 0 {
		out += ", a name kept back"
	}
	if d.Claim.Answer != engine.NoClaim {
		out += ", claim " + d.Claim.Answer.String()
	}
	if d.Claim.GroupAnswer != engine.NoClaim {
		out += ", group " + d.Claim.GroupAnswer.String()
	}
	return out
}
