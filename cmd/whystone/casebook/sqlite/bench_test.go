package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
	"whystone/cmd/whystone/database"
)

// bare is a table of one column of text, in a file of its own, with the settings of a casebook but for how it is
// synced.
func bare(b *testing.B, synchronous database.Setting) *sql.DB {
	b.Helper()
	want := append([]database.Setting{}, database.Settings...)
	for i := range want {
		if want[i].Name == synchronous.Name {
			want[i] = synchronous
		}
	}
	path := filepath.Join(b.TempDir(), "bare.db")
	if err := database.MakeFile(path); err != nil {
		b.Fatal(err)
	}
	db, err := database.Connect(context.Background(), path, 1, "immediate", want)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	if _, err := db.Exec("CREATE TABLE t (id INTEGER PRIMARY KEY, text TEXT NOT NULL) STRICT"); err != nil {
		b.Fatal(err)
	}
	// A log that grows is dearer to sync than one that is written over, as that of a book in use is.
	const pages = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 2000) INSERT INTO t " +
		"(text) SELECT printf('%04000d', i) FROM n"
	if _, err := db.Exec(pages); err != nil {
		b.Fatal(err)
	}
	if _, err := db.Exec("PRAGMA wal_checkpoint(RESTART)"); err != nil {
		b.Fatal(err)
	}
	return db
}

// large is a book of as many events as WHYSTONE_CASEBOOK_EVENTS says, ten a case, over three years.
func large(b *testing.B) (*Store, *casebook.Book, []string) {
	b.Helper()
	events, _ := strconv.Atoi(os.Getenv("WHYSTONE_CASEBOOK_EVENTS"))
	if events == 0 {
		events = 20000
	}
	s := open(b, b.TempDir())
	at := time.Date(2031, 1, 1, 9, 0, 0, 0, time.UTC)
	book := &casebook.Book{Store: s, Random: storetest.Salt(), Now: func() time.Time { return at }}
	rng := rand.New(rand.NewPCG(3, 4))
	text, list := []byte("Told."), []byte("[]")
	var numbers []string
	const at1 = 500
	for len(numbers)*10 < events {
		var cases [][]casebook.Deed
		for range at1 {
			n := len(numbers) + len(cases)
			claim := []string{"diamond", "diamond", "diamond", "ruby", "sapphire",
				fmt.Sprint("claim ", rng.IntN(300))}[rng.IntN(6)]
			d := []casebook.Deed{{Kind: casebook.Opened, Data: casebook.Data{Called: fmt.Sprint("HQ-", n),
				Fields: map[string]string{"claim": claim, "stake": "2600", "stone.carat": "1.02",
					"stone.cut": "round brilliant"}},
				Hold: []casebook.Hold{{What: casebook.Note, Content: []byte(fmt.Sprint("drawer ", n%1000, " box w",
					rng.IntN(50000)))}}}}
			for k := range 7 {
				d = append(d, casebook.Add([]string{"ri", "specific_gravity", "thermal_probe"}[k%3],
					fmt.Sprintf("{value: %.3f, uncertainty: 0.02}", 1+rng.Float64())))
			}
			named := []string{"glass", "natural-diamond", "synthetic-moissanite"}[rng.IntN(3)]
			d = append(d, casebook.Deed{Kind: casebook.Issued, Blobs: [][]byte{text, list},
				Data: casebook.Data{Verdict: &casebook.Verdict{Told: casebook.Hash(text), Why: casebook.Hash(text),
					Chain: casebook.Hash(text), Files: casebook.Hash(list),
					Verdict: []string{"identified", "narrowed"}[rng.IntN(2)], Named: named, Path: []string{named}}}},
				casebook.Know(casebook.Finding{Material: named}))
			cases = append(cases, d)
		}
		opened, err := book.Open(context.Background(), []string{"anna", "ben", "cora"}[rng.IntN(3)], cases...)
		if err != nil {
			b.Fatal(err)
		}
		for _, o := range opened {
			numbers = append(numbers, o.Number)
		}
		at = at.Add(time.Duration(float64(3*365*24*time.Hour) * at1 * 10 / float64(events)))
	}
	return s, book, numbers
}

// BenchmarkLarge compares opening a case, searches and writes with what the driver alone takes for an indexed read of
// as many rows, and for a durable insert of a text as long. WHYSTONE_CASEBOOK_EVENTS=1000000 makes it a large book.
func BenchmarkLarge(b *testing.B) {
	s, book, numbers := large(b)
	rng := rand.New(rand.NewPCG(5, 6))
	some := func() string { return numbers[rng.IntN(len(numbers))] }
	check := func(b *testing.B, err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	rowsOf := func(b *testing.B, st *sql.Stmt, args ...any) (n int) {
		rows, err := st.Query(args...)
		check(b, err)
		defer func() { _ = rows.Close() }()
		for rows.Next() {
			var x, y string
			check(b, rows.Scan(&x, &y))
			n++
		}
		check(b, rows.Err())
		return n
	}
	statement := func(b *testing.B, text string) *sql.Stmt {
		st, err := s.pool.Prepare(text)
		check(b, err)
		return st
	}
	rows := statement(b, "SELECT text, hash FROM events WHERE number = ? ORDER BY version")
	b.Run("cases", func(b *testing.B) {
		beside(b, []timed{
			{"bare", func() {
				if rowsOf(b, rows, some()) < 10 {
					b.Fatal("too few")
				}
			}},
			{"opening", func() {
				check(b, book.Read(context.Background(), func(v casebook.View) error {
					_, err := casebook.Load(v, some())
					return err
				}))
			}},
		})
	})
	day := func() string {
		return time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rng.IntN(1000)).Format(time.DateOnly)
	}
	rows = statement(b, "SELECT number, summary FROM entries WHERE opened <= ? ORDER BY opened DESC LIMIT 50")
	what := []timed{{"bare", func() {
		if rowsOf(b, rows, 1000+rng.IntN(len(numbers)*10-1000)) != 50 {
			b.Fatal("too few")
		}
	}}}
	for _, x := range []struct {
		name  string
		parts func() []string
	}{
		{"all", func() []string { return nil }},
		{"claim", func() []string { return []string{"claim=diamond"} }},
		{"claim-and-verdict", func() []string { return []string{"claim=diamond", "verdict=narrowed"} }},
		{"four-terms", func() []string { return []string{"claim=ruby", "material=glass", "by=ben", "status=open"} }},
		{"days", func() []string { return []string{"from=2031-06-01", "to=" + day()} }},
		{"a-week", func() []string { d := day(); return []string{"from=" + d, "to=" + d} }},
		{"days-and-claim", func() []string { return []string{"from=2031-02-01", "to=2031-09-01", "claim=diamond"} }},
		{"a-rare-word", func() []string { return []string{fmt.Sprint("w", rng.IntN(50000))} }},
		{"two-words", func() []string { return []string{"drawer", fmt.Sprint("w", rng.IntN(50000))} }},
		{"never-together", func() []string { return []string{"claim=ruby", "claim=sapphire"} }},
	} {
		what = append(what, timed{x.name, func() {
			q, err := casebook.ParseQuery(x.parts())
			check(b, err)
			check(b, book.Read(context.Background(), func(v casebook.View) error {
				n := 0
				for _, err := range v.Find(q.Terms) {
					if n++; err != nil || n == 50 {
						return err
					}
				}
				return nil
			}))
		}})
	}
	b.Run("searches", func(b *testing.B) { beside(b, what) })
	b.Run("writes", func(b *testing.B) { beside(b, writes(b, book, some)) })
}

// timed is something to be timed.
type timed struct {
	name string
	do   func()
}

// beside does things in turn, so that whatever else the machine does meets them alike, and reports the medians of what
// they take: of the first in microseconds, of the others against it.
func beside(b *testing.B, what []timed) {
	took := make([][]time.Duration, len(what))
	rng := rand.New(rand.NewPCG(7, 8))
	for b.Loop() {
		for _, i := range rng.Perm(len(what)) {
			begun := time.Now()
			what[i].do()
			took[i] = append(took[i], time.Since(begun))
		}
	}
	half := func(i int) float64 { slices.Sort(took[i]); return took[i][len(took[i])/2].Seconds() }
	b.ReportMetric(1e6*half(0), "us/"+what[0].name)
	for i, w := range what[1:] {
		b.ReportMetric(half(i+1)/half(0), w.name+"/"+what[0].name)
	}
}

// writes are durable inserts of a text as long as an event's by the driver alone, and what the book does.
func writes(b *testing.B, book *casebook.Book, some func() string) []timed {
	check := func(_ any, err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	text := strings.Repeat("x", 400) // as long as the event of a reading
	insert := func(synchronous database.Setting) func() {
		st, err := bare(b, synchronous).Prepare("INSERT INTO t (text) VALUES (?)")
		check(nil, err)
		return func() { check(st.Exec(text)) }
	}
	ctx := context.Background()
	last := &casebook.State{Number: some()}
	add := func(s *casebook.State) {
		check(book.Do(ctx, "anna", s, 0, nil, casebook.Add("ri", "{value: 1.54, uncertainty: 0.02}")))
	}
	var looked []*casebook.State
	look := func(v casebook.View) error {
		for range 200 {
			s, err := casebook.Load(v, some())
			check(nil, err)
			looked = append(looked, s)
		}
		return nil
	}
	return []timed{
		{"durable", insert(database.Setting{Name: "synchronous", Value: "FULL", Answer: "2"})},
		{"unsynced", insert(database.Setting{Name: "synchronous", Value: "OFF", Answer: "0"})},
		{"opening", func() {
			s, err := book.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened,
				Data: casebook.Data{Fields: map[string]string{"claim": "diamond"}}}})
			check(nil, err)
			last = s[0]
		}},
		{"reading", func() { add(last) }},
		{"old-case", func() { // looked at before, as commands and pages do
			if len(looked) == 0 {
				check(nil, book.Read(ctx, look))
			}
			add(looked[0])
			looked = looked[1:]
		}},
		{"old-case-unseen", func() { add(&casebook.State{Number: some()}) }},
	}
}
