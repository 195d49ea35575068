package diag

import (
	"slices"
	"strings"
)

// Explanation is what is known of a code: the table's line, and where there is more to say, what stands behind it and what
// to do.
type Explanation struct {
	Code string `json:"code"`
	Says string `json:"says"`
	Help string `json:"help,omitempty"`
}

// Explain finds the explanation of a code.
func Explain(code string) (Explanation, bool) {
	i, ok := slices.BinarySearchFunc(codes, code, func(c CodeInfo, code string) int { return strings.Compare(c.Code, code) })
	if !ok {
		return Explanation{}, false
	}
	return Explanation{code, codes[i].Says, help[code]}, true
}

// help is what there is to say beyond a code's one line, by code. What proofreading finds has it always.
var help = map[string]string{
	"acceptance-idle": `A sheet says under "accepts" that a finding is known and why it stays, but the finding is no longer made. Take the
acceptance out, so that it can't hide a later one.`,
	"alike-to-all-tests": `No test that leaves the stone unharmed gives, on a stone as it usually is of one material, a reading that excludes the
other or is ten times likelier on the one than on the other. A verdict can then at best narrow a stone down to both, or name the group
that holds them. If a test is missing, write its sheet; if the sheets say less than is known, add it there; if nothing but a laboratory
can tell, accept the finding and say so.`,
	"always-holds": `A condition that can't fail is no condition: whenever its readings are there it holds. A threshold outside the span of
its observable and a list of all choices are the usual reasons. If the reading's being there is what is meant, write seen(...).`,
	"example-fails": `An example of a rule says what the condition is on a small case: holds, fails or undecided. It was run, and comes out
otherwise. Either the condition or the example is wrong; under the finding stand the values that decided.`,
	"excludes-own": `A rule excludes a material, and there is a case in which it fires on readings every one of which the sheet of that very
material gives as its own: a quantity within its range, an outcome or a feature that it shows often, usually or always. The witness is
such a case. What the sheet is silent about does not count.`,
	"idle-part": `Without this part the condition holds and fails in exactly the same cases, or the part can never hold beside an "or", or
can't fail within an "and". Often a threshold was changed in one place and not in the other.`,
	"never-decides": `The rule held in archived cases, but without it each would have come out the same. It may still be right; it is not
shown to be of use.`,
	"never-excepted": `Wherever the condition under "if" holds the one under "unless" fails, so the exception keeps the rule from nothing. (An
exception that is undecided does keep a rule from firing.)`,
	"never-fired": `The rule held in no case of the archive. It may be about something rare, or ask for readings that nobody takes.`,
	"never-holds": `No stone and no readings make the rule fire: not sharp ones, not uncertain ones, not missing ones. Taken into account
are the span of each observable and what its tests can read, what facts rest on, and what rules set aside. Where two parts contradict each
other, both are shown.`,
	"no-examples": `Examples are small cases with what the condition is on them. They are run whenever the rules are proofread, and show a
reader what the rule means. Give one that holds and one that fails.`,
	"no-source": `Every rule says where it comes from: a publication by author, year and title, or "common practice", or "from memory".`,
	"not-analysed": `Comparisons of one quantity with a number, choices, features, truths, words, seen(...) and unclear(...), facts, and
"and", "or", "not" are decided exactly. Arithmetic on several readings and patterns in texts are not: such a part is taken as something
that may hold, fail or be undecided. Nothing wrong is said of the rule because of it, but defects that depend on it are not found.`,
	"period-over": `The day under "until" has passed: the rule no longer judges new cases, and still judges older ones by their dates.`,
	"pulls-both-ways": `Two rules rest on a common reading and can fire on the same case, and one speaks for a material while the other
speaks against it or excludes it. The witness is such a case. Rules on unlike readings may well disagree about a stone; that is what
weighing is for, and it is no finding.`,
	"repeats-rule": `Wherever the rule fires another fires too, and gives at least as much: excludes the same materials, weighs them as
strongly in the same family, sets the same readings aside, and so on. It adds nothing to any verdict but a further step to read.`,
	"repeats-sheet": `A rule on one observable excludes only materials whose sheets exclude them on that reading already, by a range that
lies elsewhere or an outcome that is "never". The sheets do it better, as they weigh the uncertainty of the reading.`,
	"table-gap": `There are sharp readings of all columns of the table for which no row is met. The witness is such a case. Widen a row,
add one, or accept the gap and say why nothing follows there.`,
	"table-overlap": `One case can meet two rows of the table. The witness is such a case. If both are meant to count, accept it; else let
one row end where the other begins: "2.6 to 2.7" takes 2.6 in and leaves 2.7 out.`,
	"unestablished-fact": `A rule names a fact, and the only rules that establish it are drafts, which change nothing. Until one of them is
active the fact never holds.`,
	"unread-fact": `A rule establishes a fact, and no rule names it. A misspelt name makes such a fact; the nearest other one is told.`,
}
