// Package proofread finds mistakes in a ruleset that loads: rules that can never fire, that say what another says, that
// pull a material both ways on the same reading, that exclude a material whose own sheet says it belongs; parts of
// conditions that decide nothing; facts that nobody reads; examples that don't come out; tables with gaps and overlaps.
//
// What conditions can be true of is decided by [whystone/kb/sat]. Where a finding is that something can happen, it
// comes with a [Witness]: a case, written as a person would write it, that was read back and run through the rules and
// shows the defect. A finding without a witness that needs one is not made; what could not be analysed is listed
// instead.
//
// There is one list of checks and one order of findings, whoever asks: the command line, a ruleset that follows its
// files, a page. A finding may be accepted on the sheet that it is about, with a reason and for a time; it is then told
// as accepted, and comes back when the time is over.
//
// The kinds of defect are those of Preece, Shinghal and Batarekh, "Principles and practice in verifying rule-based
// systems", 1992 (from memory): redundancy, ambivalence, circularity (which does not load) and deficiency.
package proofread

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/sat"
)

// Finding is one thing that was found.
type Finding struct {
	diag.Diagnostic
	Sheets   []Sheet // that it concerns; the first is the one that it is about
	Witness  *Witness
	Accepted *kb.Acceptance // it is known, and stays for a time
}

// Sheet names a sheet of the ruleset.
type Sheet struct {
	Kind string `json:"kind"` // rule, material, test, table
	ID   string `json:"id"`
}

// Report is what was found.
type Report struct {
	Findings []Finding // in the order of the files
	Rules    int       // that were looked at
	On       time.Time
}

// Options are what the checks go by.
type Options struct {
	On     time.Time // dates examples that have no date of their own, and acceptances
	Loaded diag.List // what loading the ruleset warned of
	Lacks  []string  // tests that the house has no instrument for
}

// Check is one kind of looking, with the codes that it alone makes findings of. A check is a file: it says what it
// finds, registers itself, and looks. Those that need more than a ruleset are in the packages that have it.
type Check struct {
	// checks look in rising order, as they share what may be looked at; the order of findings does not depend on it
	Order int
	Finds []diag.Code
	Look  func(*Pass) // nil: only an archive's cases can show it, and coverage does
}

// last is the order of what tells of the checks before it.
const last = 1000

// checks is all of them, in order.
var checks []Check

// Register puts a check in. A package calls it from init; no two checks have one order.
func Register(c Check) {
	i, taken := slices.BinarySearchFunc(checks, c.Order, func(x Check, at int) int { return cmp.Compare(x.Order, at) })
	if taken {
		panic(fmt.Sprintf("two checks have the order %d", c.Order))
	}
	checks = slices.Insert(checks, i, c)
}

// Pass is one going through of a ruleset.
type Pass struct {
	Ruleset *kb.Ruleset
	On      time.Time
	Lacks   []string // tests that the house has no instrument for
	ctx     context.Context
	space   *sat.Space
	run     *eval.Run
	looks   *looks
	atoms   map[kb.Atom]int // what rules rest on, numbered
	layers  map[string]int  // by name, from the lowest
	subject []*kb.Rule      // what is being looked at
	doubts  map[*kb.Rule]*doubt
	unsure  map[*kb.Table]reason
	found   []Finding
}

// budget is how many literals all searches of a pass may look at together, and what each rule adds: some ten seconds.
// Sound rulesets take a hundredth of it.
const (
	budget      = 1 << 24
	budgetARule = 1 << 13
)

func newPass(ctx context.Context, rs *kb.Ruleset, on time.Time) *Pass {
	p := &Pass{Ruleset: rs, On: on, ctx: ctx, space: sat.NewSpace(rs), run: eval.New(rs), looks: newLooks(rs),
		atoms: map[kb.Atom]int{}, layers: map[string]int{}, doubts: map[*kb.Rule]*doubt{},
		unsure: map[*kb.Table]reason{}}
	for i, l := range rs.Layers {
		p.layers[l] = i
	}
	p.space.Bound(budget+budgetARule*len(rs.Order), p.over)
	return p
}

// Run makes all checks. It fails only when the context ends.
func Run(ctx context.Context, rs *kb.Ruleset, o Options) (*Report, error) {
	p := newPass(ctx, rs, o.On)
	p.Lacks = o.Lacks
	for _, d := range o.Loaded {
		p.Add(Finding{Diagnostic: d, Sheets: []Sheet{}})
	}
	for _, c := range checks {
		if c.Look != nil {
			c.Look(p)
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	p.accept()
	place := p.places()
	slices.SortStableFunc(p.found, func(a, b Finding) int {
		return cmp.Or(place[a.Span.Source]-place[b.Span.Source], a.Span.Start-b.Span.Start, cmp.Compare(a.Code, b.Code),
			strings.Compare(a.Summary, b.Summary))
	})
	return &Report{Findings: p.found, Rules: len(rs.Order), On: o.On}, nil
}

// places numbers the files in the order of layers and names; what stands nowhere comes first.
func (p *Pass) places() map[*diag.Source]int {
	out := map[*diag.Source]int{}
	for i, f := range p.Ruleset.Files {
		out[f.Source] = i + 1
	}
	return out
}

// later tells which of two rules a finding about both is told of: the one of the higher layer, which is its author's to
// change, else the one with the later id. The place in a file must not matter.
func (p *Pass) later(a, b *kb.Rule) bool { return p.byLayer(a, b) > 0 }

func (p *Pass) byLayer(a, b *kb.Rule) int {
	return cmp.Or(p.layer(a)-p.layer(b), strings.Compare(a.ID, b.ID))
}

func (p *Pass) layer(r *kb.Rule) int { return p.layers[r.Place.Layer] }

// rules goes through the rules, noting which is being looked at, until the checking should end.
func (p *Pass) rules(yield func(*kb.Rule) bool) {
	for _, r := range p.Ruleset.Order {
		if p.over() {
			return
		}
		if p.asking(r); !yield(r) {
			return
		}
	}
}

// Context is that of the proofreading.
func (p *Pass) Context() context.Context { return p.ctx }

// over tells whether the checking should end.
func (p *Pass) over() bool { return p.ctx.Err() != nil }

// Add takes in a finding.
func (p *Pass) Add(f Finding) { p.found = append(p.found, f) }

func sheetOfRule(r *kb.Rule) Sheet { return Sheet{"rule", r.ID} }

// about makes a finding about a rule, at one of its keys.
func (p *Pass) about(r *kb.Rule, key string, d diag.Diagnostic, others ...*kb.Rule) *Finding {
	if d.Span.IsZero() {
		d.Span = r.At(key)
	}
	p.Add(Finding{Diagnostic: d, Sheets: english.Each(append([]*kb.Rule{r}, others...), sheetOfRule)})
	return &p.found[len(p.found)-1]
}

// warn warns of something about a rule, at one of its keys; the rest is for the caller to fill in. The finding is good
// until the next is made.
func (p *Pass) warn(r *kb.Rule, key string, code diag.Code, format string, args ...any) *Finding {
	return p.about(r, key, warning(code, diag.Span{}, format, args...))
}

// warnOf warns of something about a sheet that is no rule's, as warn does.
func (p *Pass) warnOf(s Sheet, at diag.Span, code diag.Code, format string, args ...any) *Finding {
	p.Add(Finding{Diagnostic: warning(code, at, format, args...), Sheets: []Sheet{s}})
	return &p.found[len(p.found)-1]
}

func warning(code diag.Code, at diag.Span, format string, args ...any) diag.Diagnostic {
	return diag.Diagnostic{Code: code, Severity: diag.Warning, Span: at, Summary: fmt.Sprintf(format, args...)}
}

// related points to some rules beside the one that a finding is about.
func related(says string, rules []*kb.Rule) []diag.Related {
	return english.Each(rules, func(r *kb.Rule) diag.Related { return diag.Related{Span: r.Place.Span, Says: says} })
}

// besides names the others of a list: what may have been meant.
func besides[T comparable](list []T, one T, name func(T) string) []string {
	return english.Each(slices.DeleteFunc(slices.Clone(list), func(x T) bool { return x == one }), name)
}

// Open lists what is neither accepted nor, unless it is asked for, a mere note.
func (r *Report) Open(notes bool) []Finding {
	return slices.DeleteFunc(slices.Clone(r.Findings), func(f Finding) bool {
		return f.Accepted != nil || !notes && f.Severity == diag.Note
	})
}
