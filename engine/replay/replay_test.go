package replay

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
)

const desk = "../../rulesets/diamond-desk"

func loaded(t testing.TB, edit func([]kb.File) []kb.File) *engine.Engine {
	t.Helper()
	files := load.ReadFiles(context.Background(), []load.Layer{{Name: "diamond-desk", FS: os.DirFS(desk)}}, nil)
	if edit != nil {
		files = edit(files)
	}
	rs, l := load.Build(files)
	if rs == nil {
		t.Fatal(l)
	}
	return engine.Prepare(rs)
}

func sample(t testing.TB, e *engine.Engine, n int, seed uint64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sample.jsonl")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := Sample(context.Background(), e, n, seed, false, f); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

var asOf = time.Date(2031, 4, 12, 0, 0, 0, 0, time.UTC)

func run(t testing.TB, c Config) []byte {
	t.Helper()
	c.AsOf = asOf
	return text(t, tallyOf(t, c))
}

func tallyOf(t testing.TB, c Config) *Tally {
	t.Helper()
	p, err := Run(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	return p.Tally
}

func text(t testing.TB, v any) []byte {
	t.Helper()
	out, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestSampleIsReproducibleAndReadable(t *testing.T) {
	e := loaded(t, nil)
	a, err := os.ReadFile(sample(t, e, 300, 1))
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(sample(t, e, 300, 1))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Error("the same seed gives other bytes")
	}
	other, err := os.ReadFile(sample(t, e, 300, 2))
	if err != nil || bytes.Equal(a, other) {
		t.Error("another seed gives the same bytes")
	}
	if n := bytes.Count(a, []byte(`"note":"invented"`)); n != 300 {
		t.Errorf("%d of 300 say that they are invented", n)
	}
	tally := tallyOf(t, Config{Engine: e, Input: archive.Input{Paths: []string{sample(t, e, 300, 1)}}, AsOf: asOf})
	if tally.Judged != 300 || len(tally.Lists) > 0 && tally.Lists["not replayable"] != nil {
		t.Errorf("judged %d: %+v", tally.Judged, tally.Lists["not replayable"])
	}
	if tally.All.Claimed != 300 || tally.All.Known != 300 {
		t.Errorf("%+v", tally.All)
	}
}

// TestRunsAddUpToTheSameBytes: by one worker, by four, resumed in the middle, and in two parts that are merged.
func TestRunsAddUpToTheSameBytes(t *testing.T) {
	e, other := loaded(t, nil), loaded(t, lessSure)
	path := sample(t, e, 1500, 3)
	c := Config{Engine: e, Against: other, Input: archive.Input{Paths: []string{path}}, Workers: 1, Threshold: 0.01}
	whole := run(t, c)
	c.Workers = 4
	if got := run(t, c); !bytes.Equal(got, whole) {
		t.Error("four workers give other bytes")
	}

	ctx, cancel := context.WithCancel(context.Background())
	var half *Part
	stopped := c
	stopped.AsOf = asOf
	stopped.Save = func(p *Part) error {
		if p.Tally.Records >= 512 && half == nil {
			var err error
			if half, err = ReadPart(text(t, p)); err != nil {
				return err
			}
			cancel()
		}
		return nil
	}
	if _, err := Run(ctx, stopped); !errors.Is(err, context.Canceled) {
		t.Fatalf("cancelled: %v", err)
	}
	rest := c
	rest.Before = half
	done := half.Tally.Records
	if got := run(t, rest); !bytes.Equal(got, whole) {
		t.Errorf("resumed after %d records it gives other bytes", done)
	}
}

func lessSure(files []kb.File) []kb.File {
	return replaced(files, "policy.yaml", "rival: 10", "rival: 4000")
}

func replaced(files []kb.File, name, from, to string) []kb.File {
	out := append([]kb.File{}, files...)
	for i, f := range out {
		if f.Path == name {
			text := strings.Replace(string(f.Source.Text), from, to, 1)
			out[i].Source = newSource(f.Source.Name, text)
		}
	}
	return out
}

func TestTheSameRulesetTwiceChangesNothing(t *testing.T) {
	e := loaded(t, nil)
	tally := tallyOf(t, Config{Engine: e, Against: loaded(t, nil),
		Input: archive.Input{Paths: []string{sample(t, e, 800, 4)}}, AsOf: asOf, Threshold: 1e-12})
	if p := tally.Pair; p.Changed != 0 || p.Moved != 0 || p.RightToWrong != 0 || p.WrongToRight != 0 {
		t.Errorf("%+v", p)
	}
	for was, row := range tally.Recorded {
		for is, n := range row {
			if was != is && n > 0 {
				t.Errorf("recorded %s, now %s: %d", was, is, n)
			}
		}
	}
}

// TestAnEditChangesWhatJudgingAloneSays: the changed cases are those that judging each case by itself predicts.
func TestAnEditChangesWhatJudgingAloneSays(t *testing.T) {
	e, other := loaded(t, nil), loaded(t, lessSure)
	path := sample(t, e, 600, 5)
	var want []string
	a, b := e.NewJudge(), other.NewJudge()
	d := &archive.Decoder{Reader: eval.CaseReader(e.Ruleset)}
	f := &archive.Decoder{Reader: eval.CaseReader(other.Ruleset)}
	if err := archive.Each(context.Background(), archive.Input{Paths: []string{path}}, func(r *archive.Raw) bool {
		c, _ := d.Decode(r)
		c2, _ := f.Decode(r)
		var x, y engine.Decision
		a.Decide(c, c.Taken, &x)
		b.Decide(c2, c.Taken, &y)
		if verdictText(&x) != verdictText(&y) {
			want = append(want, c.ID)
		}
		return true
	}); err != nil {
		t.Fatal(err)
	}
	tally := tallyOf(t, Config{Engine: e, Against: other, Input: archive.Input{Paths: []string{path}}, AsOf: asOf})
	var got []string
	for _, x := range tally.Lists["changed"].Sample {
		got = append(got, x.Case)
	}
	if len(want) == 0 || strings.Join(got, " ") != strings.Join(want[:min(len(want), sampleSize)], " ") ||
		tally.Pair.Changed != int64(len(want)) {
		t.Errorf("changed %d %v, want %d %v", tally.Pair.Changed, got, len(want), want)
	}
}

func TestWhatCantBeReadStopsNothing(t *testing.T) {
	e := loaded(t, nil)
	path := filepath.Join(t.TempDir(), "a.jsonl")
	if err := os.WriteFile(path, []byte("{\"case\":\"1\",\"truth\":\"diamond\",\"claim\":\"diamond\"}\nnonsense\n{\"case\":\"2\",\"readings\":{\"rii\":1}}\n"+
		"{\"case\":\"3\",\"recorded\":{\"verdict\":\"narrowed\",\"method\":99}}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	tally := tallyOf(t, Config{Engine: e, Input: archive.Input{Paths: []string{path}}, AsOf: asOf})
	l := tally.Lists["not replayable"]
	if tally.Records != 4 || tally.Judged != 2 || l == nil || l.Count != 2 {
		t.Fatalf("%+v, %+v", tally, l)
	}
	if !strings.HasSuffix(l.Sample[1].Place, "a.jsonl:3") || !strings.Contains(l.Sample[1].Says, "ri") {
		t.Errorf("%+v", l.Sample[1])
	}
	if tally.OtherMethod["method 99"] != 1 || len(tally.Recorded) != 0 {
		t.Errorf("%+v, %+v", tally.OtherMethod, tally.Recorded)
	}
	if tally.Claims["diamond"].Open != 1 {
		t.Errorf("%+v", tally.Claims["diamond"])
	}
}

func newSource(name, text string) *diag.Source { return diag.NewSource(name, []byte(text)) }

// TestTruthsAreFoundAsNodesAre: by each id, and by each that a node bore earlier.
func TestTruthsAreFoundAsNodesAre(t *testing.T) {
	rs := loaded(t, nil).Ruleset
	found, old := truths(rs), 0
	for _, m := range rs.Nodes {
		for _, id := range append([]string{m.ID}, m.Was...) {
			if found[id] != rs.NodeOrWas(id) {
				t.Errorf("%s is another node", id)
			}
		}
		old += len(m.Was)
	}
	if old == 0 || found["no-such-stone"] != nil || found[""] != nil {
		t.Errorf("%d ids of old, or a truth that nobody knows", old)
	}
}
