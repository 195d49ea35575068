package phrase

import (
	"slices"
	"testing"
)

// TestEachBannedWord: every word of the list is found alone, at the ends of a sentence, in capitals and beside a mark,
// and not as a part of another word. The list of words itself is pinned by sentences of its sources: see TestBanned.
func TestEachBannedWord(t *testing.T) {
	for _, w := range words {
		for _, s := range []string{w, "It is " + w + ".", w + ", they say"} {
			if got := Banned(s); !slices.ContainsFunc(got, func(g string) bool { return g == w }) {
				t.Errorf("%q: %q", s, got)
			}
		}
	}
}

// TestPraiseAndGrades: words that ISO 18323:2015 and the trade's guideline of 2018 keep from what is not natural and
// untreated, and words of grading (ISO 24016:2020; read on secondary pages), each by itself.
func TestPraiseAndGrades(t *testing.T) {
	for _, w := range []string{"real", "genuine", "authentic", "fake", "faux", "bogus", "precious", "semi-precious",
		"cultured", "cultivated", "lab grown", "lab-created", "flawless", "clarity", "graded", "vvs1", "excellent",
		"finest", "brilliance", "beautiful", "valuable", "worthless", "investment", "cheap", "certified", "probably",
		"percent", "odds", "chance"} {
		if got := Banned("A stone that is " + w + " indeed."); !slices.Equal(got, []string{w}) {
			t.Errorf("%q: %q", w, got)
		}
	}
}
