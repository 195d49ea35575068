package sqlite

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
	"whystone/cmd/whystone/database"
)

// TestSettings: every connection says of itself what was asked for, and one that says otherwise is refused.
func TestSettings(t *testing.T) {
	folder := t.TempDir()
	s := open(t, folder)
	for _, w := range database.Settings {
		var says string
		if err := s.writer.QueryRowContext(ctx, "PRAGMA "+w.Name).Scan(&says); err != nil || says != w.Answer {
			t.Errorf("%s is %q, %v", w.Name, says, err)
		}
	}
	if _, err := s.pool.Exec("INSERT INTO blobs VALUES ('a', x'00')"); err == nil {
		t.Error("a reading connection writes")
	}
	for _, wrong := range []database.Setting{{Name: "synchronous", Value: "NORMAL", Answer: "2"},
		{Name: "sinchronous", Value: "FULL", Answer: "2"}, {Name: "journal_mode", Value: "DELETE", Answer: "wal"}} {
		if db, err := database.Connect(ctx, filepath.Join(t.TempDir(), "x.db"), 1, "immediate",
			[]database.Setting{wrong}); err == nil {
			_ = db.Close()
			t.Errorf("%+v is taken", wrong)
		}
	}
}

// TestOthersFiles: a file that is no casebook, or a later program's, is refused by name and left as it was.
func TestOthersFiles(t *testing.T) {
	for name, x := range map[string]struct{ text, says string }{
		"another program's": {"CREATE TABLE t (x); PRAGMA user_version = 1", "no casebook, but another program's"},
		"marked otherwise":  {"PRAGMA application_id = 7", "no casebook, but another program's"},
		"a later one": {fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", application,
			Schema+1), fmt.Sprint("another version of the program: its tables are of version ", Schema+1)},
	} {
		folder := t.TempDir()
		db := raw(t, folder)
		run(t, db, x.text)
		_ = db.Close()
		before, err := os.ReadFile(filepath.Join(folder, Name))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Open(ctx, folder, true); err == nil || !strings.Contains(err.Error(), x.says) {
			t.Errorf("%s: %v", name, err)
		}
		after, _ := os.ReadFile(filepath.Join(folder, Name))
		if !bytes.Equal(before[100:], after[100:]) {
			t.Errorf("%s: the file was changed", name)
		}
	}
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, Name), []byte(strings.Repeat("no database at all. ", 500)),
		0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, folder, true); !errors.Is(err, casebook.ErrDamaged) {
		t.Errorf("a text: %v", err)
	}
	if _, err := Open(ctx, t.TempDir(), false); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("none: %v", err)
	}
}

// TestReleasedSchemas reads the file of each schema that was ever released, and writes to it.
func TestReleasedSchemas(t *testing.T) {
	for version := 1; version <= Schema; version++ {
		folder := t.TempDir()
		if err := Copy(filepath.Join("testdata", fmt.Sprintf("schema-%d.db", version)),
			filepath.Join(folder, Name)); err != nil {
			t.Fatal(err)
		}
		b := storetest.Book(open(t, folder))
		v, err := b.Verify(ctx)
		if err != nil || !v.Whole() || v.Index {
			t.Fatalf("schema %d: %+v, %v", version, v, err)
		}
		want, err := os.ReadFile(filepath.Join("testdata", fmt.Sprintf("schema-%d.jsonl", version)))
		if err != nil {
			t.Fatal(err)
		}
		if got := everything(t, b); got != string(want) {
			t.Errorf("schema %d is read as\n%s\nand was written as\n%s", version, got, want)
		}
		if got := found(t, b, "claim=ruby", "by=ben"); fmt.Sprint(got) != "[2031-2-M 2031-1-T]" {
			t.Errorf("schema %d: %v is found", version, got)
		}
		opened, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened}})
		if err != nil || opened[0].Number != casebook.Number(2031, 1003) {
			t.Errorf("schema %d: a case more: %v, %v", version, opened, err)
		}
	}
}

func found(t testing.TB, b *casebook.Book, parts ...string) (out []string) {
	t.Helper()
	q, err := casebook.ParseQuery(parts)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Read(ctx, func(v casebook.View) error {
		for e, err := range v.Find(q.Terms) {
			if err != nil {
				return err
			}
			out = append(out, e.Number)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

func everything(t testing.TB, b *casebook.Book) string {
	t.Helper()
	var out bytes.Buffer
	if err := b.Read(ctx, func(v casebook.View) error { return casebook.ExportEvents(v, &out, true) }); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestWriteRelease writes the file of the present schema into testdata, when it is asked to. A file that is there is
// kept: it is what was released.
func TestWriteRelease(t *testing.T) {
	path := filepath.Join("testdata", fmt.Sprintf("schema-%d.db", Schema))
	if _, err := os.Stat(path); err == nil || os.Getenv("WHYSTONE_UPDATE") != "1" {
		return
	}
	b := filled(t, t.TempDir())
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := b.Store.(*Store).Backup(ctx, path); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(strings.TrimSuffix(path, ".db")+".jsonl", []byte(everything(t, b)), 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestDamagedPage writes over each page in turn, then flips single bytes. It is told, or the byte was in no use: the
// book is never read as something else, and nothing breaks down.
func TestDamagedPage(t *testing.T) {
	origin := filled(t, quick(t))
	want := everything(t, origin)
	backup := filepath.Join(t.TempDir(), Name)
	if err := origin.Store.(*Store).Backup(ctx, backup); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	const page = 4096
	for at := 0; at < len(good); at += page {
		bad := bytes.Clone(good)
		for i := at; i < at+page; i++ {
			bad[i] = byte(rng.Uint32())
		}
		if _, told := readDamaged(t, bad); !told {
			t.Errorf("page %d is damaged, and nothing is told", at/page+1)
		}
	}
	flips := 300
	if testing.Short() {
		flips = 40
	}
	unseen := 0
	for range flips {
		bad := bytes.Clone(good)
		at := rng.IntN(len(bad))
		bad[at] ^= 1 << rng.IntN(8)
		got, told := readDamaged(t, bad)
		if !told && got != want {
			t.Errorf("byte %d is damaged, nothing is told, and the book says\n%s", at, got)
		}
		if !told {
			unseen++
		}
	}
	t.Logf("%d of %d flipped bytes were in no use", unseen, flips)
}

// readDamaged reads a file, and tells whether anything was found wrong with it.
func readDamaged(t *testing.T, file []byte) (got string, told bool) {
	t.Helper()
	folder := quick(t)
	if err := os.WriteFile(filepath.Join(folder, Name), file, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := Open(ctx, folder, false)
	if err != nil {
		return "", true
	}
	defer func() { _ = s.Close() }()
	b := storetest.Book(s)
	v, err := b.Verify(ctx)
	if err != nil || !v.Whole() || v.Index || s.Sound(ctx) != nil {
		return "", true
	}
	return everything(t, b), false
}

// TestDiskFullAtOnce: a file that may not grow gives the error by which it is known, keeps what it had, and takes
// writes again when there is room.
func TestDiskFullAtOnce(t *testing.T) {
	folder := t.TempDir()
	s := open(t, folder)
	b := storetest.Book(s)
	opened, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened}})
	if err != nil {
		t.Fatal(err)
	}
	before := everything(t, b)
	run(t, s.writer, "PRAGMA max_page_count = 20")
	_, err = b.Do(ctx, "anna", opened[0], 0, nil, casebook.Show("image/png", make([]byte, 1<<20)))
	if !errors.Is(err, casebook.ErrFull) {
		t.Errorf("no room, and the answer is %v", err)
	}
	if got := everything(t, b); got != before {
		t.Error("a write that failed left something")
	}
	run(t, s.writer, "PRAGMA max_page_count = 1000000")
	if _, err := b.Do(ctx, "anna", opened[0], 0, nil, casebook.Show("image/png",
		make([]byte, 1<<20))); err != nil {
		t.Errorf("there is room again: %s", err)
	}
}

// TestBusy: while another holds the book a write waits, then says so; a read goes on. Afterwards the write goes
// through.
func TestBusy(t *testing.T) {
	if testing.Short() {
		t.Skip("it waits for the other to end")
	}
	folder := t.TempDir()
	b := storetest.Book(open(t, folder))
	other := raw(t, folder)
	run(t, other, "BEGIN IMMEDIATE")
	if _, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened}}); !errors.Is(err, casebook.ErrBusy) ||
		!strings.Contains(err.Error(), "nothing was written") {
		t.Errorf("another holds it, and the answer is %v", err)
	}
	if v, err := b.Verify(ctx); err != nil || v.Events != 0 {
		t.Errorf("it can't be read meanwhile: %+v, %v", v, err)
	}
	run(t, other, "ROLLBACK")
	if _, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened}}); err != nil {
		t.Errorf("nobody holds it any more: %s", err)
	}
}

// TestBackupWhileWriting: a backup that is made while others write is a whole book, and holds all that was acknowledged
// before it began. It is not written over a file that is there.
func TestBackupWhileWriting(t *testing.T) {
	b := storetest.Book(open(t, t.TempDir()))
	stop, ended := make(chan bool), make(chan error)
	go func() {
		for {
			select {
			case <-stop:
				ended <- nil
				return
			default:
				if _, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened},
					casebook.Add("ri", "1.5")}); err != nil {
					ended <- err
					return
				}
			}
		}
	}()
	var head casebook.Head
	for head.Seq < 20 {
		if err := b.Read(ctx, func(v casebook.View) (err error) { head, err = v.Head(); return err }); err != nil {
			t.Fatal(err)
		}
	}
	folder := t.TempDir()
	to := filepath.Join(folder, Name)
	err := b.Store.(*Store).Backup(ctx, to)
	close(stop)
	if err := errors.Join(err, <-ended); err != nil {
		t.Fatal(err)
	}
	v, err := storetest.Book(open(t, folder)).Verify(ctx, head)
	if err != nil || !v.Whole() || v.Index {
		t.Errorf("%+v, %v", v, err)
	}
	if err := b.Store.(*Store).Backup(ctx, to); err == nil {
		t.Error("a file that is there is written over")
	}
	if left, _ := filepath.Glob(filepath.Join(folder, "*.part")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestManyOpenAtOnce: many programs' first look at a folder without a casebook makes one.
func TestManyOpenAtOnce(t *testing.T) {
	folder := t.TempDir()
	errs := make(chan error)
	for range 8 {
		go func() {
			s, err := Open(ctx, folder, true)
			if err == nil {
				_, err = storetest.Book(s).Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened}})
				err = errors.Join(err, s.Close())
			}
			errs <- err
		}()
	}
	for range 8 {
		if err := <-errs; err != nil {
			t.Error(err)
		}
	}
	if v, err := storetest.Book(open(t, folder)).Verify(ctx); err != nil || v.Cases != 8 || !v.Whole() {
		t.Errorf("%+v, %v", v, err)
	}
}
