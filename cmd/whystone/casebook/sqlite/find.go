package sqlite

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"iter"
	"slices"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/database"
)

// What is read of an entry, and in what order those of some days are.
const (
	columns      = "opened, number, year, running, day, summary"
	newestOfDays = " AND day BETWEEN ? AND ? ORDER BY opened DESC"
)

func entry(rows *sql.Rows) (e casebook.Entry, err error) {
	err = rows.Scan(&e.Opened, &e.Number, &e.Year, &e.Running, &e.Day, &e.Summary)
	return e, err
}

// search is a search at work.
type search struct {
	*view
	terms    []string
	from, to string
	settled  int64
}

// Find looks through the new cases, and then back through the log, stretch by stretch.
func (v *view) Find(q casebook.Terms) iter.Seq2[casebook.Entry, error] {
	return func(yield func(casebook.Entry, error) bool) {
		settled, err := v.settled()
		if err != nil {
			yield(casebook.Entry{}, err)
			return
		}
		s := &search{view: v, from: q.From, to: cmp.Or(q.To, "9999-99-99"), settled: settled,
			terms: slices.Compact(slices.Sorted(slices.Values(q.All)))}
		old := s.listed
		if len(s.terms) == 0 {
			old = s.ofDays
		}
		for _, part := range []iter.Seq2[casebook.Entry, error]{s.unsettled(), old} {
			for e, err := range part {
				if !yield(e, err) || err != nil {
					return
				}
			}
		}
	}
}

// unsettled looks at the new cases, one by one.
func (s *search) unsettled() iter.Seq2[casebook.Entry, error] {
	args := []any{s.settled, s.from, s.to}
	for _, t := range s.terms {
		args = append(args, "\n"+t+"\n")
	}
	rows, err := s.at.QueryContext(s.ctx, "SELECT "+columns+" FROM entries WHERE opened > ? AND day BETWEEN ? AND ?"+
		strings.Repeat(" AND instr(terms, ?) > 0", len(s.terms))+" ORDER BY opened DESC", args...)
	return database.Each(rows, err, entry)
}

// ofDays looks at the settled cases of the stretches in which there are cases of the days.
func (s *search) ofDays(yield func(casebook.Entry, error) bool) {
	for at, err := range rowsOf(s.view, s.st.ofDays, database.Value[int64], s.from, s.to) {
		if err != nil {
			yield(casebook.Entry{}, err)
			return
		}
		end := min((at+1)*stretch-1, s.settled)
		for e, err := range rowsOf(s.view, s.st.between, entry, at*stretch, end, s.from, s.to) {
			if !yield(e, err) || err != nil {
				return
			}
		}
	}
}

// batch is how many cases are read at once.
const batch = 50

// listed looks for what the lists of the terms have in common.
func (s *search) listed(yield func(casebook.Entry, error) bool) {
	for c, err := range s.common() {
		low, high := int64(0), s.settled
		if err == nil && !c.within {
			end := min((c.stretch+1)*stretch-1, s.settled)
			err = s.stmt(s.st.bounds).QueryRowContext(s.ctx, c.stretch*stretch, end, s.from, s.to).Scan(&low, &high)
		}
		if err != nil {
			yield(casebook.Entry{}, err)
			return
		}
		at := slices.DeleteFunc(c.at, func(p int64) bool { return p < low || p > high })
		slices.Reverse(at)
		for some := range slices.Chunk(at, batch) {
			list, err := json.Marshal(some)
			if err != nil {
				yield(casebook.Entry{}, err)
				return
			}
			for e, err := range rowsOf(s.view, s.st.these, entry, string(list), s.from, s.to) {
				if !yield(e, err) || err != nil {
					return
				}
			}
		}
	}
}

// common is the cases of a stretch that are under all terms.
type common struct {
	stretch int64
	within  bool // all of its days are looked for
	at      []int64
}

// common gives what the lists have in common, stretch by stretch.
func (s *search) common() iter.Seq2[common, error] {
	more := len(s.terms) - 1
	args := []any{s.from, s.to}
	for _, t := range append(s.terms[1:], s.terms[0]) {
		args = append(args, t)
	}
	rows, err := s.at.QueryContext(s.ctx, "SELECT l.stretch, s.first >= ? AND s.last <= ?, l.cases"+
		strings.Repeat(", (SELECT cases FROM lists WHERE term = ? AND stretch = l.stretch)", more)+
		" FROM lists l CROSS JOIN stretches s ON s.stretch = l.stretch"+
		" WHERE l.term = ? AND s.last >= ? AND s.first <= ? ORDER BY l.stretch DESC", append(args, s.from, s.to)...)
	return database.Each(rows, err, func(rows *sql.Rows) (c common, err error) {
		lists := make([][]byte, more+1)
		into := []any{&c.stretch, &c.within}
		for i := range lists {
			into = append(into, &lists[i])
		}
		if err := rows.Scan(into...); err != nil || slices.ContainsFunc(lists,
			func(l []byte) bool { return l == nil }) {
			return c, err
		}
		c.at, err = meet(c.stretch, lists)
		return c, err
	})
}

// meet is what lists of one stretch have in common.
func meet(stretchOf int64, lists [][]byte) ([]int64, error) {
	var out []int64
	for i, l := range lists {
		at, err := unpack(stretchOf, l)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			out = at
			continue
		}
		out = slices.DeleteFunc(out, func(p int64) bool {
			for len(at) > 0 && at[0] < p {
				at = at[1:]
			}
			return len(at) == 0 || at[0] != p
		})
	}
	return out, nil
}

// Index gives what a search finds.
func (v *view) Index() iter.Seq2[casebook.Indexed, error] {
	return func(yield func(casebook.Indexed, error) bool) {
		settled, err := v.settled()
		if err != nil {
			yield(casebook.Indexed{}, err)
			return
		}
		days := map[int64]string{}
		for x, err := range rowsOf(v, v.st.entries, func(rows *sql.Rows) (x casebook.Indexed, err error) {
			err = rows.Scan(&x.Opened, &x.Number, &x.Year, &x.Running, &x.Day, &x.Summary, &x.Term)
			return x, err
		}) {
			of := terms(x.Term)
			x.Term = ""
			if !yield(x, err) || err != nil {
				return
			}
			if days[x.Opened] = x.Day; x.Opened <= settled {
				of = nil
			}
			for _, t := range of {
				if !yield(casebook.Indexed{Term: t, Entry: casebook.Entry{Opened: x.Opened}}, nil) {
					return
				}
			}
		}
		v.lists(days, settled)(yield)
	}
}

// lists gives what the lists find, of cases by their days.
func (v *view) lists(days map[int64]string, settled int64) iter.Seq2[casebook.Indexed, error] {
	return func(yield func(casebook.Indexed, error) bool) {
		type list struct {
			term, first, last string
			at                []int64
		}
		for l, err := range rowsOf(v, v.st.lists, func(rows *sql.Rows) (l list, err error) {
			var at int64
			var packed []byte
			if err = rows.Scan(&l.term, &at, &packed, &l.first, &l.last); err == nil {
				l.at, err = unpack(at, packed)
			}
			return l, err
		}) {
			if err != nil {
				yield(casebook.Indexed{}, err)
				return
			}
			for _, p := range l.at {
				if day := days[p]; p > settled || day < l.first || day > l.last {
					continue // a search does not come to it
				}
				if !yield(casebook.Indexed{Term: l.term, Entry: casebook.Entry{Opened: p}}, nil) {
					return
				}
			}
		}
	}
}
