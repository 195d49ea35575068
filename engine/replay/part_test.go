package replay

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
)

// TestCheckpointGoesOn kills a run after its first checkpoint, reads that back, and compares with a run in one go.
func TestCheckpointGoesOn(t *testing.T) {
	e := loaded(t, nil)
	c := Config{Engine: e, Input: archive.Input{Paths: []string{sample(t, e, 1600, 7)}}, AsOf: asOf, Workers: 2}
	whole, err := Run(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	want := text(t, whole)

	ctx, cancel := context.WithCancel(context.Background())
	first := c
	var kept bytes.Buffer
	first.Follow(0, time.Now, func(p *Part) error {
		if kept.Len() > 0 {
			return nil
		}
		cancel()
		return p.Write(&kept)
	})
	partial, err := Run(ctx, first)
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("err %v", err)
	}
	if partial.Tally.Records == 0 || !partial.Partial {
		t.Error("the partial report is empty, or does not say that it is partial")
	}
	checkpoint := func() *Part {
		p, err := ReadPart(kept.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	p := checkpoint()
	if !p.Partial || !strings.Contains(p.Summary(), "interrupted") {
		t.Error("the checkpoint does not say that it is partial")
	}
	second := c
	if err := p.Resume(&second); err != nil {
		t.Fatal(err)
	}
	rest, err := Run(context.Background(), second)
	if err != nil {
		t.Fatal(err)
	}
	if got := text(t, rest); !bytes.Equal(got, want) {
		t.Error("resumed it gives other bytes")
	}

	other := c
	other.Threshold = 0.5
	if err := checkpoint().Resume(&other); err == nil {
		t.Error("a checkpoint of another replay was taken")
	}

	// A case in the middle of what was counted is corrected; the archive is as long as it was.
	raw, err := os.ReadFile(c.Paths[0])
	if err != nil {
		t.Fatal(err)
	}
	corrected := bytes.Replace(raw, []byte("S-0000100"), []byte("S-0000X00"), 1)
	if err := os.WriteFile(c.Paths[0], corrected, 0o600); err != nil {
		t.Fatal(err)
	}
	third := c
	former := checkpoint()
	former.Archives[0].Digest = "0123"
	if err := former.Resume(&third); err == nil || !strings.Contains(err.Error(), "another version") {
		t.Errorf("a checkpoint of another version: %v", err)
	}
	if err := checkpoint().Resume(&third); err != nil {
		t.Fatal(err)
	}
	if _, err := Run(context.Background(), third); err == nil || !strings.Contains(err.Error(),
		"sample.jsonl has changed") {
		t.Errorf("a corrected archive: %v", err)
	}
	// One of what was not yet counted makes no difference to what was.
	corrected = bytes.Replace(raw, []byte("S-0001600"), []byte("S-0001X00"), 1)
	if err := os.WriteFile(c.Paths[0], corrected, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := checkpoint().Resume(&third); err != nil {
		t.Fatal(err)
	}
	resumed, err := Run(context.Background(), third)
	if err != nil {
		t.Fatal(err)
	}
	anew, err := Run(context.Background(), c)
	if err != nil || !bytes.Equal(text(t, resumed), text(t, anew)) || bytes.Equal(text(t, anew), want) {
		t.Errorf("an archive corrected behind what was counted gives other bytes, or the same as before; %v", err)
	}
	if err := os.Remove(c.Paths[0]); err != nil {
		t.Fatal(err)
	}
	if err := checkpoint().Resume(&third); err != nil {
		t.Fatal(err)
	}
	if _, err := Run(context.Background(), third); err == nil {
		t.Error("an archive that is gone was gone on with")
	}
}

// TestMergedParts: two archives replayed apart and merged are both replayed together.
func TestMergedParts(t *testing.T) {
	e, other := loaded(t, nil), loaded(t, lessSure)
	a, b := sample(t, e, 700, 8), sample(t, e, 500, 9)
	part := func(paths ...string) *Part {
		c := Config{Engine: e, Against: other, Input: archive.Input{Paths: paths}, AsOf: asOf, Threshold: 0.01}
		run, err := Run(context.Background(), c)
		if err != nil {
			t.Fatal(err)
		}
		p, err := ReadPart(text(t, run))
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	merged, err := Merge([]*Part{part(a), part(b)})
	if err != nil {
		t.Fatal(err)
	}
	whole := part(a, b)
	if !bytes.Equal(text(t, merged.Tally), text(t, whole.Tally)) {
		t.Error("merged parts give other bytes")
	}
	stranger := part(a)
	stranger.Against = "sha256:other"
	if _, err := Merge([]*Part{part(b), stranger}); err == nil {
		t.Error("unlike rulesets were merged")
	}
	if _, err := Merge(nil); err == nil {
		t.Error("nothing was merged")
	}
}

func TestPartsThatCantBeRead(t *testing.T) {
	for _, raw := range []string{"", "{}", "null", "[]", `{"format":2,"kind":"replay","tally":{}}`,
		`{"format":1,"kind":"other","tally":{}}`,
		`{"format":1,"kind":"replay","tally":{},"conditions":["at most 0 right to wrong"]}`,
		`{"format":1,"kind":"replay","tally":{"claims":{"diamond":null}}}`,
		`{"format":1,"kind":"replay","tally":{"lists":{"changed":null}}}`,
		`{"format":1,"kind":"replay","tally":{"pinned":{"A":null}}}`,
		`{"format":1,"kind":"replay","tally":{"rules":{"r":null}}}`, `{"format":1,"kind":"replay","tally":{}} {}`} {
		if _, err := ReadPart([]byte(raw)); err == nil {
			t.Errorf("%q was read", raw)
		}
	}
}

// check checks one condition.
func check(t *testing.T, condition string, p *Part) (bool, string) {
	t.Helper()
	gate, l := Gate([]string{condition})
	if len(gate) != 1 {
		t.Fatalf("%q: %v", condition, l)
	}
	return gate[0].Check(p)
}

func TestGate(t *testing.T) {
	tally := newTally(true)
	tally.Records, tally.Judged = 202, 200
	tally.Pair.Changed, tally.Pair.RightToWrong, tally.Pair.Known, tally.Pair.New.Imitations = 3, 1, 90, 40
	tally.Pair.Answers = map[string]map[string]int64{"open": {"open": 40, "falls": 2},
		"falls": {"open": 6, "falls": 52}, "no claim": {"no claim": 100}}
	tally.Pinned = map[string]*Pin{"P-1": {Seen: 1, Changed: 1}, "P-2": {Seen: 1}}
	for text, want := range map[string]bool{
		"no new false acceptance": true, "no pinned case changed": false, "nothing not replayable": true,
		"open rate may rise by at most 4 percentage points":   true,
		"open rate may rise by at most 3.9 percentage points": false,
		"at most 1 right to wrong":                            true, "At most 0  right to wrong": false,
		"at most 1.5 percent changed": true, "at most 1.4 percent changed": false,
	} {
		if ok, says := check(t, text, &Part{Tally: tally}); ok != want {
			t.Errorf("%q: %v (%s)", text, ok, says)
		}
		if ok, says := check(t, text, &Part{Tally: tally, Partial: true}); ok ||
			!strings.HasSuffix(says, "; the replay was interrupted") {
			t.Errorf("interrupted, %q: %v (%s)", text, ok, says)
		}
	}
	// Of 200 cases the new ruleset could not read 100, so that 3 of 100 changed.
	tally.Lists[NotByNew] = &List{Count: 100}
	if ok, says := check(t, "at most 2.9 percent changed", &Part{Tally: tally}); ok ||
		says != "3 of 100 changed, 3.00 percent" {
		t.Errorf("%v, %s", ok, says)
	}
	if gate, l := Gate([]string{"no new false acceptence"}); len(gate) != 0 || !l.HasErrors() ||
		l[0].Nearest != "no new false acceptance" {
		t.Errorf("%v, %v", gate, l)
	}
}

// FuzzGate: a sentence is a condition, whatever its case and spaces, or an error that names those there are.
func FuzzGate(f *testing.F) {
	for _, c := range conditionForms {
		f.Add(c.says)
	}
	f.Add("at most 99999999999999999999999999 percent changed")
	f.Fuzz(func(t *testing.T, text string) {
		gate, l := Gate([]string{text})
		if len(gate)+len(l) != 1 || l.HasErrors() && !strings.Contains(l[0].Detail, "no new false acceptance") {
			t.Fatalf("%q: %v, %v", text, gate, l)
		}
		if len(gate) == 1 {
			if ok, says := gate[0].Check(&Part{Tally: newTally(true)}); ok || says == "" {
				t.Fatalf("%q is kept by nothing at all: %s", text, says)
			}
		}
	})
}

// TestGateThatHasNothingToLookAt: no condition is kept by a replay that could not have broken it.
func TestGateThatHasNothingToLookAt(t *testing.T) {
	e, other := loaded(t, nil), loaded(t, lessSure)
	conditions := []string{"no new false acceptance", "nothing not replayable",
		"open rate may rise by at most 100 percentage points", "at most 1000 right to wrong",
		"at most 100 percent changed"}
	for name, x := range map[string]struct {
		text string
		kept []string // the conditions that can be kept
	}{
		"empty":         {"", nil},
		"nonsense":      {"nonsense\n", nil},
		"without truth": {`{"case":"1","claim":"diamond"}`, []string{conditions[1], conditions[2], conditions[4]}},
		"no claim":      {`{"case":"1","truth":"diamond"}`, []string{conditions[1], conditions[3], conditions[4]}},
		"true claims":   {`{"case":"1","truth":"natural-diamond","claim":"diamond"}`, conditions[1:]},
		"imitations":    {`{"case":"1","truth":"lead-glass","claim":"diamond"}`, conditions},
	} {
		path := filepath.Join(t.TempDir(), "a.jsonl")
		if err := os.WriteFile(path, []byte(x.text), 0o600); err != nil {
			t.Fatal(err)
		}
		p, err := Run(context.Background(), Config{Engine: e, Against: other,
			Input: archive.Input{Paths: []string{path}}, AsOf: asOf})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range conditions {
			ok, says := check(t, c, p)
			if ok != slices.Contains(x.kept, c) || !ok && c != conditions[1] &&
				!strings.HasPrefix(says, "it could not be checked: no ") {
				t.Errorf("%s: %s: kept %v (%s)", name, c, ok, says)
			}
		}
	}
}

// TestMergingUnlikeParts: what was judged as of unlike dates is not added up, where a case says no date; an archive is
// counted once, by whatever names, be it all of it or what an interrupted run read.
func TestMergingUnlikeParts(t *testing.T) {
	e := loaded(t, nil)
	dir := t.TempDir()
	t.Chdir(dir)
	dated, undated := `{"case":"1","taken":"2031-01-01"}`+"\n", `{"case":"2"}`+"\n"
	for name, text := range map[string]string{"dated.jsonl": dated, "undated.jsonl": undated,
		"both.jsonl": dated + undated, "same.jsonl": dated, "none.jsonl": "", "nothing.jsonl": "\n"} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	part := func(name string, on time.Time) *Part {
		p, err := Run(context.Background(), Config{Engine: e, Input: archive.Input{Paths: []string{name}}, AsOf: on})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	later := asOf.AddDate(0, 1, 0)
	half := part("both.jsonl", asOf)
	half.Partial = true
	half.Archives[0].Records, half.Archives[0].Digest = 1, "xxh64:of the first record"
	former := part("dated.jsonl", asOf)
	former.Archives[0].Digest = strings.TrimPrefix(former.Archives[0].Digest, "xxh64:")
	for name, x := range map[string]struct {
		parts []*Part
		want  string
	}{
		"one of another version, first":  {[]*Part{former, part("undated.jsonl", asOf)}, "another version"},
		"one of another version, second": {[]*Part{part("undated.jsonl", asOf), former}, "another version"},
		"dates that nobody asked for":    {[]*Part{part("dated.jsonl", later), part("undated.jsonl", asOf)}, ""},
		"unlike dates": {[]*Part{part("both.jsonl", later), part("undated.jsonl", asOf)},
			"were judged as of 2031-05-12T00:00:00Z in the report of both.jsonl, and as of 2031-04-12T00:00:00Z in " +
				"that of undated.jsonl"},
		"another name": {[]*Part{part("dated.jsonl", asOf), part("./dated.jsonl", asOf)},
			"dated.jsonl and ./dated.jsonl are one archive"},
		"a copy": {[]*Part{part("dated.jsonl", asOf), part("undated.jsonl", asOf),
			part("same.jsonl", asOf)}, "dated.jsonl and same.jsonl are one archive"},
		"once in part": {[]*Part{half, part("./both.jsonl", asOf)},
			"both.jsonl and ./both.jsonl are one archive"},
		"two that are empty":           {[]*Part{part("none.jsonl", asOf), part("nothing.jsonl", asOf)}, ""},
		"two that have cases in order": {[]*Part{part("undated.jsonl", asOf), part("both.jsonl", asOf)}, ""},
	} {
		sum, err := Merge(x.parts)
		if x.want == "" && (err != nil || !sum.AsOf.Equal(asOf)) || x.want != "" &&
			(err == nil || !strings.Contains(err.Error(), x.want)) {
			t.Errorf("%s: %+v, %v", name, sum, err)
		}
	}
}

// TestNamesAreBounded: desks and months are as many as anybody writes; the first by name are counted each, the rest as
// one, and parts add up to the whole.
func TestNamesAreBounded(t *testing.T) {
	e := loaded(t, nil)
	var lines []string
	for i := range 3000 {
		lines = append(lines, fmt.Sprintf(`{"case":"%d","desk":"desk %d","taken":"%04d-0%d-01","claim":"diamond"}`, i,
			i*7919%3000, 1800+i%400, 1+i%9))
	}
	lines = append(lines, `{"case":"long","desk":"`+strings.Repeat("a", 1000<<10)+`"}`,
		`{"case":"`+strings.Repeat("y", 500<<10)+`","readings":{"`+strings.Repeat("z", 500<<10)+`":1}}`)
	part := func(lines []string) *Part {
		path := filepath.Join(t.TempDir(), "a.jsonl")
		if err := os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o600); err != nil {
			t.Fatal(err)
		}
		p, err := Run(context.Background(), Config{Engine: e, Input: archive.Input{Paths: []string{path}}, AsOf: asOf,
			Workers: 3})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	whole := part(lines)
	for by, m := range map[string]map[string]*Answers{"desk": whole.Tally.Desks, "month": whole.Tally.Months} {
		if len(m) != mostNames+1 {
			t.Errorf("%d names of a %s", len(m), by)
		}
		sum := int64(0)
		for _, a := range m {
			sum += a.Cases
		}
		if sum != whole.Tally.Judged || m[FurtherNames].Cases == 0 {
			t.Errorf("%s: %d of %d cases counted", by, sum, whole.Tally.Judged)
		}
	}
	if raw := text(t, whole); len(raw) > 900<<10 {
		t.Errorf("the report has %d bytes", len(raw))
	}
	a, b, c := part(lines[:100]), part(lines[100:2300]), part(lines[2300:])
	sum, err := Merge([]*Part{a, b, c})
	if err != nil {
		t.Fatal(err)
	}
	sum.Tally.Lists, whole.Tally.Lists = nil, nil // they say on which lines cases stand
	if !bytes.Equal(text(t, sum.Tally), text(t, whole.Tally)) {
		t.Error("parts add up to other bytes")
	}
}

// TestSummaryMovesNoCursor: what an archive says can't command a terminal, or pass for a line of the report.
func TestSummaryMovesNoCursor(t *testing.T) {
	e := loaded(t, nil)
	path := filepath.Join(t.TempDir(), "\x1b[31m.jsonl")
	if err := os.WriteFile(path, []byte(`{"case":"\u001b[2J\u0007","desk":"\u001b]0;x\u0007\n0 records","claim":"diamond"}`+"\n"+`{"case":"\u202e","desk":"\u009b1m\u2028"}`+"\n{\x1b\n"+`{"case":"1","readings":{"\u001b[5m":1}}`+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, against := range []*engine.Engine{nil, loaded(t, lessSure)} {
		p, err := Run(context.Background(), Config{Engine: e, Against: against,
			Input: archive.Input{Paths: []string{path}}, AsOf: asOf})
		if err != nil {
			t.Fatal(err)
		}
		says := p.Summary()
		if strings.ContainsFunc(says, func(r rune) bool { return r != '\n' && visible(r) != r }) ||
			strings.Contains(says, "\n0 records") || !strings.Contains(says, "\uFFFD]0;x") {
			t.Errorf("%q", says)
		}
	}
}

// FuzzPart: any text is no report, or one that can be added up and told in every form.
func FuzzPart(f *testing.F) {
	e, other := loaded(f, nil), loaded(f, lessSure)
	p, err := Run(context.Background(), Config{Engine: e, Against: other,
		Input: archive.Input{Paths: []string{sample(f, e, 40, 8)}}, AsOf: asOf,
		Pinned: map[string]string{"S-0000001": "why"}})
	if err != nil {
		f.Fatal(err)
	}
	p.Conditions = []string{"no new false acceptance", "no pinned case changed",
		"open rate may rise by at most 1 percentage point", "at most 0 right to wrong", "at most 1 percent changed"}
	f.Add(text(f, p))
	f.Add([]byte(`{"format":1,"kind":"replay","tally":{"records":-1,"all":{"false_accepted":5,"imitations":2},"pair":{"right_to_wrong":-3,"answers":{"a":{"b":-1}}},"lists":{"changed":{"count":1,"hash":"x","sample":[{}]}}},"conditions":["at most 1 percent changed"]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		a, err := ReadPart(raw)
		if err != nil {
			return
		}
		b, _ := ReadPart(raw)
		b.Archives = nil // else it is there twice
		sum, err := Merge([]*Part{a, b})
		if err != nil {
			return // dates
		}
		if sum.Tally.Records != 2*a.Tally.Records {
			t.Fatalf("%d and %d are %d", a.Tally.Records, b.Tally.Records, sum.Tally.Records)
		}
		gate, _ := Gate(a.Conditions)
		page := &Page{Part: sum}
		page.Gate, _ = CheckGate(gate, sum)
		if sum.Summary() == "" || page.HTML(io.Discard) != nil || JUnit(io.Discard, page.Gate, sum.Tally) != nil {
			t.Fatal("it can't be told")
		}
		again, err := ReadPart(text(t, sum))
		if err != nil || !bytes.Equal(text(t, again), text(t, sum)) {
			t.Fatalf("what is written is not read as the same: %v", err)
		}
	})
}

func TestComparisonSaysWhenThereAreTooFew(t *testing.T) {
	if s := (&Pair{RightToWrong: 1, WrongToRight: 4}).Comparison(); !strings.Contains(s, "too few to tell") {
		t.Error(s)
	}
	if s := (&Pair{RightToWrong: 1, WrongToRight: 7}).Comparison(); strings.Contains(s, "too few") ||
		!strings.Contains(s, "0.0391") {
		t.Error(s)
	}
	if s := (&Pair{}).Comparison(); !strings.Contains(s, "no case") {
		t.Error(s)
	}
}

func TestHashesAddUpInAnyOrder(t *testing.T) {
	var a, b List
	for i, s := range []string{"x", "y", "z"} {
		a.add(Entry{Number: int64(i), Case: s})
	}
	for i, s := range []string{"z", "x", "y"} {
		b.add(Entry{Number: int64(i), Case: s})
	}
	if a.Hash != b.Hash || a.Hash == "" {
		t.Errorf("%s, %s", a.Hash, b.Hash)
	}
}
