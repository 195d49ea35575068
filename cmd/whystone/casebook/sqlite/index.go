package sqlite

import (
	"cmp"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/database"
)

// The index is written where that is cheap, and read where that is. To open a case writes one row at the end of a
// table, with the case's terms in it. Now and then what is new is settled: its terms go into lists, one of a term and a
// stretch of the log, and a search finds the cases of several terms by what their lists of one stretch have in common.
// So it reads the few new rows, and a hundred lists of each term for a million events, however common the terms are.
//
// The length of a stretch is part of the file's form, and what is settled when is not.
const stretch = 1 << 13 // places of the log

// What is new is settled after so many events, and after so many cases of one write. Tests settle oftener.
var everyEvents, everyCases int64 = 1 << 10, 1 << 9

// pack writes the places of cases in a stretch, which rise, as their distances.
func pack(stretchOf int64, places []int64) []byte {
	var out []byte
	last := stretchOf * stretch
	for _, p := range places {
		out = binary.AppendUvarint(out, uint64(p-last))
		last = p
	}
	return out
}

func unpack(stretchOf int64, packed []byte) ([]int64, error) {
	out := make([]int64, 0, len(packed))
	last := stretchOf * stretch
	for len(packed) > 0 {
		d, n := binary.Uvarint(packed)
		if n <= 0 || d >= stretch {
			return nil, fmt.Errorf("%w: a list of cases can't be read", casebook.ErrDamaged)
		}
		last += int64(d)
		out, packed = append(out, last), packed[n:]
	}
	return out, nil
}

// settled is the last case whose terms are in lists.
func (v *view) settled() (int64, error) { return value[int64](v, v.st.settled) }

// putIndex puts a case into the index.
func (v *view) putIndex(ix casebook.Indexing) error {
	r, err := v.exec(v.st.addEntry, ix.Opened, ix.Number, ix.Year, ix.Running, ix.Day, string(ix.Summary),
		lines(ix.Add))
	if err != nil {
		return err
	}
	if added, err := r.RowsAffected(); err != nil || added > 0 {
		v.fresh += added
		return err
	}
	settled, err := v.settled()
	if err != nil {
		return err
	}
	var text string
	if ix.Opened > settled {
		if text, err = value[string](v, v.st.termsOf, ix.Opened); err != nil {
			return err
		}
		for _, t := range ix.Drop {
			text = strings.Replace(text, "\n"+t+"\n", "\n", 1)
		}
		there := slices.DeleteFunc(terms(text), func(t string) bool { return slices.Contains(ix.Add, t) })
		text = lines(slices.Concat(there, ix.Add))
	} else if err := v.relist(ix); err != nil {
		return err
	}
	_, err = v.exec(v.st.changeEntry, string(ix.Summary), text, ix.Opened)
	return err
}

// lines are terms as they stand in an entry; terms, the other way round.
func lines(terms []string) string {
	if len(terms) == 0 {
		return ""
	}
	return "\n" + strings.Join(terms, "\n") + "\n"
}

func terms(lines string) []string {
	return strings.FieldsFunc(lines, func(r rune) bool { return r == '\n' })
}

// relist changes the lists in which a settled case stands.
func (v *view) relist(ix casebook.Indexing) error {
	for _, t := range ix.Drop {
		if err := v.list(t, ix.Opened/stretch, func(at []int64) []int64 {
			return slices.DeleteFunc(at, func(p int64) bool { return p == ix.Opened })
		}); err != nil {
			return err
		}
	}
	for _, t := range ix.Add {
		if err := v.list(t, ix.Opened/stretch, func(at []int64) []int64 {
			if i, there := slices.BinarySearch(at, ix.Opened); !there {
				at = slices.Insert(at, i, ix.Opened)
			}
			return at
		}); err != nil {
			return err
		}
	}
	return nil
}

// list changes one list. One that has become empty is taken out.
func (v *view) list(term string, stretchOf int64, change func([]int64) []int64) error {
	packed, err := value[[]byte](v, v.st.list, term, stretchOf)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	at, err := unpack(stretchOf, packed)
	if err != nil {
		return err
	}
	if at = change(at); len(at) == 0 {
		_, err = v.exec(v.st.dropList, term, stretchOf)
	} else {
		_, err = v.exec(v.st.putList, term, stretchOf, pack(stretchOf, at))
	}
	return err
}

// settle puts the terms of all new cases into lists.
func (v *view) settle() error {
	v.fresh = 0
	settled, err := v.settled()
	if err != nil {
		return err
	}
	fresh, err := database.All(rowsOf(v, v.st.unsettled, func(rows *sql.Rows) (e unsettled, err error) {
		err = rows.Scan(&e.opened, &e.day, &e.terms)
		return e, err
	}, settled))
	if err != nil || len(fresh) == 0 {
		return err
	}
	type key struct {
		stretch int64
		term    string
	}
	at := map[key][]int64{}
	for _, e := range fresh {
		for _, t := range terms(e.terms) {
			k := key{e.opened / stretch, t}
			at[k] = append(at[k], e.opened)
		}
		if _, err := v.exec(v.st.putStretch, e.opened/stretch, e.day, e.opened); err != nil {
			return err
		}
	}
	for _, k := range slices.SortedFunc(maps.Keys(at), func(a, b key) int {
		return cmp.Or(cmp.Compare(a.term, b.term), cmp.Compare(a.stretch, b.stretch))
	}) {
		if err := v.list(k.term, k.stretch, func(old []int64) []int64 { return append(old, at[k]...) }); err != nil {
			return err
		}
	}
	_, err = v.exec(v.st.emptyTerms, settled)
	return err
}

// unsettled is a new case.
type unsettled struct {
	opened     int64
	day, terms string
}
