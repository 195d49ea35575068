package coverage_test

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/engine/coverage"
	"whystone/kb/diag"
)

func run(tb testing.TB, e *engine.Engine, workers int, paths ...string) *coverage.Report {
	tb.Helper()
	r, err := coverage.Run(tb.Context(), e, archive.Input{Paths: paths}, coverage.Options{Workers: workers, AsOf: asOf})
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

func write(tb testing.TB, text string) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "a.jsonl")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

func text(tb testing.TB, r *coverage.Report) string {
	tb.Helper()
	out, err := json.MarshalIndent(r, "", " ")
	if err != nil {
		tb.Fatal(err)
	}
	return string(out)
}

// TestAnyNumberOfWorkers: one and four come to the same bytes as a plain loop.
func TestAnyNumberOfWorkers(t *testing.T) {
	e := build(t, odd)
	path := sample(t, e, 700, 3)
	one := text(t, run(t, e, 1, path))
	if got := text(t, run(t, e, 4, path)); got != one {
		t.Error("four workers come to other bytes")
	}
	k := coverage.NewCounter(e)
	for _, c := range read(t, e, archive.Input{Paths: []string{path}}) {
		k.Add(c, date(c))
	}
	r := k.Report(time.Time{})
	r.AsOf, r.AsOfFrom = "2031-06-01T12:00:00Z", "--as-of"
	if got := text(t, r); got != one {
		t.Error("a plain loop comes to other bytes")
	}
}

// TestUnreadRecords: the first of them are told, with the numbers that they have in the archive.
func TestUnreadRecords(t *testing.T) {
	e := prepared(t)
	path := write(t, strings.Repeat(strings.Repeat("{\"case\": \"A\"}\n", 14)+"nonsense\n", 25))
	for _, workers := range []int{1, 4} {
		r := run(t, e, workers, path)
		if r.Cases != 350 || r.Unreadable != 25 || len(r.Unread) != 20 {
			t.Fatalf("%d cases, %d unreadable, %d told", r.Cases, r.Unreadable, len(r.Unread))
		}
		for i, u := range r.Unread {
			if u.Number != int64(15*i+15) || u.Place != fmt.Sprintf("%s:%d", path, u.Number) || u.Says == "" {
				t.Errorf("%d workers: the record %d is %+v", workers, i, u)
			}
		}
	}
}

// TestCountsAddUp: each case is counted once for every rule, and once for every part of a rule in force.
func TestCountsAddUp(t *testing.T) {
	e := build(t, odd)
	r := run(t, e, 2, sample(t, e, 400, 5))
	if r.Cases != 400 {
		t.Fatalf("%d cases", r.Cases)
	}
	for _, x := range r.Rules {
		if n := x.Held + x.Failed + x.Undecided + x.NotInForce + x.Faults; n != r.Cases || x.Decided > x.Held {
			t.Errorf("%s: %+v is not %d", x.ID, x.Count, r.Cases)
		}
		for _, p := range x.Parts {
			if n := p.Held + p.Failed + p.Undecided; n != r.Cases-x.NotInForce || p.Decided > p.Held+p.Failed {
				t.Errorf("%s: %s: %+v is not %d", x.ID, p.Says, p.PartCount, r.Cases-x.NotInForce)
			}
		}
	}
}

// TestWorstFirst: never held, then never decided anything, then the rest; in each the rarest first, then by id.
func TestWorstFirst(t *testing.T) {
	e := build(t, odd)
	r := run(t, e, 2, sample(t, e, 300, 7))
	rank := func(x coverage.Rule) int {
		switch {
		case x.Held == 0:
			return 0
		case x.Decided == 0 && x.Status == "active":
			return 1
		}
		return 2
	}
	kinds := map[int]int{}
	for i, x := range r.Rules {
		kinds[rank(x)]++
		if i == 0 {
			continue
		}
		a := r.Rules[i-1]
		// the house's own come first
		house := func(r coverage.Rule) int { return slices.Index(e.Ruleset.Layers, r.Layer) }
		if order := cmp.Or(rank(a)-rank(x), house(x)-house(a), int(a.Held-x.Held),
			strings.Compare(a.ID, x.ID)); order >= 0 {
			t.Errorf("%s %+v stands before %s %+v", a.ID, a.Count, x.ID, x.Count)
		}
	}
	if kinds[0] == 0 || kinds[1] == 0 || kinds[2] == 0 {
		t.Errorf("the archive shows not all kinds: %v", kinds)
	}
	var found []string
	for _, d := range r.Findings {
		if d.Severity != diag.Note || d.Span.IsZero() || !diag.Known(d.Code) {
			t.Errorf("%+v", d)
		}
		found = append(found, string(d.Code))
	}
	if want := append(slices.Repeat([]string{"never-fired"}, kinds[0]),
		slices.Repeat([]string{"never-decides"}, kinds[1])...); !slices.Equal(found, want) {
		t.Errorf("found %v, want %v", found, want)
	}
}

const few = `format: 1
rules:
  - {rule: t-fault, says: Divides., source: a test, if: 'ri / (stone.carat - 1) > 1', cautions: [Divided.]}
  - {rule: t-fault-draft, status: draft, says: Divides., source: a test, if: 'ri / (stone.carat - 1) > 1', cautions: [Divided.]}
  - {rule: t-over, until: 2020-01-01, says: Is over., source: a test, if: stone.mounted, cautions: [Over.]}
  - {rule: t-alone, says: Shows something., source: a test, if: stone.mounted, unless: stone.wet, cautions: [Alone.]}
  - {rule: t-draft, status: draft, says: A draft., source: a test, if: stone.mounted, cautions: [Nobody hears this.]}
  - {rule: t-called, says: Calls., source: a test, if: stone.mounted, calls_for: [dichroscope]}
`

// TestFewCases pins what is counted of each kind of rule, by hand.
func TestFewCases(t *testing.T) {
	e := build(t, few)
	r := run(t, e, 2, write(t, `{"case": "1", "stone": {"mounted": true, "wet": false, "carat": 1}, "readings": {"ri": 1.77}}
{"case": "2", "stone": {"mounted": true, "wet": true}, "readings": {"pleochroism": "none"}}
{"case": "3", "stone": {"mounted": false}, "taken": "2019-05-05T10:00:00Z"}
nonsense
{"case": "5", "readings": {"rii": 1}}
`))
	if r.Cases != 3 || r.Undated != 2 || r.Unreadable != 2 || r.Partial {
		t.Errorf("%d cases, %d undated, %d unreadable, partial %v", r.Cases, r.Undated, r.Unreadable, r.Partial)
	}
	if len(r.Unread) != 2 || r.Unread[0].Number != 4 || !strings.HasSuffix(r.Unread[1].Place, "a.jsonl:5") ||
		!strings.Contains(r.Unread[1].Says, `"ri"`) {
		t.Errorf("%+v", r.Unread)
	}
	want := map[string]coverage.Count{
		"t-fault":       {Undecided: 2, Faults: 1},
		"t-fault-draft": {Undecided: 2, Faults: 1},
		"t-over":        {Failed: 1, NotInForce: 2},
		"t-alone":       {Held: 1, Failed: 2, Decided: 1},
		"t-draft":       {Held: 2, Failed: 1},
		"t-called":      {Held: 2, Failed: 1, Decided: 1}, // the second stone was looked at already
	}
	for _, x := range r.Rules {
		if w, ok := want[x.ID]; ok && x.Count != w {
			t.Errorf("%s: %+v, want %+v", x.ID, x.Count, w)
		}
		if x.ID != "t-alone" {
			continue
		}
		parts := []coverage.PartCount{{Held: 2, Failed: 1, Decided: 2}, {Held: 1, Failed: 1, Undecided: 1, Decided: 2}}
		if len(x.Parts) != 2 || x.Parts[0].PartCount != parts[0] || x.Parts[1].PartCount != parts[1] {
			t.Errorf("parts %+v, want %+v", x.Parts, parts)
		}
		if p := x.Parts[1]; p.Says != "stone.wet" || p.Key != "unless" || p.File != "above-0.yaml" || p.Line != 6 ||
			p.Column != 88 {
			t.Errorf("the exception stands at %+v", p)
		}
	}
}

// TestTableRows: a row of a table is a rule, whose parts stand in its cells.
func TestTableRows(t *testing.T) {
	e := build(t, odd)
	for _, x := range coverage.NewCounter(e).Report(time.Time{}).Rules {
		if x.ID != "odd-table-dense" {
			continue
		}
		var got []string
		for _, p := range x.Parts {
			got = append(got, fmt.Sprintf("%s at %s:%d:%d", p.Says, p.File, p.Line, p.Column))
		}
		want := []string{"specific_gravity > 5.5 at above-0.yaml:15:41",
			"3.4 <= specific_gravity at above-0.yaml:15:52", "specific_gravity < 3.6 at above-0.yaml:15:52",
			"stone.mounted at above-0.yaml:15:80"}
		if x.File != "above-0.yaml" || x.Line != 15 || !slices.Equal(got, want) {
			t.Errorf("%s:%d: %q", x.File, x.Line, got)
		}
		return
	}
	t.Error("the row is no rule")
}

// TestPlaces: the file has at each place what is said to stand there.
func TestPlaces(t *testing.T) {
	e := prepared(t)
	sources := map[string]*diag.Source{}
	for _, f := range e.Ruleset.Files {
		sources[f.Source.Name] = f.Source
	}
	seen := 0
	for _, x := range coverage.NewCounter(e).Report(time.Time{}).Rules {
		for _, p := range x.Parts {
			s := sources[p.File]
			if s == nil {
				t.Fatalf("%s: there is no file %q", x.ID, p.File)
			}
			at := string(s.Text[s.Offset(p.Line, p.Column):])
			if flat := strings.Join(strings.Fields(at), " "); !strings.HasPrefix(flat, p.Says) {
				t.Errorf("%s: at %s:%d:%d stands %.40q, not %q", x.ID, p.File, p.Line, p.Column, at, p.Says)
			}
			seen++
		}
	}
	if seen < len(e.Ruleset.Order) {
		t.Errorf("only %d parts", seen)
	}
}

func TestCancelled(t *testing.T) {
	e := prepared(t)
	path := sample(t, e, 1500, 9)
	ctx, cancel := context.WithCancel(t.Context())
	last := int64(0)
	r, err := coverage.Run(ctx, e, archive.Input{Paths: []string{path}},
		coverage.Options{Workers: 1, AsOf: asOf, Progress: func(n int64) {
			if last = n; n >= 128 {
				cancel()
			}
		}})
	if !errors.Is(err, context.Canceled) || r == nil || !r.Partial || r.Cases != last || r.Cases < 128 ||
		r.Cases >= 1500 {
		t.Errorf("%v, %+v, told %d", err, r, last)
	}
}

func TestNothingToRead(t *testing.T) {
	e := prepared(t)
	if r := run(t, e, 2, write(t, "")); r.Cases != 0 || len(r.Findings) != 0 || len(r.Rules) != len(e.Ruleset.Order) {
		t.Errorf("%d cases, %d findings, %d rules", r.Cases, len(r.Findings), len(r.Rules))
	}
	r, err := coverage.Run(t.Context(), e, archive.Input{Paths: []string{"no-such-file.jsonl"}},
		coverage.Options{AsOf: asOf})
	if err == nil || !r.Partial {
		t.Errorf("%v, %+v", err, r)
	}
}
