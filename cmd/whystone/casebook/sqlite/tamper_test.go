package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
)

var ctx = context.Background()

// filled makes a book with an event of every kind.
func filled(t testing.TB, folder string) *casebook.Book {
	t.Helper()
	b := storetest.Book(open(t, folder))
	text, list := []byte(strings.Repeat("Told. ", 40)), []byte("[]")
	issue := casebook.Deed{Kind: casebook.Issued, Blobs: [][]byte{text, list},
		Data: casebook.Data{Verdict: &casebook.Verdict{Told: casebook.Hash(text),
			Why: casebook.Hash(text), Chain: casebook.Hash(text), Files: casebook.Hash(list), Ruleset: "sha256:0",
			Method: 2, Program: "p", Verdict: "identified", Named: "glass", Path: []string{"glass"}, Claim: "falls"}}}
	for range 2 {
		s, err := b.Open(ctx, "anna", []casebook.Deed{
			{Kind: casebook.Opened, Data: casebook.Data{Called: "HQ-7",
				Fields: map[string]string{"claim": "diamond", "stake": "2600"}},
				Hold: []casebook.Hold{{What: casebook.Customer, Content: []byte("Mrs Smith, Quay 4")}}},
			casebook.Add("ri", "{value: 1.54, note: a note of a reading}"), casebook.Add("specific_gravity", "2.65")})
		if err != nil {
			t.Fatal(err)
		}
		do := func(seen int, d ...casebook.Deed) {
			t.Helper()
			after, err := b.Do(ctx, "ben", s[0], seen, nil, d...)
			if err != nil {
				t.Fatal(err)
			}
			s[0] = after
		}
		do(3, casebook.Correct(2, "1.545", "misread"))
		do(4, casebook.Withdraw(3, "another stone"))
		do(5, casebook.Amend(map[string]string{"claim": "ruby"}, "misheard"))
		do(0, casebook.Write(casebook.Note, "an ordinary note"), casebook.Show("image/png", []byte("\x89PNG picture")),
			issue)
		do(s[0].Version, casebook.Close("done"))
		do(0, casebook.Know(casebook.Finding{Material: "glass", Laboratory: "an invented one", Report: "77-1",
			Dated: "2031-05-02"}))
		do(0, casebook.Reopen("back"))
		do(0, casebook.Forget([]string{s[0].Held[0].ID}, "asked for"))
	}
	if err := b.Restore(ctx, "cora", 1000); err != nil {
		t.Fatal(err)
	}
	return b
}

// raw opens the file as any other program would.
func raw(t testing.TB, folder string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(folder, Name))
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func run(t testing.TB, db interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, text string, args ...any) {
	t.Helper()
	if _, err := db.ExecContext(ctx, text, args...); err != nil {
		t.Fatalf("%s: %s", text, err)
	}
}

// TestEventsStay: no statement changes an event or takes one out.
func TestEventsStay(t *testing.T) {
	folder := t.TempDir()
	filled(t, folder)
	db := raw(t, folder)
	for _, text := range []string{"UPDATE events SET text = 'x'", "UPDATE events SET number = 'x' WHERE seq = 1",
		"DELETE FROM events", "DELETE FROM events WHERE seq = 20"} {
		if _, err := db.Exec(text); err == nil || !strings.Contains(err.Error(), "an event can't be") {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// tampering is one change to a file, and the event that has to be named for it: 0 for what is about no one event.
type tampering struct {
	name string
	do   func(*sql.DB)
	want int64
	or   int64 // or this one
}

// TestEveryChangeIsFound changes every column of every row, and every field of every event with and without its hash.
// Verify names the first bad event each time; that it is the very event is so where the hash is as it was, else the one
// after it holds another hash.
func TestEveryChangeIsFound(t *testing.T) {
	origin := quick(t)
	b := filled(t, origin)
	head := func() casebook.Head { v, _ := b.Verify(ctx); h, _ := casebook.ParseHead(v.Head); return h }()
	backup := filepath.Join(t.TempDir(), Name)
	if err := b.Store.(*Store).Backup(ctx, backup); err != nil {
		t.Fatal(err)
	}
	folder := quick(t)
	for i, x := range tamperings(t, b) {
		if testing.Short() && i%7 != 0 {
			continue
		}
		if err := os.RemoveAll(folder); err != nil {
			t.Fatal(err)
		}
		if err := Copy(backup, filepath.Join(folder, Name)); err != nil {
			t.Fatal(err)
		}
		db := raw(t, folder)
		run(t, db, "PRAGMA synchronous = OFF")
		run(t, db, "DROP TRIGGER events_stay")
		run(t, db, "DROP TRIGGER events_are_kept")
		x.do(db)
		_ = db.Close()
		s, err := Open(ctx, folder, false)
		if err != nil {
			t.Fatal(err)
		}
		v, err := (&casebook.Book{Store: s}).Verify(ctx, head)
		_ = s.Close()
		switch {
		case err != nil:
			t.Errorf("%s: %s", x.name, err)
		case v.Whole():
			t.Errorf("%s: nothing is found", x.name)
		case strings.HasSuffix(x.name, "taken out") && x.want > 0 && strings.HasPrefix(x.name, "event") &&
			!strings.Contains(v.Wrong[0].Says, "is missing before it"):
			t.Errorf("%s: it is said that %s", x.name, v.Wrong[0].Says)
		case v.Wrong[0].Seq != x.want && v.Wrong[0].Seq != x.or:
			t.Errorf("%s: event %d is named, and should be %d: %s", x.name, v.Wrong[0].Seq, x.want, v.Wrong[0].Says)
		}
	}
}

func tamperings(t *testing.T, b *casebook.Book) (out []tampering) {
	var all []casebook.Record
	var blobs []string
	var held []casebook.Particular
	if err := b.Read(ctx, func(v casebook.View) error {
		for r, err := range v.Events(0) {
			if err != nil {
				return err
			}
			all = append(all, r)
		}
		ids, err := v.ParticularIDs()
		for _, id := range ids {
			p, _ := v.Particular(id)
			held = append(held, *p)
		}
		blobs, _ = v.Blobs()
		return err
	}); err != nil {
		t.Fatal(err)
	}
	add := func(want int64, name, text string, args ...any) {
		out = append(out, tampering{name, func(db *sql.DB) { run(t, db, text, args...) }, want, want})
	}
	last := all[len(all)-1].Seq
	for _, r := range all {
		for column, value := range map[string]any{"number": "2031-9-A", "version": r.Version + 50, "kind": "burnt",
			"hash": strings.Repeat("0", 64), "text": "{}"} {
			add(r.Seq, fmt.Sprintf("event %d: %s", r.Seq, column), "UPDATE events SET "+column+" = ? WHERE seq = ?",
				value, r.Seq)
		}
		after := r.Seq + 1
		if r.Seq == last {
			after = 0 // the end is cut: only the head tells
		}
		add(after, fmt.Sprintf("event %d taken out", r.Seq), "DELETE FROM events WHERE seq = ?", r.Seq)
		for field, text := range changedFields(t, r.Text) {
			add(r.Seq, fmt.Sprintf("event %d: %s", r.Seq, field), "UPDATE events SET text = ? WHERE seq = ?", text,
				r.Seq)
			if slices.Contains([]string{"seq", "case", "version", "kind", "format", "previous"}, field) {
				after = r.Seq // it is not in its place
			} else if after = r.Seq + 1; r.Seq == last {
				after = last // by the head
			}
			add(after, fmt.Sprintf("event %d: %s, and its hash with it", r.Seq, field),
				"UPDATE events SET text = ?, hash = ? WHERE seq = ?", text, casebook.Hash([]byte(text)), r.Seq)
			out[len(out)-1].or = r.Seq // what it says may give it away by itself
		}
	}
	of := func(id string) int64 { var seq int64; _, _ = fmt.Sscan(strings.Split(id, "/")[0], &seq); return seq }
	for _, p := range held {
		for column, value := range map[string]any{"salt": []byte("another"), "content": []byte("another"),
			"number": "2031-9-A"} {
			add(of(p.ID), "particular "+p.ID+": "+column, "UPDATE particulars SET "+column+" = ? WHERE id = ?", value,
				p.ID)
		}
		add(of(p.ID), "particular "+p.ID+" taken out", "DELETE FROM particulars WHERE id = ?", p.ID)
	}
	add(0, "a particular slipped in", "INSERT INTO particulars VALUES ('1/9', '2031-1-T', x'00', x'00')")
	add(0, "an erased one back", "INSERT INTO particulars VALUES ('1/1', '2031-1-T', x'00', x'00')")
	issued := int64(0)
	for _, r := range all {
		if r.Kind == casebook.Issued {
			issued = r.Seq
			break
		}
	}
	for _, hash := range blobs {
		add(issued, "blob "+hash[:8]+" changed",
			"UPDATE blobs SET packed = (SELECT packed FROM blobs WHERE hash <> ?1) WHERE hash = ?1", hash)
		add(issued, "blob "+hash[:8]+" damaged", "UPDATE blobs SET packed = x'0001' WHERE hash = ?", hash)
		add(issued, "blob "+hash[:8]+" taken out", "DELETE FROM blobs WHERE hash = ?", hash)
	}
	add(0, "a blob slipped in", "INSERT INTO blobs SELECT 'ff', packed FROM blobs LIMIT 1")
	return out
}

// changedFields gives the text of an event with each of its fields changed, by its path.
func changedFields(t *testing.T, text []byte) map[string]string {
	out := map[string]string{}
	var root any
	if err := json.Unmarshal(text, &root); err != nil {
		t.Fatal(err)
	}
	var walk func(path string, at any, set func(any))
	walk = func(path string, at any, set func(any)) {
		other := at
		switch x := at.(type) {
		case map[string]any:
			for k, v := range x {
				walk(strings.TrimPrefix(path+"."+k, "."), v, func(v any) { x[k] = v })
			}
			return
		case []any:
			for i, v := range x {
				walk(fmt.Sprintf("%s[%d]", path, i), v, func(v any) { x[i] = v })
			}
			return
		case string:
			if other = x + "x"; path == "at" {
				other = "2030-01-01T00:00:00Z"
			}
		case bool:
			other = !x
		case float64:
			other = x + 1
		}
		set(other)
		b, err := json.Marshal(root)
		if err != nil {
			t.Fatal(err)
		}
		out[path] = string(b)
		set(at)
	}
	walk("", root, nil)
	return out
}

// TestIndexIsChecked: what is changed in the index is found, does not make the log unsound, and is mended by making the
// index anew.
func TestIndexIsChecked(t *testing.T) {
	of := map[string][]string{
		"all is new": {"UPDATE entries SET terms = replace(terms, 'claim:ruby', 'claim:glass')",
			"UPDATE entries SET terms = ''",
			"INSERT INTO lists VALUES ('claim:glass', 0, x'01'); INSERT INTO stretches VALUES (0, '2031-01-01', " +
				"'2031-12-31', 1)",
			"INSERT INTO stretches VALUES (0, '2031-01-01', '2031-12-31', 99)"},
		"all is settled": {"DELETE FROM lists WHERE term = 'claim:ruby'",
			"INSERT INTO lists VALUES ('claim:glass', 0, x'01')",
			"UPDATE lists SET term = 'by:x' WHERE term = 'by:ben'",
			"UPDATE lists SET cases = x'01' WHERE term = 'claim:ruby'", "DELETE FROM stretches",
			"UPDATE stretches SET first = '2031-04-13'", "UPDATE stretches SET last = '2031-04-11'",
			"UPDATE stretches SET settled = 1"},
	}
	for name, n := range oftenOrNot {
		settling(t, n[0], n[1])
		for _, text := range append(of[name], "UPDATE entries SET summary = '{}'",
			"UPDATE entries SET day = '2031-01-01'", "UPDATE entries SET running = running + 7",
			"DELETE FROM entries") {
			folder := quick(t)
			b := filled(t, folder)
			run(t, raw(t, folder), text)
			v, err := b.Verify(ctx)
			if err != nil || !v.Whole() || !v.Index {
				t.Errorf("%s: %s: %+v, %v", name, text, v, err)
			}
			if !slices.ContainsFunc([]string{"SET day", "SET first", "SET last"},
				func(x string) bool { return strings.Contains(text, x) }) { // a case is hidden where days are asked for
				indexIsWhatIsFound(t, b)
			}
			if err := b.Rebuild(ctx); err != nil {
				t.Fatal(err)
			}
			if v, err := b.Verify(ctx); err != nil || !v.Whole() || v.Index {
				t.Errorf("%s: %s, made anew: %+v, %v", name, text, v, err)
			}
		}
	}
}

// indexIsWhatIsFound: what is verified is what a search finds.
func indexIsWhatIsFound(t *testing.T, b *casebook.Book) {
	t.Helper()
	if err := b.Read(ctx, func(v casebook.View) error {
		want := map[string][]int64{}
		for x, err := range v.Index() {
			if err != nil {
				return err
			}
			want[x.Term] = append(want[x.Term], x.Opened)
		}
		delete(want, "")
		for _, term := range []string{"claim:ruby", "claim:glass", "by:ben", "by:anna"} {
			var got []int64
			for e, err := range v.Find(casebook.Terms{All: []string{term}}) {
				if err != nil {
					return err
				}
				got = append(got, e.Opened)
			}
			slices.Sort(got)
			if !slices.Equal(got, want[term]) {
				t.Errorf("%s finds %v, and the index says %v", term, got, want[term])
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}

// TestErasedIsGone: of what is erased not a byte is left in any file of the casebook, its words in the index included.
func TestErasedIsGone(t *testing.T) {
	for name, n := range oftenOrNot {
		t.Run(name, func(t *testing.T) {
			settling(t, n[0], n[1])
			erasedIsGone(t)
		})
	}
}

func erasedIsGone(t *testing.T) {
	folder := t.TempDir()
	b := storetest.Book(open(t, folder))
	secret, picture := "Xanthippe Quellenreiter", strings.Repeat("\x89PNG unmistakeable pixels", 5000)
	s, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened,
		Hold: []casebook.Hold{{What: casebook.Customer, Content: []byte(secret)}}},
		casebook.Add("ri", "{value: 1.5, note: "+secret+"}"), casebook.Show("image/png", []byte(picture))})
	if err != nil {
		t.Fatal(err)
	}
	if !holds(t, folder, "quellenreiter") || !holds(t, folder, "unmistakeable") {
		t.Fatal("it is not there to begin with")
	}
	var ids []string
	for _, h := range s[0].Held {
		ids = append(ids, h.ID)
	}
	if _, err := b.Do(ctx, "anna", s[0], 0, nil, casebook.Forget(ids, "asked for")); err != nil {
		t.Fatal(err)
	}
	for _, trace := range []string{"quellenreiter", "xanthippe", "unmistakeable"} {
		if holds(t, folder, trace) {
			t.Errorf("%q is still in the files", trace)
		}
	}
	v, err := b.Verify(ctx)
	if err != nil || !v.Whole() || v.Erased != 3 || v.Index {
		t.Errorf("%+v, %v", v, err)
	}
}

// TestErasedWhileRead: another look at the book keeps traces in the log of the file; that is said.
func TestErasedWhileRead(t *testing.T) {
	if testing.Short() {
		t.Skip("it waits for the other to end")
	}
	folder := t.TempDir()
	b := storetest.Book(open(t, folder))
	s, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened,
		Hold: []casebook.Hold{{What: casebook.Note, Content: []byte("quellenreiter")}}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Read(ctx, func(v casebook.View) error {
		if _, err := v.Head(); err != nil {
			return err
		}
		if _, err := b.Do(ctx, "anna", s[0], 0, nil, casebook.Forget([]string{s[0].Held[0].ID},
			"asked for")); !errors.Is(err, casebook.ErrTraces) {
			t.Errorf("erased while another reads: %v", err)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if v, err := b.Verify(ctx); err != nil || v.Erased != 1 || !v.Whole() {
		t.Errorf("%+v, %v", v, err)
	}
}

// holds tells whether a text stands in any file of a folder, whatever its letters' case.
func holds(t *testing.T, folder, text string) bool {
	t.Helper()
	files, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		b, err := os.ReadFile(filepath.Join(folder, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(strings.ToLower(string(b)), text) {
			return true
		}
	}
	return false
}
