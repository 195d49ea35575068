package archive

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// drawnArchive writes drawn cases as an archive, and gives its text and what its records say.
func drawnArchive(t testing.TB, name string, cases int) (text []byte, records []string) {
	t.Helper()
	names := ruleset(t).Vocabulary.Names()
	d := &drawer{rand.New(rand.NewPCG(uint64(cases), 2)), names}
	var lines strings.Builder
	for range cases {
		fmt.Fprintf(&lines, `{"case":%s,"claim":"diamond","readings":{"ri":%s}}`+"\n", quote(d.text()), d.number())
	}
	path := filepath.Join(t.TempDir(), "from.jsonl")
	if err := os.WriteFile(path, []byte(lines.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), name)
	rewrite(t, path, to, names)
	text, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	records, err = said(to)
	if err != nil || len(records) != cases {
		t.Fatalf("%d records, %v", len(records), err)
	}
	return text, records
}

// said is what the records of an archive say, as far as it can be read.
func said(path string) (out []string, err error) {
	err = Each(context.Background(), Input{Paths: []string{path}}, func(r *Raw) bool {
		out = append(out, strconv.Itoa(r.Line)+r.Text+strings.Join(r.Row(), "\x1f"))
		return true
	})
	return out, err
}

// TestDamage: an archive of which a bit is another, or the end is missing, is refused, or it reads the same. It never
// reads as less, as more, or as something else.
func TestDamage(t *testing.T) {
	for _, name := range []string{"a.parquet", "a.jsonl.gz", "a.csv.zst"} {
		t.Run(name, func(t *testing.T) {
			text, want := drawnArchive(t, name, 300)
			rng := rand.New(rand.NewPCG(7, 7))
			tries := 300
			if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
				tries = 3000
			}
			refused := 0
			path := filepath.Join(t.TempDir(), name)
			for range tries {
				harmed := slices.Clone(text)
				at, what := rng.IntN(len(text)), "a bit flipped"
				if rng.IntN(10) == 0 {
					harmed, what = harmed[:at], "cut off"
				} else {
					harmed[at] ^= 1 << rng.IntN(8)
				}
				if err := os.WriteFile(path, harmed, 0o600); err != nil {
					t.Fatal(err)
				}
				got, err := said(path)
				switch {
				case err != nil:
					refused++
				case !slices.Equal(got, want):
					t.Fatalf("%s at byte %d: %d records of %d, and no error", what, at, len(got), len(want))
				}
			}
			if refused < tries/3 {
				t.Errorf("%d of %d damages were noticed", refused, tries)
			}
		})
	}
}

// FuzzParquet: whatever a file holds, it is read to an end, or refused; never with a panic.
func FuzzParquet(f *testing.F) {
	text, want := drawnArchive(f, "a.parquet", 20)
	f.Add(0, byte(0), 0)
	f.Add(len(text)-20, byte(4), 0)
	f.Add(100, byte(255), 200)
	f.Fuzz(func(t *testing.T, at int, bits byte, cut int) {
		harmed := slices.Clone(text)
		if at = max(at, -at) % len(harmed); at >= 0 {
			harmed[at] ^= bits
		}
		if cut = max(cut, -cut) % len(harmed); cut > 0 {
			harmed = harmed[:cut]
		}
		path := filepath.Join(t.TempDir(), "a.parquet")
		if err := os.WriteFile(path, harmed, 0o600); err != nil {
			t.Fatal(err)
		}
		if got, err := said(path); err == nil && !slices.Equal(got, want) {
			t.Fatalf("%x at %d, cut at %d: %d records of %d, and no error", bits, at, cut, len(got), len(want))
		}
	})
}

// FuzzArchive: any bytes by any name are read to an end, or refused; what is read stands on rising lines.
func FuzzArchive(f *testing.F) {
	for _, name := range []string{"a.jsonl", "a.csv", "a.jsonl.gz", "a.csv.zst"} {
		text, _ := drawnArchive(f, name, 3)
		f.Add(name, text)
	}
	f.Add("a.csv", []byte("\uFEFF\"case\",note\n1,x\n"))
	f.Add("a.jsonl", []byte("\xff\xfe{\x00"))
	f.Fuzz(func(t *testing.T, name string, text []byte) {
		kinds := []string{"a.jsonl", "a.csv", "a.jsonl.gz", "a.csv.gz", "a.jsonl.zst", "a.csv.zst", "a.parquet"}
		if !slices.Contains(kinds, name) {
			name = kinds[len(name)%len(kinds)]
		}
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		last := 0
		err := Each(context.Background(), Input{Paths: []string{path}}, func(r *Raw) bool {
			if r.Line <= last {
				t.Fatalf("line %d after %d", r.Line, last)
			}
			last = r.Line
			return true
		})
		if err != nil && !strings.Contains(err.Error(), path+" can't be read") {
			t.Fatalf("it is not told which: %v", err)
		}
	})
}

// TestWhatAFileSaysOfItself: the footer of a Parquet file is protected by nothing. Where it says other figures than the
// columns have, or that they are packed in a way that would be unpacked without end, the file is refused.
func TestWhatAFileSaysOfItself(t *testing.T) {
	text, _ := drawnArchive(t, "a.parquet", 300)
	for name, x := range map[string]struct {
		edit func(*format.FileMetaData)
		want string
	}{
		"fewer rows in all": {func(m *format.FileMetaData) { m.NumRows = 256 },
			"it is damaged: it holds 300 rows, and says 256"},
		"more rows in all": {func(m *format.FileMetaData) { m.NumRows = 512 },
			"it is damaged: it holds 300 rows, and says 512"},
		"fewer rows": {func(m *format.FileMetaData) { m.NumRows, m.RowGroups[0].NumRows = 256, 256 },
			`it is damaged: the column "by" has more values than there are rows`},
		"more rows": {func(m *format.FileMetaData) { m.NumRows, m.RowGroups[0].NumRows = 512, 512 },
			`it is damaged: row 301, column "by": it ends too early`},
		"one group less": {func(m *format.FileMetaData) { m.RowGroups = nil },
			"it is damaged: it holds 0 rows, and says 300"},
		"other packing": {func(m *format.FileMetaData) {
			for i := range m.RowGroups[0].Columns {
				m.RowGroups[0].Columns[i].MetaData.Codec = format.Lz4Raw
			}
		}, `its column "by" is compressed by LZ4, which is not read; gzip, snappy and zstd are`},
		"no rows":  {func(m *format.FileMetaData) { m.NumRows, m.RowGroups = 0, nil }, ""},
		"the same": {func(*format.FileMetaData) {}, ""},
	} {
		path := write(t, "a.parquet", string(withFooter(t, text, x.edit)))
		_, err := said(path)
		switch {
		case x.want == "" && err != nil:
			t.Errorf("%s: %v", name, err)
		case x.want != "" && (err == nil || !strings.HasSuffix(err.Error(), x.want)):
			t.Errorf("%s: %v", name, err)
		}
	}
}

// withFooter is a Parquet file whose footer is edited.
func withFooter(t *testing.T, text []byte, edit func(*format.FileMetaData)) []byte {
	t.Helper()
	f, err := parquet.OpenFile(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	m := f.Metadata()
	edit(m)
	footer, err := thrift.Marshal(new(thrift.CompactProtocol), m)
	if err != nil {
		t.Fatal(err)
	}
	body := text[:len(text)-8-int(binary.LittleEndian.Uint32(text[len(text)-8:]))]
	out := append(slices.Clone(body), footer...)
	return append(binary.LittleEndian.AppendUint32(out, uint32(len(footer))), "PAR1"...)
}

// TestRowGroupsAreBounded: what is kept in memory while a file is written is bounded by bytes too.
func TestRowGroupsAreBounded(t *testing.T) {
	line := `{"case":"1","note":"` + strings.Repeat("x", MaxLine-100) + "\"}\n"
	to := filepath.Join(t.TempDir(), "a.parquet")
	rewrite(t, write(t, "a.jsonl", strings.Repeat(line, 40)), to, nil)
	text, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := said(to); err != nil || len(got) != 40 || len(f.RowGroups()) != 3 {
		t.Errorf("%d records in %d groups, %v", len(got), len(f.RowGroups()), err)
	}
}
