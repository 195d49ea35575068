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
	"whystone/kb/english"
	"whystone/kb/logic"
)

// outcome is one case judged by one ruleset, and what that is worth.
type outcome struct {
	Answers // that it adds to: each is 0 or 1
	class   engine.Class
	answer  engine.Answer // to the claim
	claimIs int           // false: -1, true: 1; 0: the truth is not known, or does not settle it
	truth   string        // its topmost nameable node; empty: not known
	said    string        // the named node's topmost nameable node, or the class
	share   float64       // of the likeliest topmost nameable node; 0: there is none, or the truth is not known
	hit     bool          // that one is true
}

// worth tells what the decision at hand is worth against the truth, which is nil when it is not known.
func (s *side) worth(known *kb.Material) outcome {
	d := &s.d
	o := outcome{class: d.Class, answer: d.Claim.Answer, said: d.Class.String()}
	o.Cases = 1
	if d.Named != nil {
		o.said = top(d.Named).ID
	}
	if o.answer != engine.NoClaim {
		o.Claimed = 1
	}
	if o.answer == engine.Open {
		o.Open = 1
	}
	if known == nil {
		return o
	}
	o.Known, o.truth = 1, top(known).ID
	if best, share := s.judge.Likeliest(); best != nil {
		o.share, o.hit = share, known.Under(best) || best.Under(known)
	}
	if d.Named != nil {
		o.Named = 1
		if !d.Named.Under(known) && !known.Under(d.Named) {
			o.NamedWrongly = 1
		}
	}
	o.claim(&d.Claim, known)
	return o
}

// claim tells whether what was claimed is true, and was answered wrongly. A truth that is a group settles no claim to
// less than all of it.
func (o *outcome) claim(a *engine.ClaimAnswer, known *kb.Material) {
	if a.Claim == nil {
		return
	}
	inside := 0
	for _, i := range known.Leaves {
		if _, ok := slices.BinarySearch(a.Claim.Leaves, i); ok {
			inside++
		}
	}
	groupTrue := a.Group != nil && known.Under(a.Group)
	groupFalse := a.Group != nil && !groupTrue && !a.Group.Under(known)
	switch inside {
	case len(known.Leaves):
		o.claimIs = 1
	case 0:
		o.claimIs, o.Imitations = -1, 1
	}
	if o.claimIs > 0 || groupTrue {
		o.TrueClaims = 1
	}
	if o.Imitations > 0 && a.Answer == engine.Stands || groupFalse && a.GroupAnswer == engine.Stands {
		o.FalseAccepted = 1
	}
	if o.claimIs > 0 && a.Answer == engine.Falls || groupTrue && a.GroupAnswer == engine.Falls {
		o.FalseRefused = 1
	}
}

// wrong are the lists that a decision is on for being wrong.
func (o *outcome) wrong() (lists []string) {
	if o.NamedWrongly > 0 {
		lists = append(lists, NamedWrongly)
	}
	if o.FalseAccepted > 0 {
		lists = append(lists, FalselyAccepted)
	}
	if o.FalseRefused > 0 {
		lists = append(lists, FalselyRefused)
	}
	return lists
}

func top(m *kb.Material) *kb.Material {
	for n := m.NameableAbove(); n != nil; n = n.NameableAbove() {
		m = n
	}
	return m
}

// account is what is counted of a case.
type account struct {
	outcome
	desk, month, claim string
	tools              []string // each once
	recorded           string   // the verdict
	method             int      // by which that was reached, if by another
}

// account takes down what is counted of a case, as it was judged in its lane of the block.
func (w *worker) account(c *casefile.Case, on time.Time, lane int) *account {
	s, res := w.old, w.res
	res.cases = append(res.cases, account{outcome: s.worth(s.truths[c.Truth]), desk: clip(orNone(c.Desk), 100),
		month: w.month(on), claim: claimWord(c, s.d.Claim.Claim), recorded: c.Recorded.Verdict})
	k := &res.cases[len(res.cases)-1]
	for _, r := range c.Readings {
		if r.Instrument != "" && !slices.Contains(k.tools, r.Instrument) {
			k.tools = append(k.tools, r.Instrument)
		}
	}
	if c.Recorded.Method != s.engine.Ruleset.Method {
		k.method = c.Recorded.Method
	}
	for _, r := range s.d.FaultyRules {
		res.faults = append(res.faults, "the rule "+r.ID)
	}
	if len(k.wrong()) > 0 {
		res.behind = s.behind(res.behind, c, lane)
	}
	return k
}

// add counts what came of a chunk, of which rules are by their places in an order.
func (t *Tally) add(res *result, order []*kb.Rule) {
	t.Records, t.Judged = t.Records+res.records, t.Judged+int64(len(res.cases))
	t.Undated, t.Unusual = t.Undated+res.undated, t.Unusual+res.unusual
	for i := range res.cases {
		t.count(&res.cases[i])
	}
	for i := range res.pairs {
		t.Pair.count(&res.pairs[i])
	}
	for i, c := range res.rules {
		if c != (Coverage{}) { // a rule that was not looked at is not counted
			entry(t.Rules, order[i].ID).merge(&c)
		}
	}
	for _, rule := range res.faults {
		t.Faults[rule]++
	}
	for _, what := range res.behind {
		t.Behind[what]++
	}
	t.single(res.pinned, res.lists)
	t.fold()
}

// count adds one case.
func (t *Tally) count(k *account) {
	t.Verdicts[k.class.String()]++
	t.All.merge(&k.Answers)
	entry(t.Desks, k.desk).merge(&k.Answers)
	entry(t.Months, k.month).merge(&k.Answers)
	entry(t.Claims, k.claim).merge(&k.Answers)
	for _, tool := range k.tools {
		entry(t.Tools, tool).merge(&k.Answers)
	}
	k.score(&t.Scores, &t.Reliability)
	if k.truth != "" {
		count(t.Confusion, k.truth, k.said)
		if k.answer != engine.NoClaim {
			count(t.ClaimAnswers, k.claim, claimSays[k.claimIs+1][k.answer])
		}
	}
	switch {
	case k.recorded == "":
	case k.method != 0: // judged anew, and compared with nothing
		t.OtherMethod[methodName(k.method)]++
	default:
		count(t.Recorded, k.recorded, k.class.String())
	}
}

// score scores the share of the likeliest topmost nameable node against the truth.
func (o *outcome) score(scores *stats.Scores, curve *stats.Reliability) {
	if o.share > 0 {
		scores.Add(o.share, o.hit)
		curve.Add(o.share, o.hit)
	}
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
func claimWord(c *casefile.Case, known *kb.Claim) string {
	if c.Claim != "" && known == nil {
		return "(word not known)"
	}
	return orNone(strings.ToLower(c.Claim))
}

// claimSays is how it is written that a claim, whose truth is known, is false, not settled or true, and each answer.
var claimSays = func() (out [3][4]string) {
	for i, is := range [...]string{"false", "not settled", "true"} {
		for a := engine.NoClaim; a <= engine.Falls; a++ {
			out[i][a] = is + ", " + a.String()
		}
	}
	return out
}()

func orNone(s string) string {
	if s == "" {
		return "(none)"
	}
	return s
}

// methodName names a method of the arithmetic. There are few, whatever an archive says.
func methodName(n int) string {
	if n < 0 || n > 100 {
		return "an unknown method"
	}
	return fmt.Sprintf("method %d", n)
}

// cover counts what came of each rule in the lanes of the block that are not judged one by one.
func (s *side) cover(rules []Coverage) {
	lanes := s.block.Plain()
	for i := range rules {
		holds, fails := s.block.Counts(i)
		rules[i].merge(&Coverage{int64(holds), int64(fails), int64(lanes - holds - fails)})
	}
}

// coverOne counts what came of each rule in the case that was judged last.
func (s *side) coverOne(rules []Coverage) {
	s.judge.EachRule(func(r *kb.Rule, v logic.Value) {
		switch c := &rules[r.Turn]; v {
		case logic.Holds:
			c.Holds++
		case logic.Fails:
			c.Fails++
		default:
			c.Undecided++
		}
	})
}

// behind adds what stands behind an error in a case.
func (s *side) behind(out []string, c *casefile.Case, lane int) []string {
	for i, r := range s.engine.Ruleset.Order {
		is := s.block.Truth(i, lane)
		if s.block.Odd(lane) {
			is = s.judge.Truth(r)
		}
		if is == logic.Holds && r.Status == kb.Active && mayMislead(r) {
			out = append(out, "rule "+r.ID)
		}
	}
	for _, r := range c.Readings {
		if r.Usable() {
			out = append(out, "reading "+r.Observable.Name)
		}
	}
	return out
}

// mayMislead tells whether a rule that holds can stand behind an error: it weighs, it excludes, or on a condition it
// sets readings aside. One that always sets the same aside is behind no case more than another.
func mayMislead(r *kb.Rule) bool {
	return r.Excludes != nil || len(r.Weights) > 0 || r.If != nil && len(r.SetsAside) > 0
}

// both is a case judged by both rulesets.
type both struct {
	was, is outcome
	lists   []string // that it belongs on for what changes
}

// changes tells the lists that a case belongs on for what changes from the old ruleset to the new.
func (w *worker) changes(was, is *outcome) (lists []string) {
	a, b := &w.old.d, &w.new.d
	switch {
	case !diff.SameAnswers(a, b):
		lists = append(lists, Changed)
	case !math.IsNaN(a.Share) && math.Abs(a.Share-b.Share) > w.config.Threshold:
		lists = append(lists, Moved)
	}
	wasWrong, isWrong := len(was.wrong()) > 0, len(is.wrong()) > 0
	switch {
	case was.Known == 0 || is.Known == 0: // an id that one of them doesn't have settles nothing
	case wasWrong && !isWrong:
		lists = append(lists, WrongToRight)
	case !wasWrong && isWrong:
		lists = append(lists, RightToWrong)
	}
	return lists
}

// count adds a case.
func (p *Pair) count(k *both) {
	p.New.merge(&k.is.Answers)
	k.is.score(&p.Scores, &p.Reliability)
	if k.was.Known > 0 && k.is.Known > 0 {
		p.Known++
	}
	count(p.Verdicts, k.was.class.String(), k.is.class.String())
	count(p.Answers, answerText(k.was.answer), answerText(k.is.answer))
	for _, name := range k.lists {
		switch name {
		case Changed:
			p.Changed++
		case Moved:
			p.Moved++
		case WrongToRight:
			p.WrongToRight++
		case RightToWrong:
			p.RightToWrong++
		}
	}
}

func answerText(a engine.Answer) string {
	if a == engine.NoClaim {
		return noClaim
	}
	return a.String()
}

const noClaim = "no claim"

// verdictText names what of a decision counts as a change (diff.SameAnswers), by ids for programs.
func verdictText(d *engine.Decision) string {
	nodes := d.Nodes
	if d.Named != nil {
		nodes = append([]*kb.Material{d.Named}, nodes...)
	}
	out := d.Class.String()
	for _, m := range nodes {
		out += " " + phrase.ID(m)
	}
	return out + besides(d)
}

// verdictSays tells people the same, by names.
func verdictSays(d *engine.Decision) string {
	out := d.Class.String()
	if d.Named != nil {
		out += " as " + phrase.Node(d.Named, d.Colours)
	}
	if len(d.Nodes) > 0 {
		out += " to " + english.List(phrase.Nodes(d.Nodes, d.Colours), "or")
	}
	return out + besides(d)
}

// besides is what counts as a change besides the verdict.
func besides(d *engine.Decision) (out string) {
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
