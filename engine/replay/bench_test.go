package replay

import (
	"bufio"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"syscall"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
)

// Figures are told as parts of what encoding/json takes for the same lines, decoded into maps on as many processors, in
// the same run: "json" by the clock, "json-cpu" by the processors' time. The machine's own speed is divided out; noise
// is not, so run them several times (see .ci/bench).

// used is the time that a piece of work took, by the clock and by the processors.
type used struct{ clock, cpu time.Duration }

func timed(work func()) used {
	var before, after syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &before)
	from := time.Now()
	work()
	u := used{clock: time.Since(from)}
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &after)
	u.cpu = time.Duration(after.Utime.Nano() + after.Stime.Nano() - before.Utime.Nano() - before.Stime.Nano())
	return u
}

func (u *used) add(o used) { u.clock, u.cpu = u.clock+o.clock, u.cpu+o.cpu }

// decodeAll is the named baseline: every line decoded by encoding/json into a map, shared out in chunks.
func decodeAll(tb testing.TB, path string, workers int) {
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	chunks := make(chan [][]byte, workers)
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for lines := range chunks {
				for _, line := range lines {
					var m map[string]any
					if err := json.Unmarshal(line, &m); err != nil {
						tb.Error(err)
					}
				}
			}
		})
	}
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, archive.MaxLine)
	var chunk [][]byte
	for lines.Scan() {
		if chunk = append(chunk, append([]byte(nil), lines.Bytes()...)); len(chunk) == chunkSize {
			chunks <- chunk
			chunk = nil
		}
	}
	chunks <- chunk
	close(chunks)
	all.Wait()
}

// archiveOf is the archive that the benchmarks read: WHYSTONE_BENCH_ARCHIVE, JSON lines, or one that is drawn.
func archiveOf(b *testing.B, e *engine.Engine) string {
	if path := os.Getenv("WHYSTONE_BENCH_ARCHIVE"); path != "" {
		return path
	}
	return sample(b, e, 20_000, 1)
}

func converted(b *testing.B, e *engine.Engine, path, to string) string {
	out := filepath.Join(b.TempDir(), "archive"+to)
	if err := convert(b.Context(), e, path, out); err != nil {
		b.Fatal(err)
	}
	return out
}

// convert writes an archive in another form.
func convert(ctx context.Context, e *engine.Engine, from, to string) error {
	f, err := os.Create(to)
	if err != nil {
		return err
	}
	w, err := archive.NewWriter(to, f, e.Ruleset.Vocabulary.Names())
	if err != nil {
		return err
	}
	var wrong error
	if err := archive.Each(ctx, archive.Input{Paths: []string{from}}, func(r *archive.Raw) bool {
		wrong = w.Write(r)
		return wrong == nil
	}); err != nil {
		return err
	}
	if wrong != nil {
		return wrong
	}
	if err := w.Close(); err != nil {
		return err
	}
	return f.Close()
}

// against measures a replay beside the baseline, in turns.
func against(b *testing.B, c Config, lines string) {
	c.AsOf = asOf
	if c.Workers == 0 {
		c.Workers = runtime.GOMAXPROCS(0)
	}
	var replays, decodes used
	cases := int64(0)
	for b.Loop() {
		decodes.add(timed(func() { decodeAll(b, lines, c.Workers) }))
		replays.add(timed(func() {
			p, err := Run(context.Background(), c)
			if err != nil {
				b.Fatal(err)
			}
			cases += p.Tally.Records
		}))
	}
	b.ReportMetric(0, "ns/op") // of both together: nobody's figure
	b.ReportMetric(float64(replays.clock)/float64(decodes.clock), "json")
	b.ReportMetric(float64(replays.cpu)/float64(decodes.cpu), "json-cpu")
	b.ReportMetric(float64(replays.cpu.Nanoseconds())/float64(cases), "cpu-ns/case")
}

func BenchmarkReplay(b *testing.B) {
	e := loaded(b, nil)
	lines := archiveOf(b, e)
	for _, form := range []string{".jsonl", ".csv", ".parquet"} {
		b.Run(form[1:], func(b *testing.B) {
			path := lines
			if form != ".jsonl" {
				path = converted(b, e, lines, form)
			}
			against(b, Config{Engine: e, Input: archive.Input{Paths: []string{path}}}, lines)
		})
	}
	b.Run("one-worker", func(b *testing.B) {
		against(b, Config{Engine: e, Workers: 1, Input: archive.Input{Paths: []string{lines}}}, lines)
	})
	b.Run("two-rulesets", func(b *testing.B) {
		against(b, Config{Engine: e, Against: loaded(b, oneRule), Input: archive.Input{Paths: []string{lines}}}, lines)
	})
}

// oneRule changes one rule.
func oneRule(files []kb.File) []kb.File {
	return replaced(files, "rules/separations.yaml", "if: birefringence > 0.001", "if: birefringence > 0.002")
}
