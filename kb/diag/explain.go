package diag

import (
	"slices"
	"strings"
)

// Explanation is what is known of a code: the table's line, and what stands behind it and what to do.
type Explanation struct {
	Code string `json:"code"`
	Says string `json:"says"`
	Help string `json:"help"`
}

// Explain finds the explanation of a code.
func Explain(code string) (Explanation, bool) {
	i, ok := slices.BinarySearchFunc(codes, code, func(c CodeInfo, code string) int { return strings.Compare(c.Code, code) })
	if !ok {
		return Explanation{}, false
	}
	return Explanation{code, codes[i].Says, help[code]}, true
}

// help is what there is to say beyond a code's one line, by code.
var help = map[string]string{
	"acceptance-idle": `A sheet says under "accepts" that a finding is known and why it stays, but the finding is no longer made. Take the
acceptance out, so that it can't hide a later one.`,
	"alias-refused": `What an anchor, alias or merge key brings in stands somewhere else than where it counts, and an error in it could not
be shown in its place. Write the values out.`,
	"alike-to-all-tests": `No test that leaves the stone unharmed gives, on a stone as it usually is of one material, a reading that excludes the
other or is ten times likelier on the one than on the other. A verdict can then at best narrow a stone down to both, or name the group
that holds them. If a test is missing, write its sheet; if the sheets say less than is known, add it there; if nothing but a laboratory
can tell, accept the finding and say so.`,
	"always-holds": `A condition that can't fail is no condition: whenever its readings are there it holds. A threshold outside the span of
its observable and a list of all choices are the usual reasons. If the reading's being there is what is meant, write seen(...).`,
	"bad-date": `A day is written 2031-04-12, a time 2031-04-12T10:20:00+02:00; one without a zone is taken in the policy's. In YAML a
time goes in quotes. A rule's since comes before its until.`,
	"bad-encoding": `Files are UTF-8. A file saved by a spreadsheet or an old editor is often in another encoding: save it anew as UTF-8,
and look at the letters with accents.`,
	"bad-id": `Ids of materials, tests and rules are lower-case letters, digits and single hyphens (doubled-edges); observables and
facts are lower-case words joined by _ (facet_doubling), and none of the words of the rule language.`,
	"bad-number": `Numbers are written with a point and no separators: 3.52, not 3,52 and not 3 500. Infinite values and such as are not
a number are not read.`,
	"bad-policy": `A rate lies between 0 and 1, a weight is above nought, a scale rises. The message names the key and what it may be.`,
	"bad-syntax": `The text can't be read on from this place. The mistake is often just before it: a bracket or quote that is not closed,
a colon or comma too many, a line that stands too far in or out.`,
	"bad-text": `A text has at least a letter in it, and no control characters.`,
	"beyond-limit": `Each test reads a quantity between limits that its sheet gives. A refractometer that ends at 1.81 can't have read 2.4:
if nothing was seen up to the end, write {above: 1.81}; if another test gave the value, name it with test:.`,
	"calls-in-vain": `Wherever the rule fires, a need of the test's sheet fails on the stone (a loose stone, a polished facet), or another rule forbids
the test. A verdict leaves such a call out.`,
	"circle-of-facts": `A rule comes after all rules that establish what it reads, or that may set it aside. Here each of several would have
to come after the next. The detail goes round the circle; break it at one place, by letting a rule read the reading
itself instead of the fact.`,
	"duplicate-id": `An id stands for one thing in all layers, for ever. To stand in for a sheet of a lower layer write replaces: and
because:; for something new, choose another id.`,
	"duplicate-key": `One of the two would be lost. Join them, or take one out. In the policy each key is given by one file of a layer.`,
	"duplicate-name": `A claim or truth may be any name of a material. If two bear the same one, say in the policy's claims: what the word
means, or take it from one of them.`,
	"equals-on-quantity": `A reading has an uncertainty, so it never equals a number. Say how near it must be: near(ri, 1.77, 0.005), or give
bounds: 1.76 < ri < 1.78.`,
	"example-fails": `An example of a rule says what the condition is on a small case: holds, fails or undecided. It was run, and comes out
otherwise. Either the condition or the example is wrong; under the finding stand the values that decided.`,
	"excludes-own": `A rule excludes a material, and there is a case in which it fires on readings every one of which the sheet of that very
material gives as its own: a quantity within its range, an outcome or a feature that it shows sometimes or more often. The
witness is such a case. What the sheet is silent about does not count. With outcomes that the sheet has as "rarely" it is a note.`,
	"family-needed": `Evidence counts within a family of observables that rest on the same physics. A condition that names readings of
several, or of none, leaves open which; say it with family:.`,
	"file-unreadable": `The file or folder is not there, may not be read, or is too long. Nothing was read in its place.`,
	"folded-condition": `After > line breaks become blanks, and with them the places of errors are lost. Write the condition on one line, in
quotes, or after |.`,
	"given-twice": `Each of the two would do, and nobody can know which is meant. Take one out.`,
	"idle-part": `Without this part the condition holds and fails in exactly the same cases, or the part can never hold beside an "or", or
can't fail within an "and". Often a threshold was changed in one place and not in the other.`,
	"inactive": `It can be named, and does nothing: a rule that is a draft or retired, or a condition over materials that none
satisfies.`,
	"missing-key": `The message names the key. Every file begins with format: 1; a rule has says:, something that follows, and where it
comes from.`,
	"never-decides": `The rule held in archived cases, but without it each would have come out the same. It may still be right; it is not
shown to be of use.`,
	"never-excepted": `Wherever the condition under "if" holds the one under "unless" fails, so the exception keeps the rule from nothing. (An
exception that is undecided does keep a rule from firing.)`,
	"never-fired": `The rule held in no case of the archive. It may be about something rare, or ask for readings that nobody takes.`,
	"never-holds": `No stone and no readings make the rule fire: not sharp ones, not uncertain ones, not missing ones. Taken into account
are the span of each observable and what its tests can read, what facts rest on, and what rules set aside. Where two parts contradict each
other, both are shown.`,
	"no-draft": `Only a rule with status: draft can be tried as if it were active.`,
	"no-examples": `Examples are small cases with what the condition is on them. They are run whenever the rules are proofread, and show a
reader what the rule means. Give one that holds and one that fails.`,
	"no-source": `Every rule says where it comes from: a publication by author, year and title, or "common practice", or "from memory".`,
	"not-allowed": `The language of rules is a part of a larger one: what could run without end, give another result each time, or has no
meaning for readings that may be missing is left out. Nor does a rule ask for a test that marks or destroys a stone; and what replaces a
sheet under the same id, or a table, is neither a draft nor dated. The detail says what to write instead.`,
	"not-analysed": `Comparisons of one quantity with a number, choices, features, truths, words, seen(...) and unclear(...), facts, and
"and", "or", "not" are decided exactly. Arithmetic on several readings and patterns in texts are not: such a part is taken as
something that may hold, fail or be undecided. A search that would take too long is given up, and listed here too. Nothing wrong
is said of the rule because of it, but defects that depend on it are not found.`,
	"out-of-span": `The sheet of the test gives the span of values that can occur at all. A value outside is a slip of the pen or in
another unit.`,
	"period-over": `The day under "until" has passed: the rule no longer judges new cases, and still judges older ones by their dates.`,
	"pulls-both-ways": `Two rules that rest on the same readings can fire on the same case, and one speaks for a material while the other speaks
against it or excludes it. The witness is such a case. Where one reads more than the other and fires only where the other does,
too, it may be meant as its exception, and it is a note. Rules on unlike readings may well disagree about a stone; that is what
weighing is for, and no finding.`,
	"quote-it": `YAML readers take yes, 010, 1.10 or 2031-04-12 without quotes for a truth, a number or a date. If the text is meant,
put it in quotes.`,
	"repeats-rule": `Wherever the rule fires another fires too, and gives at least as much: excludes the same materials, weighs them as
strongly in the same family on the same readings, sets the same readings aside, and so on. It changes no verdict. An exclusion
on other readings still weighs a little within its family; then it is a note.`,
	"repeats-sheet": `A rule on one observable excludes only materials whose sheets exclude them on that reading already, by a range that
lies elsewhere or an outcome that is "never". The sheets do it better, as they weigh the uncertainty of the reading.`,
	"replaces-nothing": `What is replaced or retired must be a sheet of a lower layer, by its id. It may have been renamed or retired already.
A rule is replaced by one rule only; a layer above replaces that one, and so stands in for both.`,
	"sheet-lacks": `The policy's every_sheet_says: lists observables and properties that every material's sheet is to speak of. A reading
of what a sheet is silent about never excludes the material, so that a gap looks like a fit. What a group's sheet says counts for all
below it. Write what is known; if it varies without limit, give the outcomes that are seen and how often.`,
	"still-named": `A layer retires or replaces a rule, test or material, and others name what went with it: a fact that no other rule
establishes, an observable that no other test gives, the material itself. All of these places are told as one, as most of them may be in
files of a lower layer. Retire or replace what names it, too, or give what is missing in a sheet of the same layer.`,
	"supports-excluded": `Wherever the rule fires, the sheets exclude every material that it supports, on the readings that make it fire. Mostly
the name of the material, or a threshold, is a slip.`,
	"table-gap": `There are sharp readings of all columns of the table for which no row is met. The witness is such a case. Widen a row,
add one, or accept the gap and say why nothing follows there. Features count one by one, and none seen is no gap. A gap that only
drafts would fill is a note.`,
	"table-overlap": `One case can meet two rows of the table that are both in force. The witness is such a case. If both are meant to count,
accept it; else let one row end where the other begins: "2.6 to 2.7" takes 2.6 in and leaves 2.7 out.`,
	"tidy-failed": `The file was left as it is. Please report it with the file.`,
	"too-deep": `Nothing that a person writes is nested like this. Split the condition: let smaller rules establish facts, and name
those.`,
	"too-long": `A limit keeps one file or one condition from taking all the memory. The message says how much is read.`,
	"too-strong": `One piece of evidence may weigh 10,000 to 1 at most, unless backed_by: names the data behind it: a bold figure should
not decide a case by itself.`,
	"tree-broken": `Every material and group but the root stands under a group that exists, and no group stands below itself.`,
	"unestablished-fact": `A rule names a fact, and the only rules that establish it are drafts, which change nothing. Until one of them is
active the fact never holds.`,
	"unknown-choice": `Choices are words of the test sheet that declares the observable, in lower case; other spellings stand there under
also:. A misspelt one would never hold.`,
	"unknown-feature": `Features are words of the test sheet that declares the observable, in lower case; other spellings stand there under
also:.`,
	"unknown-file": `rows_from: names a CSV file from the folder of the file that it stands in, in the same layer.`,
	"unknown-key": `Every key is checked, because a misspelt one would be passed over in silence. The detail lists those that are read
here.`,
	"unknown-material": `Materials and groups are named by their ids; 'whystone material' lists them.`,
	"unknown-name": `A condition may name observables, properties of the stone (stone.mounted), claim, stake, facts that rules establish,
and the functions of the language. 'whystone procedure' lists what the tests give.`,
	"unknown-test": `Tests are named by their ids; 'whystone procedure' lists them.`,
	"unlike-types": `A quantity is compared with numbers, a choice with its words, a feature is asked for with in, a truth stands by
itself. The detail says how to write it for the name that is there.`,
	"unlike-values":      `The same thing is said in two places, and not alike. Correct one, or leave it out.`,
	"unread-fact":        `A rule establishes a fact, and no rule names it. A misspelt name makes such a fact; the nearest other one is told.`,
	"unsupported-format": `The number under format: tells the shape of a file. A newer program may have written it.`,
	"unused-file":        `A CSV file counts through a table that names it under rows_from:. Without one it does nothing.`,
	"withholds-nothing": `A rule's withholds: names a material or group that no verdict could give where the rule fires: a mere filing group,
below which nothing can be named, or one that the sheets exclude on the very readings that make the rule fire. Mostly the name, or a
threshold, is a slip.`,
	"wrong-kind": `Something else is expected in this place, as the message says: text, a number, true or false, a list, or a mapping of
keys to values.`,
}
