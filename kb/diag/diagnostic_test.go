package diag

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestErrorIsOneLine(t *testing.T) {
	s := NewSource("a.yaml", []byte("x: y"))
	d := Diagnostic{Code: "unknown-key", Summary: "no \"x\"\nhere\x1b[31m", Span: Span{s, 3, 4}, Nearest: "z"}
	want := "a.yaml:1:4: error: no \"x\" here\uFFFD[31m [unknown-key]; did you mean \"z\"?"
	if got := d.Error(); got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if got := (Diagnostic{Summary: "s", Severity: Note}).Error(); got != "note: s" {
		t.Errorf("without place and code: %q", got)
	}
}

func TestList(t *testing.T) {
	var l List
	if l.HasErrors() || l.Err() != nil {
		t.Error("an empty list is no error")
	}
	l.Warnf("inactive", Span{}, "%d", 1)
	l.Notef("inactive", Span{}, "n")
	if l.HasErrors() || l.Err() != nil || l.Errors() != 0 {
		t.Error("warnings are no errors")
	}
	l.Errorf("bad-id", Span{}, "an id %q", "x").Detail = "why"
	if got := l[2]; got.Detail != "why" || got.Severity != Error || got.Summary != `an id "x"` {
		t.Errorf("got %+v", got)
	}
	err := l.Err()
	if err == nil || strings.Count(err.Error(), "\n") != 2 {
		t.Errorf("Err() = %v", err)
	}
}

// TestCalling: what a summary names is called as whoever words it calls it, and the diagnostic itself stays as it was.
func TestCalling(t *testing.T) {
	call := func(x any) any {
		switch x := x.(type) {
		case Name:
			return "the " + string(x)
		case Test:
			return "a " + string(x)
		}
		return x
	}
	var l List
	l.Errorf("beyond-limit", Span{}, "%s reads %s up to %g only, not %q", Test("scale"), Name("weight"), 9.5,
		Name("cut"))
	l.Errorf("beyond-limit", Span{}, "%s reads up to %g", Test("scale"), 9.5)
	for i, want := range []struct {
		is, called string
		named      bool
	}{
		{`scale reads weight up to 9.5 only, not "cut"`, `a scale reads the weight up to 9.5 only, not "the cut"`, true},
		{"scale reads up to 9.5", "a scale reads up to 9.5", false},
	} {
		if got := l[i].Calling(call).Summary; got != want.called {
			t.Errorf("%q is worded %q", want.is, got)
		}
		if l[i].Summary != want.is || l[i].Calling(func(x any) any { return x }).Summary != want.is {
			t.Errorf("%q became %q", want.is, l[i].Summary)
		}
		if l[i].Named() != want.named {
			t.Errorf("%q: named is %t", want.is, !want.named)
		}
	}
}

// TestAdvice: who writes a file is told what holds for anybody, then what to write.
func TestAdvice(t *testing.T) {
	for want, d := range map[string]Diagnostic{
		"":                        {},
		"Look again.":             {Detail: "Look again."},
		"Write {a: 1}.":           {Write: "Write {a: 1}."},
		"Look again. Write a: 1.": {Detail: "Look again.", Write: "Write a: 1."},
	} {
		if got := d.Advice(); got != want || d.Object().Detail != want {
			t.Errorf("%q and %q, want %q", got, d.Object().Detail, want)
		}
		var b strings.Builder
		if err := WriteText(&b, List{d}, TextOptions{}); err != nil || !strings.HasSuffix(b.String(), want+"\n") {
			t.Errorf("%q is written as %q", want, b.String())
		}
	}
}

func TestSort(t *testing.T) {
	a, b := NewSource("a", []byte("0123")), NewSource("b", []byte("0123"))
	sorted := List{
		{Summary: "nowhere"},
		{Span: Span{a, 1, 1}, Severity: Error, Code: "x", Summary: "1"},
		{Span: Span{a, 1, 1}, Severity: Error, Code: "x", Summary: "2"},
		{Span: Span{a, 1, 1}, Severity: Error, Code: "y", Summary: "0"},
		{Span: Span{a, 1, 1}, Severity: Warning, Code: "a"},
		{Span: Span{a, 2, 2}, Severity: Error},
		{Span: Span{b, 0, 2}, Severity: Note},
	}
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.Permutation(sorted).Draw(t, "order")
		l.Sort()
		for i := range l {
			if l[i].Error() != sorted[i].Error() {
				t.Fatalf("place %d: %v, want %v", i, l[i], sorted[i])
			}
		}
	})
}

// TestBeyond: what was there before is known wherever it moved to, and as often as it was there.
func TestBeyond(t *testing.T) {
	at := func(text string, start, end int) Span {
		return Span{Source: NewSource("f", []byte(text)), Start: start, End: end}
	}
	weak := func(sp Span) Diagnostic {
		return Diagnostic{Code: Inactive, Summary: "no material satisfies this", Span: sp}
	}
	was := List{weak(at("a: ri > 9", 3, 9)), {Code: NotAllowed, Summary: "x"}}
	moved := weak(at("# c\na: ri > 9", 7, 13))
	for _, c := range []struct {
		says string
		now  List
		want int
	}{
		{"nothing", nil, 0},
		{"the same, a line lower", List{moved}, 0},
		{"the same words of another text", List{moved, weak(at("b: ri > 8", 3, 9))}, 1},
		{"the same words of another text instead", List{weak(at("b: ri > 8", 3, 9))}, 1},
		{"the same once more", List{moved, moved, moved}, 2},
		{"another code", List{{Code: BadText, Summary: "x"}}, 1},
		{"other words", List{{Code: NotAllowed, Summary: "y"}}, 1},
		{"another file", List{{Code: NotAllowed, Summary: "x", Span: at("x", 0, 0)}}, 1},
	} {
		if got := c.now.Beyond(was); len(got) != c.want {
			t.Errorf("%s: %v", c.says, got)
		}
	}
}

func TestSortIsStable(t *testing.T) {
	l := List{{Summary: "s", Detail: "1"}, {Summary: "s", Detail: "2"}, {Summary: "s", Detail: "3"}}
	l.Sort()
	if got := l[0].Detail + l[1].Detail + l[2].Detail; got != "123" {
		t.Errorf("got %s", got)
	}
}

func TestCodesAreSortedKebabCaseAndExplained(t *testing.T) {
	kebab := regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`)
	for i, c := range Codes() {
		if !kebab.MatchString(string(c.Code)) {
			t.Errorf("%q is not kebab-case", c.Code)
		}
		if i > 0 && known[i-1].Code >= c.Code {
			t.Errorf("%q stands before %q", known[i-1].Code, c.Code)
		}
		if len(c.Says) < 20 || !strings.HasSuffix(c.Says, ".") || strings.Contains(c.Says, "\n") {
			t.Errorf("%q is not explained in one sentence: %q", c.Code, c.Says)
		}
		if e, ok := Explain(c.Code); !ok || !Known(c.Code) || e.Says != c.Says || len(e.Help) < 40 {
			t.Errorf("%s is explained by %q", c.Code, e.Help)
		}
	}
	if _, ok := Explain("never-heard-of"); ok || Known("no-such-code") || Known("") {
		t.Error("what was not registered must not be known")
	}
	got := Codes()
	got[0].Code = "changed"
	if known[0].Code == "changed" {
		t.Error("Codes() must hand out a copy")
	}
}

// TestNew: a code is put in its place, and no code twice.
func TestNew(t *testing.T) {
	before := slices.Clone(known)
	defer func() {
		if recover() == nil {
			t.Error("a code was registered twice")
		}
		if words := Words(); !slices.IsSorted(words) || !slices.Contains(words, "made-up") {
			t.Errorf("%q", words)
		}
		known = before
	}()
	New("made-up", "x", "y")
	New(BadText, "", "")
}

func TestSeverity(t *testing.T) {
	for _, s := range []Severity{Error, Warning, Note} {
		text, err := s.MarshalText()
		var back Severity = 99
		if err != nil || back.UnmarshalText(text) != nil || back != s {
			t.Errorf("%v became %q, then %v", s, text, back)
		}
	}
	var s Severity
	if err := s.UnmarshalText([]byte("fatal")); err == nil {
		t.Error("an unknown severity must be refused")
	}
	if got := Severity(7).String(); got != "severity 7" {
		t.Errorf("got %q", got)
	}
}

func TestNearest(t *testing.T) {
	known := []string{"colour", "transparency", "specific_gravity", "ri", "cut", "thermal_probe"}
	for name, want := range map[string]string{
		//nolint:misspell // that is the point
		"color": "colour", "Colour": "colour", "coluor": "colour", "specific gravity": "specific_gravity",
		"specific-gravty": "specific_gravity", "r": "ri", "rii": "ri", "ir": "ri", "x": "", "": "", "cat": "cut",
		"dog": "", "thermal_prob": "thermal_probe", "unrelated": "", strings.Repeat("colour", 50): "",
	} {
		if got := Nearest(name, known); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", name, got, want)
		}
	}
	if got := Nearest("bat", []string{"hat", "cat", "rat"}); got != "cat" {
		t.Errorf("of equals the first in sorted order is wanted, got %q", got)
	}
	if got := Nearest("x", []string{"y"}); got != "" {
		t.Errorf("no letter is shared with %q", got)
	}
	if got := Nearest("abcd", []string{"abxx", "abcx"}); got != "abcx" {
		t.Errorf("the closer one is wanted, got %q", got)
	}
}

// A name may be near by its initials, where nothing is within two slips.
func TestNearestOrAbbreviated(t *testing.T) {
	lists := [][]string{{"specific_gravity", "ri", "stone.carat"}, {"derived_index", "second_glance", "steady_glow"}}
	for name, want := range map[string]string{
		"sg": "specific_gravity", "SG": "specific_gravity", "refractive_index": "ri", "RI": "ri",
		"derived_indx": "derived_index", "x": "", "": "", "se": "", "specific_gravty": "specific_gravity",
		"glow": "steady_glow", "carat": "stone.carat", "ar": "",
	} {
		if got := NearestOrAbbreviated(name, lists...); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
	if got := NearestOrAbbreviated("sg", lists[1][1:3]); got != "" {
		t.Errorf("of several none is meant: %q", got)
	}
}

// A name may have its words in another order; where two fit as well, neither is meant.
func TestByWords(t *testing.T) {
	known := []string{"doublet at 694 nm", "line at 594 nm", "line at 415 nm", "bands at 450 and 458 nm",
		"cut-off near 425 nm"}
	for name, want := range map[string]string{"694 nm doublet": "doublet at 694 nm", "415 nm": "line at 415 nm",
		"line": "", "nm line": "", "bands 450 458": "bands at 450 and 458 nm", "": "",
		"cut off 425": "cut-off near 425 nm"} {
		if got := ByWords(name, known); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// Of equally close names the same first letter comes first, then the same last, then the same length; a better fitting
// list beats both, and nothing beats the distance.
func TestNearestOfEquals(t *testing.T) {
	for _, tt := range []struct {
		name  string
		lists [][]string
		want  string
	}{
		{"uiaxial", [][]string{{"biaxial", "uniaxial"}}, "uniaxial"},
		{"coluorless", [][]string{{"colorless", "colourless"}}, "colourless"}, //nolint:misspell // that is the point
		{"gren", [][]string{{"grey", "green"}}, "green"},
		{"stone.cet", [][]string{{"stone.wet", "stone.cut"}}, "stone.cut"},
		{"on", [][]string{{"in", "or"}}, "or"},
		{"on", [][]string{{"in"}, {"in", "or"}}, "in"},
		{"hardnes", [][]string{{"hardens"}, {"hardness"}}, "hardens"},
		{"hardnesss", [][]string{{"hardens"}, {"hardness"}}, "hardness"},
		{"x", [][]string{{""}, nil}, ""},
		{"ab", [][]string{{"ba", "abc"}}, "abc"},
	} {
		if got := NearestOf(tt.name, tt.lists...); got != tt.want {
			t.Errorf("NearestOf(%q, %q) = %q, want %q", tt.name, tt.lists, got, tt.want)
		}
	}
}

func TestSlip(t *testing.T) {
	known := []string{"absorption", "thermal", "density", "uv"}
	for name, want := range map[string]string{"absorpsion": "absorption", "thermal": "", "termal": "thermal",
		"tenacity": "", "densities": "", "vu": "uv", "": ""} {
		if got := Slip(name, known); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// The textbook examples of the two distances, from memory: kitten and Saturday for Levenshtein's, which has no swap to
// make there; CA and ABC are 3 apart when no substring is edited twice, and 2 when one may be.
func TestAlignmentOfTextbookExamples(t *testing.T) {
	for _, tt := range []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, {"saturday", "sunday", 3}, {"flaw", "lawn", 2}, {"gumbo", "gambol", 2},
		{"ca", "abc", 3},
		{"teh", "the", 1}, {"", "abc", 3},
	} {
		if got := alignment([]rune(tt.a), []rune(tt.b)); got != tt.want {
			t.Errorf("%s to %s: %d, want %d", tt.a, tt.b, got, tt.want)
		}
		if got := alignment([]rune(tt.b), []rune(tt.a)); got != tt.want {
			t.Errorf("%s to %s: %d, want %d", tt.b, tt.a, got, tt.want)
		}
	}
}

// slowAlignment is the recurrence as it is defined, without a table: d(i,j) over prefixes, a swap costing one.
func slowAlignment(a, b []rune) int {
	if len(a) == 0 || len(b) == 0 {
		return len(a) + len(b)
	}
	x, y := a[:len(a)-1], b[:len(b)-1]
	change := slowAlignment(x, y)
	if a[len(a)-1] != b[len(b)-1] {
		change++
	}
	best := min(slowAlignment(x, b)+1, slowAlignment(a, y)+1, change)
	if len(x) > 0 && len(y) > 0 && a[len(a)-1] == y[len(y)-1] && x[len(x)-1] == b[len(b)-1] {
		best = min(best, slowAlignment(x[:len(x)-1], y[:len(y)-1])+1)
	}
	return best
}

func TestAlignmentAgreesWithItsRecurrence(t *testing.T) {
	word := rapid.StringOfN(rapid.SampledFrom([]rune("abé")), 0, 6, -1)
	rapid.Check(t, func(t *rapid.T) {
		a, b := []rune(word.Draw(t, "a")), []rune(word.Draw(t, "b"))
		if got, want := alignment(a, b), slowAlignment(a, b); got != want {
			t.Fatalf("%q to %q: %d, want %d", string(a), string(b), got, want)
		}
	})
}

func TestNearestDoesNotDependOnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		known := []string{"bat", "cat", "rat", "at", "cart", "cast"}
		mixed := rapid.Permutation(known).Draw(t, "order")
		before := slices.Clone(mixed)
		name := rapid.SampledFrom([]string{"hat", "caat", "crt", "xx"}).Draw(t, "name")
		if got, want := Nearest(name, mixed), Nearest(name, known); got != want {
			t.Fatalf("%q or %q", got, want)
		}
		if d := cmp.Diff(before, mixed); d != "" {
			t.Fatalf("the known names were reordered: %s", d)
		}
	})
}
