package rulesets_test

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/proofread"
)

// edit is a token as somebody misspells it.
type edit struct {
	token
	as string
}

// slips lists the ways of misspelling a word by one edit: each letter left out, each letter doubled by another or
// replaced by another, and each two neighbours swapped. The letters are drawn; what is the same word again is left out.
func slips(word string, r *rand.Rand) []string {
	letter := func() string { return string(rune('a' + r.IntN(26))) }
	var out []string
	for i := range len(word) {
		out = append(out, word[:i]+word[i+1:], word[:i]+letter()+word[i:], word[:i]+letter()+word[i+1:])
		if i+1 < len(word) {
			out = append(out, word[:i]+string(word[i+1])+string(word[i])+word[i+2:])
		}
	}
	out = append(out, word+letter())
	slices.Sort(out)
	return slices.DeleteFunc(slices.Compact(out), func(s string) bool {
		return s == word || s != strings.TrimSpace(s) ||
			s == ""
	})
}

// outcomes is how a class of words came out.
type outcomes struct{ tried, flagged, right int }

// spelling holds what the workers find.
type spelling struct {
	files  []kb.File
	known  map[string]map[string]bool // by token.among: a slip that is another of these words is not one
	mu     sync.Mutex
	by     map[string]*outcomes
	others map[string]int // slips that are another word
	wrong  map[string]int // confusions: word as slip, what was suggested
	missed []string
}

// Every name, choice and key of the shipped files, misspelt by one edit, is flagged where it stands and nowhere wider,
// and the suggestion is the word that was meant. One word of each unit is misspelt in a build, so that a build tries
// some hundred.
func TestMisspeltWordsAreFlaggedAndTheRightOneSuggested(t *testing.T) {
	rs := desk(t)
	files, _ := shippedFiles()
	w := tokensOf(t, rs, files)
	s := &spelling{files: files, known: knownWords(rs, w), by: map[string]*outcomes{}, others: map[string]int{},
		wrong: map[string]int{}}
	batches := w.batches(s)
	work := make(chan int)
	var workers sync.WaitGroup
	for range 2 {
		workers.Go(func() {
			for n := range work {
				s.check(t, n, batches[n])
			}
		})
	}
	for n := range batches {
		work <- n
	}
	close(work)
	workers.Wait()
	s.report(t, w, len(batches))
}

// batches draws the slips: of each unit a shuffled list, of which each batch of its turn takes one.
func (w *tokens) batches(s *spelling) [][]edit {
	r := rand.New(rand.NewPCG(3, 5)) //nolint:gosec // a test's draw
	units := map[string][]edit{}
	for _, k := range w.list {
		for _, as := range slips(k.text, r) {
			if s.known[k.among][as] {
				s.others[k.class]++
				continue
			}
			at := fmt.Sprintf("%02d %s", k.turn, k.unit)
			units[at] = append(units[at], edit{k, as})
		}
	}
	turns := map[int][][]edit{}
	for _, at := range slices.Sorted(maps.Keys(units)) {
		list := units[at]
		r.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		turns[list[0].turn] = append(turns[list[0].turn], list)
	}
	var out [][]edit
	for _, turn := range slices.Sorted(maps.Keys(turns)) {
		lists, limit := turns[turn], perUnit()
		if turn >= 50 { // facts, each of which is tried alone
			limit = (limit + 3) / 4
		}
		for i := 0; len(lists) > 0 && i < limit; i++ {
			var b []edit
			for _, list := range lists {
				b = append(b, list[i])
			}
			out = append(out, b)
			lists = slices.DeleteFunc(lists, func(list []edit) bool { return len(list) == i+1 })
		}
	}
	return out
}

// perUnit is how many slips of a unit are tried: of all there are 270,000, which take minutes.
func perUnit() int {
	switch {
	case os.Getenv("WHYSTONE_MISSPELT") == "all":
		return math.MaxInt / 2
	case thorough():
		return 10
	}
	return 3
}

// build lays the slips into the files and loads them. Where each came to lie is added to the offset of its token.
func (s *spelling) build(batch []edit) (*kb.Ruleset, diag.List, []diag.Span) {
	files := slices.Clone(s.files)
	spans := make([]diag.Span, len(batch))
	order := make([]int, len(batch))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(batch[a].file, batch[b].file), cmp.Compare(batch[a].start, batch[b].start))
	})
	for f := range files {
		var text strings.Builder
		at, old := 0, string(s.files[f].Source.Text)
		var here []int
		for _, i := range order {
			if e := batch[i]; e.file == f {
				text.WriteString(old[at:e.start])
				spans[i].Start = text.Len()
				text.WriteString(e.as)
				spans[i].End = text.Len()
				at = e.end()
				here = append(here, i)
			}
		}
		if len(here) == 0 {
			continue
		}
		text.WriteString(old[at:])
		files[f].Source = diag.NewSource(s.files[f].Source.Name, []byte(text.String()))
		for _, i := range here {
			spans[i].Source = files[f].Source
		}
	}
	rs, found := load.Build(files)
	return rs, found, spans
}

// at finds the first finding whose place is a span, quotes aside.
func at(found diag.List, sp diag.Span) *diag.Diagnostic {
	for i, d := range found {
		got := d.Span
		if text := got.Text(); len(text) > 1 && (text[0] == '"' || text[0] == '\'') && text[len(text)-1] == text[0] {
			got.Start, got.End = got.Start+1, got.End-1
		}
		if got == sp && d.Severity <= diag.Warning {
			return &found[i]
		}
	}
	return nil
}

// check tries a batch. Of a part of the batches it sees that a slip is found alone as it is found among the others.
func (s *spelling) check(t *testing.T, n int, batch []edit) {
	_, found, spans := s.build(batch)
	if d := at(found, spans[0]); n%12 == 0 && d != nil {
		_, alone, where := s.build(batch[:1])
		if a := at(alone, where[0]); a == nil || a.Code != d.Code || a.Nearest != d.Nearest || a.Summary != d.Summary {
			t.Errorf("%s as %q: among others %s, alone %v", batch[0].text, batch[0].as, d.Error(), a)
		}
	}
	for i, e := range batch {
		switch e.class {
		case established:
			s.factMisspelt(e)
			continue
		case accepted:
			rs, _, where := s.build(batch[i : i+1])
			s.count(e, proofreadAt(rs, where[0], diag.UnknownName))
			continue
		}
		d := at(found, spans[i])
		// what else is wrong may have kept it from being looked at
		if (d == nil || d.Nearest != e.text) && len(batch) > 1 {
			_, alone, where := s.build(batch[i : i+1])
			d = at(alone, where[0])
		}
		s.count(e, d)
	}
}

// established is the class of the facts that rules establish. A slip makes another fact of it, which is no mistake by
// itself.
const (
	established = "fact established"
	alsoOthers  = "fact that others establish too"
	accepted    = "code" // of a finding: proofreading knows them, loading doesn't
)

// factMisspelt looks at a fact that is established under another name. When nothing else establishes it, all that read
// it are told so, and suggested the misspelt name: the right pair, from its other side. Else it loads, as a fact that
// nobody reads, which proofreading finds where it stands.
func (s *spelling) factMisspelt(e edit) {
	rs, found, spans := s.build([]edit{e})
	if rs != nil {
		e.class = alsoOthers
		s.count(e, proofreadAt(rs, spans[0], "unread-fact"))
		return
	}
	var told *diag.Diagnostic
	for i, d := range found {
		if d.Code == "unknown-name" && d.Span.Text() == e.text {
			if told = &found[i]; d.Nearest != e.as {
				break
			}
		}
	}
	if told != nil && told.Nearest == e.as {
		told.Nearest = e.text
	}
	s.count(e, told)
}

// proofreadAt is what proofreading finds at a place under a code.
func proofreadAt(rs *kb.Ruleset, sp diag.Span, code diag.Code) *diag.Diagnostic {
	if rs == nil {
		return nil
	}
	report, err := proofread.Run(context.Background(), rs, proofread.Options{On: judgedOn})
	if err != nil {
		return nil
	}
	var found diag.List
	for _, f := range report.Findings {
		if f.Code == code {
			found.Add(f.Diagnostic)
		}
	}
	return at(found, sp)
}

func (s *spelling) count(e edit, d *diag.Diagnostic) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.by[e.class]
	if c == nil {
		c = &outcomes{}
		s.by[e.class] = c
	}
	c.tried++
	if d == nil {
		s.missed = append(s.missed, fmt.Sprintf("%s: %s as %q", s.files[e.file].Path, e.class+" "+e.text, e.as))
		return
	}
	c.flagged++
	if d.Nearest == e.text {
		c.right++
		return
	}
	s.wrong[fmt.Sprintf("%s %q: not %q but %q", e.class, e.as, e.text, d.Nearest)]++
}

func (s *spelling) report(t *testing.T, w *tokens, builds int) {
	var all outcomes
	for _, class := range slices.Sorted(maps.Keys(s.by)) {
		c := s.by[class]
		t.Logf("%-28s %6d tried, %6.2f %% flagged, %6.2f %% the right word first; %d slips are another word", class,
			c.tried, percent(c.flagged, c.tried), percent(c.right, c.tried), s.others[class])
		if c.tried >= 200 && percent(c.right, c.tried) < 90 {
			t.Errorf("%s: the right word is suggested first for %.1f %%; it should be 90 or more", class,
				percent(c.right, c.tried))
		}
		all.tried, all.flagged, all.right = all.tried+c.tried, all.flagged+c.flagged, all.right+c.right
	}
	t.Logf("%d words of %d classes; %d misspellings in %d builds: %.2f %% flagged, %.2f %% the right word first",
		len(w.list), len(s.by), all.tried, builds, percent(all.flagged, all.tried), percent(all.right, all.tried))
	t.Logf("left out: %v", w.left)
	confusions := slices.SortedFunc(maps.Keys(s.wrong),
		func(a, b string) int { return cmp.Or(cmp.Compare(s.wrong[b], s.wrong[a]), cmp.Compare(a, b)) })
	for _, c := range confusions[:min(len(confusions), 40)] {
		t.Logf("%4d  %s", s.wrong[c], c)
	}
	if percent(all.right, all.tried) < 95 {
		t.Errorf("the right word is suggested first for %.2f %%; it should be 95 or more",
			percent(all.right, all.tried))
	}
	slices.Sort(s.missed)
	for _, m := range s.missed[:min(len(s.missed), 60)] {
		t.Errorf("not flagged: %s", m)
	}
	if n := len(s.missed); n > 60 {
		t.Errorf("%d misspellings are not flagged", n)
	}
}

// knownWords lists, by where a word is from, what else may stand in a place: a slip that gives one of these is another
// word.
func knownWords(rs *kb.Ruleset, w *tokens) map[string]map[string]bool {
	known := map[string]map[string]bool{}
	add := func(class string, list ...string) {
		if known[class] == nil {
			known[class] = map[string]bool{}
		}
		for _, word := range list {
			known[class][word] = true
		}
	}
	for _, k := range w.list {
		add(k.among, k.text)
	}
	for _, class := range []string{"observable in a condition", "fact in a condition", "name of the stone",
		"claim or stake"} {
		add(class, rs.Scope.Names()...)
	}
	add("observable", rs.Vocabulary.Names()...)
	add("material", rs.NodeIDs()...)
	add("test", rs.TestIDs()...)
	add("key", "by", "at", "of", "r", "was", "tags")
	add("function", functions...)
	add("operator", operators...)
	add("code", diag.Words()...)
	for _, o := range rs.Vocabulary.Observables {
		add("of "+o.Name, o.Spellings()...)
	}
	return known
}
