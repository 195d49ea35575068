package enginetest

import (
	"slices"
	"testing"
)

// TestBanned has sentences that must not be said, and what is wrong with them, and such that may. The words are from
// ISO 18323:2015 and the Diamond Terminology Guideline of 2018 (read on secondary pages), from 16 CFR 23.24 and 23.27
// (from memory), and from the scope of ISO 24016:2020 (no words of grading).
func TestBanned(t *testing.T) {
	for _, x := range []struct {
		says string
		bad  []string
	}{
		{"The stone is identified as diamond.", []string{"diamond"}},
		{"Diamond: the probe says so.", []string{"diamond"}},
		{"A diamond of great clarity and a good grade.", []string{"clarity", "diamond", "grade"}},
		{"It is a real, genuine stone, and precious.", []string{"genuine", "precious", "real"}},
		{"A cultured diamond.", []string{"cultured", "diamond"}},
		{"Perhaps a lab diamond.", []string{"diamond", "lab diamond"}},
		{"A lab-grown diamond is no fake.", []string{"diamond", "fake", "lab-grown"}},
		{"A share of 97 % means a probability.", []string{"%", "probability"}},
		{"It is worth the price.", []string{"price", "worth"}},
		{"the readings support diamond over glass", []string{"diamond"}},
		{"consistent with diamond (natural or laboratory-grown not determined)", nil},
		{"natural diamond or laboratory-grown diamond (CVD)", nil},
		{"more likely diamond (natural or laboratory-grown) than glass", nil},
		{"thermal_probe diamond range: as likely under natural diamond as under synthetic moissanite", nil},
		{`The claim "diamond" falls.`, nil},
		{`the rule "magnetic-diamond-goes-on" is undecided`, nil},
		{"synthetic diamond; imitation of diamond; a diamond-topped doublet", nil},
		{"really, a realgar needle in a degraded upgrade", nil},
	} {
		if got := Banned(x.says); !slices.Equal(got, x.bad) {
			t.Errorf("%q: %q, want %q", x.says, got, x.bad)
		}
	}
}

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
