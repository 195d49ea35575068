package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/sqlite"
	"whystone/cmd/whystone/casebook/storetest"
	"whystone/cmd/whystone/judging"
	"whystone/kb"
)

// bookTest runs commands on a casebook of the test's own, by the small ruleset.
type bookTest struct {
	*testing.T
	folder string
}

func newBookTest(t *testing.T) *bookTest { return &bookTest{t, t.TempDir()} }

// run runs a command and returns its status and all that it says.
func (t *bookTest) run(stdin string, args ...string) (status int, says string) {
	t.Helper()
	var out bytes.Buffer
	own := append([]string{"HOME=" + t.folder, "WHYSTONE_BOOK=" + t.folder, "USER=anna"}, env...)
	status = run(context.Background(), args, strings.NewReader(stdin), &out, &out, own, noon)
	return status, out.String()
}

func (t *bookTest) must(stdin string, args ...string) string {
	t.Helper()
	status, says := t.run(stdin, args...)
	if status != done {
		t.Fatalf("%s: status %d, %s", args, status, says)
	}
	return says
}

// write does something to the book behind the commands' back.
func (t *bookTest) write(do func(*casebook.Book) error) {
	t.Helper()
	s, err := sqlite.Open(context.Background(), t.folder, false)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(do(storetest.Book(s)), s.Close()); err != nil {
		t.Fatal(err)
	}
}

// issued issues a verdict as a program of another day did: by another method, or by files that can't be used any more.
func issued(method int, rules string) casebook.Deed {
	told, chain := []byte("As told in spring.\n"),
		[]byte(`{"says":"Identified: glass.","verdict":"identified","ruleset":"sha256:0","method":1,"as_of":"2030-04-12T00:00:00Z","chain":[{"step":1,"kind":"reading","says":"thermal_probe warm"}],"a later field":1}`+"\n")
	list, _ := json.Marshal([]map[string]string{{"layer": "desk", "path": "rules.yaml",
		"hash": casebook.Hash([]byte(rules))}})
	return casebook.Deed{Kind: casebook.Issued, Blobs: [][]byte{told, chain, list, []byte(rules)},
		Data: casebook.Data{Verdict: &casebook.Verdict{
			Told: casebook.Hash(told), Why: casebook.Hash(told), Chain: casebook.Hash(chain),
			Files: casebook.Hash(list), Method: method, Ruleset: "sha256:0", Program: "p", Verdict: "identified"}}}
}

// TestToldByRulesThatAreGone: rules that no longer load, and another method, are said to be that; what was told is
// shown all the same.
func TestToldByRulesThatAreGone(t *testing.T) {
	for name, x := range map[string]struct {
		deed  func() casebook.Deed
		wants []string
		load  bool
	}{
		"broken": {func() casebook.Deed { return issued(kb.ArithmeticVersion, "format: 99\n") },
			[]string{"The rules of then can't be used", "Parts at", "thermal probe warm"}, false},
		"another method": {func() casebook.Deed {
			d := issued(kb.ArithmeticVersion-1, "")
			var files []map[string]string
			entries, _ := os.ReadDir(filepath.Join("testdata", "desk"))
			for _, e := range entries {
				b, _ := os.ReadFile(filepath.Join("testdata", "desk", e.Name()))
				d.Blobs = append(d.Blobs, b)
				files = append(files, map[string]string{"layer": "testdata/desk", "path": e.Name(),
					"hash": casebook.Hash(b)})
			}
			list, _ := json.Marshal(files)
			d.Blobs = append(d.Blobs, list)
			d.Data.Verdict.Files = casebook.Hash(list)
			return d
		}, []string{fmt.Sprintf("told by method %d, and this program judges by method %d", kb.ArithmeticVersion-1,
			kb.ArithmeticVersion)}, true},
	} {
		b := newBookTest(t)
		b.must(aCase, "casebook", "open", "-")
		b.write(func(book *casebook.Book) error {
			_, err := book.Do(context.Background(), "ben", &casebook.State{Number: casebook.Number(2031, 1)}, 0, nil, x.deed())
			return err
		})
		if got := b.must("", "why", "case:A"); got != "As told in spring.\n\nAs told in spring.\n" {
			t.Errorf("%s: it shows %q", name, got)
		}
		says := strings.Join(strings.Fields(b.must("", "why", "--now", "--width", "400", "case:A")), " ")
		for _, want := range x.wants {
			if !strings.Contains(says, want) {
				t.Errorf("%s: it does not say %q: %s", name, want, says)
			}
		}
		var got judging.Then
		if err := json.Unmarshal([]byte(b.must("", "why", "--now", "--json", "case:A")), &got); err != nil ||
			got.Old.Load != x.load || got.Old.Same != nil || got.Parts == nil || got.Parts.Step != 1 {
			t.Errorf("%s: %v, %+v", name, err, got)
		}
	}
}

// TestWhyIsByteForByte: what why shows of a case is what issue printed, then the reasoning as it was on that day; as
// JSON, the bytes that why --json printed of the same case on that day.
func TestWhyIsByteForByte(t *testing.T) {
	b := newBookTest(t)
	b.must(aCase, "casebook", "open", "-")
	chain := b.must("", "why", "--json", "case:A")
	chain = chain[strings.Index(chain, "\n")+1:] // the first line says that nothing was issued
	told := b.must("", "casebook", "issue", "A")
	if got := b.must("", "why", "--json", "case:A"); got != chain {
		t.Errorf("as JSON it was\n%sand is\n%s", chain, got)
	}
	text := b.must("", "why", "case:A")
	if !strings.HasPrefix(text, told+"\n") {
		t.Errorf("it was told\n%sand is shown as\n%s", told, text)
	}
	reasons := b.must("", "why", "--all", "case:A")
	if head, _, _ := strings.Cut(reasons, "\n"); !strings.Contains(text[len(told):], head) {
		t.Errorf("the reasoning of\n%s\nis not shown", head)
	}
	for _, width := range []string{"40", "200"} {
		if got := b.must("", "why", "--width", width, "--colour", "always", "case:A"); got != text {
			t.Error("the width of the screen changes what was told")
		}
	}
}

// TestRestoreChecksTheBackup: a backup in which an event was changed is not restored, and named by that event.
func TestRestoreChecksTheBackup(t *testing.T) {
	b := newBookTest(t)
	b.must(aCase, "casebook", "open", "-")
	file := filepath.Join(b.folder, "backup.db")
	b.must("", "casebook", "backup", file)
	db, err := sql.Open("sqlite", "file:"+file)
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"DROP TRIGGER events_stay",
		"UPDATE events SET text = replace(text, 'diamond range', 'below diamond range') WHERE seq = 2"} {
		if _, err := db.Exec(text); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(b.folder, "other")
	if status, says := b.run("", "casebook", "restore", file, "--book", other); status != unusable ||
		!strings.Contains(says, "the backup is not whole: event 2") {
		t.Errorf("status %d: %s", status, says)
	}
	if left, _ := os.ReadDir(other); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestNotIssuedOverAChange: what somebody else does to the case while it is judged keeps the verdict from being issued.
func TestNotIssuedOverAChange(t *testing.T) {
	b := newBookTest(t)
	b.must(aCase, "casebook", "open", "-")
	first := true
	var out bytes.Buffer
	meanwhile := func() (at time.Time) {
		if first {
			first = false
			b.must("", "casebook", "note", "A", "meanwhile")
		}
		return noon()
	}
	own := append([]string{"HOME=" + b.folder, "WHYSTONE_BOOK=" + b.folder, "USER=anna"}, env...)
	status := run(context.Background(), []string{"casebook", "issue", "A", "--seen", "2"}, strings.NewReader(""), &out,
		&out, own, meanwhile)
	if status != unusable || !strings.Contains(out.String(),
		"has changed since version 2 was seen; nothing was written") {
		t.Errorf("status %d: %s", status, out.String())
	}
}

// TestCaseFromTheBookIsTheCase judges every demo case from its file and from the casebook: the verdicts are the same
// but for the case's number.
func TestCaseFromTheBookIsTheCase(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "demo", "*.yaml"))
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	folder := t.TempDir()
	own := []string{"HOME=" + folder, "USER=anna"}
	do := func(args ...string) string {
		t.Helper()
		var out bytes.Buffer
		if status := run(context.Background(), args, strings.NewReader(""), &out, &out, own, noon); status != done {
			t.Fatalf("%s: %s", args, out.String())
		}
		return out.String()
	}
	do(append([]string{"casebook", "import"}, files...)...)
	kept := strings.Split(strings.TrimSpace(do("why", "--json", "case:?")), "\n")
	judged := strings.Split(strings.TrimSpace(do(append([]string{"why", "--json"}, files...)...)), "\n")
	if len(kept) != len(judged) {
		t.Fatalf("%d of %d cases", len(kept), len(judged))
	}
	for i := range kept {
		_, a, _ := strings.Cut(kept[i], `,"ruleset"`)
		_, b, _ := strings.Cut(judged[i], `,"ruleset"`)
		if a != b {
			t.Errorf("from the casebook it is\n%s\nand from its file\n%s", kept[i], judged[i])
		}
	}
}
