package casebook_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gowebpki/jcs"
	"pgregory.net/rapid"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/memory"
	"whystone/cmd/whystone/casebook/storetest"
	"whystone/engine/archive"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

var ctx = context.Background()

// aCase has something of everything, with notes in the places where a reading may have one.
const aCase = `format: 1
case: HQ-7
claim: "diamond: old cut"
taken: 2031-03-04T10:15:00+00:00
stone: {mounted: false, carat: 0.880, cut: round brilliant}
stake: 2600
readings:
  colour: colourless   # seen by daylight
  ri:
    - value: 1.54
      note: |
        Mrs Smith looked too
        and agreed
    - {value: 1.545, note: 'Mrs Smith''s'}
  specific_gravity:
    value: 3.50
    uncertainty: 0.02
  facet_doubling: {choice: strong, where: "through the crown", note: Mrs Smith}
  inclusions: [feather,
    crystal]
truth: natural-diamond
note: brought by Mrs Smith
`

func book() *casebook.Book { return storetest.Book(memory.New()) }

func tree(t rapid.TB, text string) *syntax.Node {
	t.Helper()
	var found diag.List
	docs := syntax.ParseYAML(diag.NewSource("case", []byte(text)), &found)
	if len(docs) != 1 {
		t.Fatal(found)
	}
	return docs[0]
}

func opened(t rapid.TB, b *casebook.Book, text, customer string) *casebook.State {
	t.Helper()
	s, err := b.Open(ctx, "anna", casebook.Opening(tree(t, text), customer))
	if err != nil {
		t.Fatal(err)
	}
	return s[0]
}

func texts(t rapid.TB, b *casebook.Book, s *casebook.State) map[string]string {
	t.Helper()
	var out map[string]string
	if err := b.Read(ctx, func(v casebook.View) (err error) {
		out, err = casebook.Texts(v,
			s)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestAsTyped: readings are kept as they were typed, less the indentation of blocks; a note is not in the log, and
// stands in its place again where it is asked for.
func TestAsTyped(t *testing.T) {
	b := book()
	s := opened(t, b, aCase, "")
	want := map[string]string{
		"colour": "colourless",
		"ri": "- value: 1.54\n  note: |\n    Mrs Smith looked too\n    and agreed\n- {value: 1.545, " +
			"note: 'Mrs Smith''s'}",
		"specific_gravity": "value: 3.50\nuncertainty: 0.02",
		"facet_doubling":   `{choice: strong, where: "through the crown", note: Mrs Smith}`,
		"inclusions":       "[feather,\n    crystal]",
	}
	held := texts(t, b, s)
	for _, r := range s.Readings {
		if got := strings.TrimRight(r.Typed(held), "\n"); got != want[r.Observable] {
			t.Errorf("%s was typed\n%s\nand is kept as\n%s", r.Observable, want[r.Observable], got)
		}
		if strings.Contains(r.Text, "Smith") {
			t.Errorf("the log says %s", r.Text)
		}
	}
	if got := s.Fields["stone.carat"] + " " + s.Fields["claim"]; got != `0.880 "diamond: old cut"` {
		t.Errorf("the stone and the claim are kept as %s", got)
	}
	if err := b.Read(ctx, func(v casebook.View) error {
		for r := range v.Events(0) {
			if bytes.Contains(r.Text, []byte("Smith")) {
				t.Errorf("the log says %s", r.Text)
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}

// TestFormIsTheCase: the case form says what the file said, with notes and without.
func TestFormIsTheCase(t *testing.T) {
	b := book()
	s := opened(t, b, aCase, "")
	with := `{"format":1,"case":"` + s.Number +
		`","claim":"diamond: old cut","taken":"2031-03-04T10:15:00+00:00","stone":{"carat":0.880,"cut":"round brilliant","mounted":false},"stake":2600,"readings":{"colour":"colourless","ri":[{"value":1.54,"note":"Mrs Smith looked too\nand agreed\n"},{"value":1.545,"note":"Mrs Smith's"}],"specific_gravity":{"value":3.50,"uncertainty":0.02},"facet_doubling":{"choice":"strong","where":"through the crown","note":"Mrs Smith"},"inclusions":["feather","crystal"]},"truth":"natural-diamond","note":"brought by Mrs Smith"}`
	if got := s.Form(texts(t, b, s)); got != with {
		t.Errorf("the form is\n%s\nand should be\n%s", got, with)
	}
	if got := s.Form(nil); strings.Contains(got, "Smith") || !strings.Contains(got,
		`"where":"through the crown","note":null}`) {
		t.Errorf("without notes the form is %s", got)
	}
}

// TestTypedProperty: whatever flow or block value is drawn, what is kept says the same, with its notes cut out and put
// back.
func TestTypedProperty(t *testing.T) {
	scalar := rapid.SampledFrom([]string{"1.50", "-3e4", "word", "'quoted ''word'''", `"esc\u00e9 \"x\""`, "true",
		"null", "two words", `"1.5"`, "ä"})
	rapid.Check(t, func(rt *rapid.T) {
		var b strings.Builder
		b.WriteString("readings:\n  ri:")
		keys := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"value", "note", "where", "by"}), 1, 4,
			rapid.ID).Draw(rt, "keys")
		if rapid.Bool().Draw(rt, "flow") {
			b.WriteString(" {")
			for i, k := range keys {
				if i > 0 {
					b.WriteString(rapid.SampledFrom([]string{", ", ",\n     "}).Draw(rt, "comma"))
				}
				b.WriteString(k + ": " + scalar.Draw(rt, "scalar"))
			}
			b.WriteString("}\n")
		} else {
			b.WriteString("\n")
			for _, k := range keys {
				v := scalar.Draw(rt, "scalar")
				if k == "note" && rapid.Bool().Draw(rt, "literal") {
					v = "|\n        first\n\n          second"
				}
				b.WriteString("      " + k + ": " + v + "\n")
			}
		}
		n := tree(rt, b.String()).Get("readings").Get("ri")
		book := book()
		s, err := book.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened},
			casebook.Add("ri", casebook.Typed(n))})
		if err != nil {
			rt.Fatal(err)
		}
		r := s[0].Readings[0]
		back := casebook.Parse(diag.NewSource("", []byte(r.Typed(texts(rt, book, s[0])))), &diag.List{})
		if back == nil || archive.JSON(back) != archive.JSON(n) {
			rt.Fatalf("%s\nis kept as\n%s", b.String(), r.Typed(texts(rt, book, s[0])))
		}
		cut := casebook.Parse(diag.NewSource("", []byte(r.Text)), &diag.List{})
		if note := cut.Get("note"); note != nil && !note.IsNull() {
			rt.Fatalf("a note is in the log: %s", r.Text)
		}
	})
}

// TestWordsAreWhatYAMLReads: a text that is read without the reader of YAML is what that reads.
func TestWordsAreWhatYAMLReads(t *testing.T) {
	texts := []string{"null", "true", "No", "NaN", "a: b", "a #b", "a, b", "--- a", "e3", "round brilliant"}
	for short := []string{""}; len(short[0]) < 4; {
		var longer []string
		for _, s := range short {
			for _, c := range "aT0- :#.,é" {
				longer = append(longer, s+string(c))
			}
		}
		texts, short = append(texts, longer...), longer
	}
	for _, text := range texts {
		want := syntax.ParseYAML(diag.NewSource("x", []byte(text)), &diag.List{})
		got := casebook.Parse(diag.NewSource("x", []byte(text)), &diag.List{})
		if got == nil || len(want) == 0 || json.Valid([]byte(text)) {
			continue
		}
		got.Span.Source, want[0].Span.Source = nil, nil
		if !reflect.DeepEqual(got, want[0]) {
			t.Errorf("%q is read as %+v, and is %+v", text, got, want[0])
		}
	}
}

// TestRepeats: several readings of an observable are a list in the case form, whatever form each was typed in.
func TestRepeats(t *testing.T) {
	b := book()
	s := opened(t, b, "case: A\nreadings: {ri: [1.544, 1.553]}", "")
	s, err := b.Do(ctx, "ben", s, 0, nil, casebook.Add("ri", "1.55"),
		casebook.Add("ri", "[{value: 1.5}, {above: 1.4}]"), casebook.Add("hue", "red"))
	if err != nil {
		t.Fatal(err)
	}
	want := `"readings":{"ri":[{"value":[1.544,1.553]},{"value":1.55},{"value":1.5},{"above":1.4}],"hue":"red"}`
	if got := s.Form(nil); !strings.Contains(got, want) {
		t.Errorf("the form is %s", got)
	}
}

// TestNeedsSeen: what may undo another's work needs the version that was seen; what adds does not.
func TestNeedsSeen(t *testing.T) {
	b := book()
	s := opened(t, b, "case: A\nreadings: {ri: 1.5}", "")
	for _, d := range []casebook.Deed{casebook.Correct(2, "1.6", "x"), casebook.Withdraw(2, "x"), casebook.Close(""),
		casebook.Amend(map[string]string{"claim": "x"}, "x")} {
		if _, err := b.Do(ctx, "ben", s, 0, nil, d); err == nil {
			t.Errorf("%s is done by one who saw nothing", d.Kind)
		}
	}
	if _, err := b.Do(ctx, "", s, 0, nil, casebook.Add("ri", "1")); err == nil {
		t.Error("nobody added a reading")
	}
}

// TestEveryTransition: what can't follow is refused, and leaves nothing.
func TestEveryTransition(t *testing.T) {
	b := book()
	s := opened(t, b, "case: A\nreadings: {ri: 1.5, hue: red}", "Mrs Smith")
	if _, err := b.Do(ctx, "a", s, s.Version, nil, casebook.Withdraw(2, "x")); err != nil {
		t.Fatal(err)
	}
	for name, d := range map[string]casebook.Deed{
		"withdrawn twice": casebook.Withdraw(2, "x"), "corrected after it was withdrawn": casebook.Correct(2, "1", "x"),
		"no such reading": casebook.Withdraw(9, "x"), "without a reason": casebook.Withdraw(3, ""),
		"an unknown field": casebook.Amend(map[string]string{"colour": "x"}, "x"),
		"opened twice":     {Kind: casebook.Opened}, "a verdict of nothing": {Kind: casebook.Issued},
		"a report of yesterday":    casebook.Know(casebook.Finding{Material: "glass", Dated: "yesterday"}),
		"a report of a day or two": casebook.Know(casebook.Finding{Material: "glass", Dated: "1.2.2031"}),
		"a truth of nothing":       {Kind: casebook.Truth}, "a note of nothing": {Kind: casebook.Noted},
		"open already": casebook.Reopen(""), "an unknown kind": {Kind: "burnt"},
		"an erasure of another's": casebook.Forget([]string{"9/1"}, "x"), "bad UTF-8": casebook.Withdraw(3, "\xff"),
	} {
		if _, err := b.Do(ctx, "a", s, s.Version+1, nil, d); err == nil {
			t.Errorf("%s is done", name)
		}
	}
	if _, err := b.Do(ctx, "a", s, s.Version+1, nil, casebook.Close("")); err != nil {
		t.Fatal(err)
	}
	for _, d := range []casebook.Deed{casebook.Add("ri", "1"), casebook.Write(casebook.Note, "x"), casebook.Close("")} {
		if _, err := b.Do(ctx, "a", s, s.Version+2, nil, d); err == nil {
			t.Errorf("%s in a closed case", d.Kind)
		}
	}
	if _, err := b.Do(ctx, "a", s, 0, nil, casebook.Forget([]string{"1/1"}, "asked for"),
		casebook.Know(casebook.Finding{Material: "glass"})); err != nil {
		t.Errorf("in a closed case what is held apart can't be erased, or the truth not recorded: %s", err)
	}
}

// TestNumbers: each year counts from one, a clock that goes back repeats no number, and after a restore counting goes
// on above what the backup knows.
func TestNumbers(t *testing.T) {
	b := book()
	at := time.Date(2031, 12, 31, 23, 0, 0, 0, time.UTC)
	b.Now = func() time.Time { return at }
	seen := map[string]bool{}
	next := func(year, running int) {
		t.Helper()
		s := opened(t, b, "case: A", "")
		if want := casebook.Number(year, running); s.Number != want || seen[s.Number] {
			t.Errorf("the number is %s, should be %s", s.Number, want)
		}
		seen[s.Number] = true
	}
	next(2031, 1)
	next(2031, 2)
	at = at.AddDate(0, 0, 1)
	next(2032, 1)
	at = at.AddDate(0, 0, -1)
	next(2031, 3)
	at = at.AddDate(0, 0, -180) // the clock is wrong by half a year
	next(2031, 4)
	at = at.AddDate(0, 0, 180)
	next(2031, 5)
	if err := b.Restore(ctx, "anna", 1000); err != nil {
		t.Fatal(err)
	}
	next(2031, 1006)
	next(2031, 1007)
	at = at.AddDate(0, 0, 1)
	next(2032, 2)
}

// TestExportOfEverything: read back, it is the same book to the byte; without particulars what is missing is recorded
// as erased; a changed, cut or repeated line is refused whole.
func TestExportOfEverything(t *testing.T) {
	b := book()
	s := opened(t, b, aCase, "Mrs Smith, Quay 4")
	text, list := []byte("Told."), []byte("[]")
	issue := casebook.Deed{Kind: casebook.Issued, Blobs: [][]byte{text, list},
		Data: casebook.Data{Verdict: &casebook.Verdict{Told: casebook.Hash(text), Why: casebook.Hash(text),
			Chain: casebook.Hash(text), Files: casebook.Hash(list), Verdict: "narrowed"}}}
	if _, err := b.Do(ctx, "ben", s, 0, nil, issue, casebook.Show("image/png", []byte{0, 1, 2}),
		casebook.Write(casebook.Note, "note")); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Do(ctx, "ben", s, 0, nil, casebook.Forget([]string{fmt.Sprintf("%d/1", s.Version+3)},
		"asked for")); err != nil {
		t.Fatal(err)
	}
	whole := export(t, b, true)
	twin := book()
	if left, err := twin.ImportEvents(ctx, "cora", strings.NewReader(whole)); err != nil || left != 0 {
		t.Fatal(left, err)
	}
	if got := export(t, twin, true); got != whole {
		t.Errorf("read back it is\n%s\nand was\n%s", got, whole)
	}
	sound(t, twin)
	bare := export(t, b, false)
	if strings.Contains(bare, "Smith") || strings.Contains(bare, `"held"`) {
		t.Error("an export that nobody asked for particulars has some")
	}
	twin = book()
	if left, err := twin.ImportEvents(ctx, "cora", strings.NewReader(bare)); err != nil || left == 0 {
		t.Fatal(left, err)
	}
	sound(t, twin)

	lines := strings.SplitAfter(whole, "\n")
	for name, changed := range map[string][]string{
		"cut": lines[:len(lines)-2], "a line less": slices.Delete(slices.Clone(lines), 5, 6),
		"a line twice": slices.Insert(slices.Clone(lines), 5, lines[5]), "without its first line": lines[1:],
		"another note": {strings.Replace(whole, `"content":"TXJz`,
			`"content":"TVJz`, 1)},
		"another claim": {strings.Replace(whole, "old cut", "new cut", 1)}, "not JSON": {"{"}, "empty": {""},
		"a case": {`{"case":"A"}`},
	} {
		twin := book()
		if _, err := twin.ImportEvents(ctx, "cora", strings.NewReader(strings.Join(changed, ""))); err == nil {
			t.Errorf("%s: it is taken", name)
		}
		if got := export(t, twin, true); strings.Count(got, "\n") != 1 {
			t.Errorf("%s: something was written: %s", name, got)
		}
	}
	lines = strings.SplitAfter(bare, "\n")
	if _, err := book().ImportEvents(ctx, "cora", strings.NewReader(strings.Join(lines[:len(lines)-2],
		""))); err == nil {
		t.Error("an export without particulars that is cut is taken")
	}
	if _, err := b.ImportEvents(ctx, "cora", strings.NewReader(whole)); err == nil {
		t.Error("it is read into a book that is not empty")
	}
}

func export(t testing.TB, b *casebook.Book, particulars bool) string {
	t.Helper()
	var out bytes.Buffer
	if err := b.Read(ctx, func(v casebook.View) error {
		return casebook.ExportEvents(v, &out,
			particulars)
	}); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func sound(t testing.TB, b *casebook.Book) {
	t.Helper()
	v, err := b.Verify(ctx)
	if err != nil || !v.Whole() || v.Index {
		t.Errorf("the book is not whole: %+v, %v", v, err)
	}
}

// TestHeads: a head from a report fits a book that only grew, and neither one that was written anew nor one that was
// cut.
func TestHeads(t *testing.T) {
	b := book()
	opened(t, b, aCase, "")
	v, err := b.Verify(ctx)
	if err != nil {
		t.Fatal(err)
	}
	head, err := casebook.ParseHead(v.Head)
	if err != nil {
		t.Fatal(err)
	}
	opened(t, b, aCase, "")
	for name, x := range map[string]struct {
		book  *casebook.Book
		whole bool
	}{"grown": {b, true}, "written anew": {book(), false}, "cut": {book(), false}} {
		switch name {
		case "written anew":
			opened(t, x.book, strings.Replace(aCase, "0.880", "0.881", 1), "")
			opened(t, x.book, aCase, "")
		case "cut":
			opened(t, x.book, "case: A", "")
		}
		if v, err := x.book.Verify(ctx, head); err != nil || v.Whole() != x.whole {
			t.Errorf("%s: %+v, %v", name, v, err)
		}
	}
	for _, bad := range []string{"", "12", "12-", "12-xyz", "x-0123456789abcdef", "0-0123456789abcdef", "12-0123",
		"012-0123456789abcdef", "12-0123456789abcdef" + strings.Repeat("0", 60)} {
		if h, err := casebook.ParseHead(bad); err == nil {
			t.Errorf("%q is read as the head %s", bad, h)
		}
	}
}

// TestRuleset: the files of a ruleset come back byte for byte, by layer and path.
func TestRuleset(t *testing.T) {
	rs := loadDesk(t)
	d, err := casebook.Issue(casebook.Telling{Told: []byte("told"), Why: []byte("why"), Chain: []byte("{}"),
		Output: outputOf(rs), Ruleset: rs, Program: "p"})
	if err != nil {
		t.Fatal(err)
	}
	b := book()
	s := opened(t, b, "case: A", "")
	if s, err = b.Do(ctx, "a", s, 0, nil, d); err != nil {
		t.Fatal(err)
	}
	if err := b.Read(ctx, func(v casebook.View) error {
		files, err := casebook.Files(v, s.Last().Verdict)
		if err != nil {
			return err
		}
		for i, f := range rs.Files {
			g := files[i]
			on, err := os.ReadFile(filepath.Join("..", "testdata", "desk", f.Path))
			if err != nil || f.Layer != g.Layer || f.Path != g.Path || !bytes.Equal(on, g.Source.Text) ||
				f.Source.Name != g.Source.Name {
				t.Errorf("%s comes back as %s", f.Source.Name, g.Source.Name)
			}
		}
		if len(files) != len(rs.Files) || len(files) == 0 {
			t.Errorf("%d files of %d", len(files), len(rs.Files))
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	sound(t, b)
}

// TestSealedIsCanonical: whatever an event says, its text is the canonical JSON that a library makes of it.
func TestSealedIsCanonical(t *testing.T) {
	unusual := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "<&>", "\u2028\u2029", "\x00\x7f\b\f\r\n\t",
		`\u2028"`, "\ufffd\uffff", "\U0001d11e", "é"}))
	rapid.Check(t, func(t *rapid.T) {
		e := casebook.Event{At: time.Date(2031, 4, 12, 10, 20, 0, rapid.IntRange(0, 1e9-1).Draw(t, "ns"), time.UTC)}
		// few, so that each stands alone at times
		text := rapid.SampledFrom(append(rapid.SliceOfN(unusual, 0, 2).Draw(t, "unusual"), "ri", "\uffee"))
		fill(reflect.ValueOf(&e).Elem(), func() string { return text.Draw(t, "text") })
		raw, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		want, err := jcs.Transform(raw)
		if err != nil {
			t.Fatal(err)
		}
		if r, err := e.Seal(); err != nil || string(r.Text) != string(want) {
			t.Fatalf("%v\n%s\nshould be\n%s", err, r.Text, want)
		}
	})
}

// fill puts something into every field.
func fill(v reflect.Value, text func() string) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(text())
	case reflect.Int, reflect.Int64:
		v.SetInt(7)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), text)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fill(v.Index(1), text)
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		for range 3 {
			x := reflect.New(v.Type().Elem()).Elem()
			fill(x, text)
			v.SetMapIndex(reflect.ValueOf(text()), x)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Field(i).Type() != reflect.TypeFor[time.Time]() {
				fill(v.Field(i), text)
			}
		}
	}
}

// FuzzEvent reads any text as an event's record: it never panics, and what is read seals to the same text.
func FuzzEvent(f *testing.F) {
	b := book()
	opened(f, b, aCase, "")
	if err := b.Read(ctx, func(v casebook.View) error {
		for r := range v.Events(0) {
			f.Add(string(r.Text))
		}
		return nil
	}); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		var e casebook.Event
		if json.Unmarshal([]byte(text), &e) != nil {
			return
		}
		r, err := e.Seal()
		if err != nil {
			return
		}
		back, err := r.Event()
		if err != nil {
			if e.Format == casebook.Format {
				t.Fatalf("what was sealed can't be read: %s", err)
			}
			return
		}
		again, err := back.Seal()
		if err != nil || again.Hash != r.Hash {
			t.Fatalf("%s\nseals to\n%s", r.Text, again.Text)
		}
		if s, err := casebook.Fold([]*casebook.Event{back}); err == nil {
			_ = s.Form(nil)
		}
	})
}

// TestLaterFormat: an event of a shape that this program does not know is refused by that, and not read by half.
func TestLaterFormat(t *testing.T) {
	e := casebook.Event{Format: casebook.Format + 1, Seq: 1, Case: "2031-1-T", Version: 1, Kind: casebook.Opened,
		By: "anna"}
	r, err := e.Seal()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Event(); err == nil || !strings.Contains(err.Error(),
		"is written in format 2; this program reads format 1") {
		t.Errorf("the answer is %v", err)
	}
}
