package enginetest

import (
	"regexp"
	"slices"
	"strings"

	"whystone/kb/english"
)

// words that no sentence uses: short forms and praise that ISO 18323:2015 and the trade's terminology guideline of 2018
// keep from grown, treated and imitation stones, words of grading (which is another job, ISO 24016:2020), of price, and
// of probability.
var words = []string{"real", "genuine", "authentic", "fake", "faux", "bogus", "precious", "semi-precious",
	"semiprecious", "cultured", "cultivated", "lab diamond", "lab diamonds", "lab grown", "lab-grown", "lab created",
	"lab-created", "syn diamond", "created diamond", "natural treated", "flawless", "clarity", "grade", "grades",
	"graded", "grading", "vvs", "vvs1", "vvs2", "excellent", "finest", "brilliance", "beautiful", "price", "priced",
	"prices", "valuable", "invaluable", "worth", "worthless", "investment", "cheap", "certificate", "certified",
	"probability", "probabilities", "probable", "probably", "percent", "per cent", "odds", "chance", "chances", "%"}

var (
	banned = regexp.MustCompile(`(?i)(^|[^\pL\pN-])(` + strings.Join(english.Each(words, regexp.QuoteMeta), "|") +
		`)($|[^\pL\pN-])`)
	// quoted is what somebody else said: a claim, or a word of a sheet.
	quoted  = regexp.MustCompile(`"[^"]*"`)
	diamond = regexp.MustCompile(`(?i)(\S+ )?(\S+ )?\bdiamonds?\b(-topped| range| \(natural or laboratory-grown)?`)
	// growth says how a diamond grew, or that it was not looked at, or that the thing is none: an imitation, or what
	// carries heat more slowly.
	growth = regexp.MustCompile(`(?i)((natural|mined|laboratory-grown|laboratory-created|synthetic|HPHT-grown|CVD-grown|consistent with|imitation of|imitate|slowly than) diamonds?|diamond (range|\(natural or laboratory-grown)|diamond-topped)$`)
)

// Banned lists what a sentence must not say: words of the list above, sorted, and "diamond" where it stands bare. What
// stands in double quotes is somebody else's word and is left out.
func Banned(sentence string) []string {
	text := quoted.ReplaceAllString(sentence, `""`)
	var out []string
	for rest := text; ; {
		at := banned.FindStringSubmatchIndex(rest)
		if at == nil {
			break
		}
		out = append(out, strings.ToLower(rest[at[4]:at[5]]))
		rest = rest[at[5]:]
	}
	for _, m := range diamond.FindAllString(text, -1) {
		if !growth.MatchString(m) {
			out = append(out, "diamond")
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
