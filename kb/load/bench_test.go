//go:build unix

package load_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"slices"
	"syscall"
	"testing"
	"time"

	"go.yaml.in/yaml/v4"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
)

// BenchmarkShipped builds the shipped rulesets of files that were read, in turn with the YAML library alone on the same
// bytes. What counts is "times-yaml", in processor time.
func BenchmarkShipped(b *testing.B) {
	desk := load.Layer{Name: "diamond-desk", FS: os.DirFS("../../rulesets/diamond-desk")}
	gem := load.Layer{Name: "gem-desk", FS: os.DirFS("../../rulesets/gem-desk")}
	for name, layers := range map[string][]load.Layer{"diamond-desk": {desk}, "gem-desk": {desk, gem}} {
		b.Run(name, func(b *testing.B) {
			var found diag.List
			files := load.ReadFiles(b.Context(), layers, &found)
			if found.HasErrors() {
				b.Fatal(found)
			}
			var ratios []float64
			for b.Loop() {
				parsing := processor(b, func() { parseAlone(b, files) })
				loading := processor(b, func() {
					if rs, out := load.Build(unseen(files)); rs == nil {
						b.Fatal(out)
					}
				})
				ratios = append(ratios, float64(loading)/float64(parsing))
			}
			slices.Sort(ratios)
			b.ReportMetric(ratios[len(ratios)/2], "times-yaml")
		})
	}
}

// unseen are the files as they were read: nothing has been asked of their sources yet.
func unseen(files []kb.File) []kb.File {
	out := slices.Clone(files)
	for i, f := range files {
		out[i].Source = diag.NewSource(f.Source.Name, f.Source.Text)
	}
	return out
}

func parseAlone(b *testing.B, files []kb.File) {
	for _, f := range files {
		loader, err := yaml.NewLoader(bytes.NewReader(f.Source.Text))
		for err == nil {
			err = loader.Load(new(yaml.Node))
		}
		if !errors.Is(err, io.EOF) {
			b.Fatal(err)
		}
	}
}

// processor is the time for which processors work on something, what it leaves to the collector of garbage included
// as far as it falls due meanwhile.
func processor(b *testing.B, work func()) time.Duration {
	const times = 10
	before := used(b)
	for range times {
		work()
	}
	return used(b) - before
}

func used(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
