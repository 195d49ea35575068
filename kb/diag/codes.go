package diag

import (
	"slices"
	"strings"
)

// CodeInfo explains a diagnostic code in one line.
type CodeInfo struct {
	Code string `json:"code"`
	Says string `json:"says"`
}

// codes is the one table of every code, sorted. Documentation is generated from it.
var codes = []CodeInfo{
	{"acceptance-idle", "A sheet accepts a finding that is not made."},
	{"alias-refused", "An anchor, alias or merge key stands where only plain values are read."},
	{"alike-to-all-tests", "No harmless test of the house tells two materials apart."},
	{"always-holds", "A condition can't fail, whatever is read."},
	{"bad-date", "A date or time is not written in the form that is expected, or does not exist."},
	{"bad-encoding", "The text is not valid UTF-8, or holds a character that text must not hold."},
	{"bad-id", "An id has characters that ids must not have."},
	{"bad-number", "A number is not written as a plain decimal number, or is too large or too small to hold."},
	{"bad-policy", "A setting of the house's policy lies outside what makes sense."},
	{"bad-syntax", "The text breaks the grammar of its kind of file or of a condition."},
	{"bad-text", "A piece of text is empty or has characters that don't belong in it."},
	{"beyond-limit", "A value lies beyond what the instrument or the test can read."},
	{"calls-in-vain", "A rule calls for a test that can't be done, or is forbidden, wherever it fires."},
	{"circle-of-facts", "Facts depend on each other in a circle."},
	{"duplicate-id", "Two things of one kind have the same id."},
	{"duplicate-key", "A key is given twice in one mapping."},
	{"duplicate-name", "Two materials bear one name, so that nobody knows which of them a claim of it means."},
	{"equals-on-quantity", "A measured quantity is compared for equality, which its uncertainty makes meaningless."},
	{"example-fails", "An example of a rule does not come out as it says."},
	{"excludes-own", "A rule excludes a material on readings that its own sheet gives it."},
	{"family-needed", "A rule rests on several families or none and must say which one its evidence belongs to."},
	{"file-unreadable", "A file could not be read."},
	{"folded-condition", "A condition is written as a folded block, in which positions are lost."},
	{"given-twice", "The same thing is given in two places."},
	{"idle-part", "A part of a condition decides nothing."},
	{"inactive", "Something is named that is a draft, retired, or out of its dates."},
	{"missing-key", "A key that is needed is absent."},
	{"never-decides", "A rule held in archived cases, and decided none of them."},
	{"never-excepted", "The exception of a rule can't be made where its condition holds."},
	{"never-fired", "A rule held in no case of the archive."},
	{"never-holds", "A rule can never fire."},
	{"no-draft", "A rule is to be made active that is no draft, or not there."},
	{"no-examples", "A rule has no examples, or none of one kind."},
	{"no-source", "A rule names no source."},
	{"not-allowed", "Something is written that this kind of file or condition does not allow."},
	{"not-analysed", "A part of a condition lies outside what can be analysed."},
	{"out-of-span", "A value lies outside the span that its observable can have."},
	{"period-over", "A rule's time in force is over."},
	{"pulls-both-ways", "Two rules that fire on the same reading speak for and against one material."},
	{"quote-it", "An unquoted value would be read as a number, date, truth or nothing; text must be in quotes."},
	{"repeats-rule", "A rule gives nothing that another does not give in the same cases."},
	{"repeats-sheet", "A rule excludes only what the sheets exclude on the same reading."},
	{"replaces-nothing", "A layer replaces or retires something that no lower layer has."},
	{"sheet-lacks", "A material's sheet does not say what the policy asks every sheet for."},
	{"still-named", "A layer retires or replaces something that is still named elsewhere."},
	{"supports-excluded", "A rule supports materials that the sheets exclude wherever it fires."},
	{"table-gap", "Some combination of readings is met by no row of a table."},
	{"table-overlap", "Two rows of a table can be met by one combination of readings."},
	{"tidy-failed", "Tidying a file would have changed what it says, which is a mistake in the program."},
	{"too-deep", "The text is nested too deeply."},
	{"too-long", "The text, or a part of it, is longer than is read."},
	{"too-strong", "Evidence is stronger than a single contribution may be."},
	{"tree-broken", "The tree of materials has a gap, a circle, or more than one place for the same node."},
	{"unestablished-fact", "A rule reads a fact that no active rule establishes."},
	{"unknown-choice", "A choice is not one that its observable has."},
	{"unknown-feature", "A feature is not one that its observable has."},
	{"unknown-file", "A ruleset names a file that its layer doesn't have."},
	{"unknown-key", "A key is not one that is read here."},
	{"unknown-material", "A material or group is not in the tree."},
	{"unknown-name", "A name in a condition is not known."},
	{"unknown-test", "A test has no sheet."},
	{"unlike-types", "Things of different kinds are compared or combined."},
	{"unlike-values", "The same thing is given with different values."},
	{"unread-fact", "A rule establishes a fact that no rule reads."},
	{"unsupported-format", "The format number of a file is not one that is read."},
	{"unused-file", "A file of a layer is named by nothing, so nothing of it is read."},
	{"withholds-nothing", "A rule keeps back a name that no verdict would give where it fires."},
	{"wrong-kind", "A value is of another kind than is expected: a list, a mapping, text, a number or a truth."},
}

// Codes returns every diagnostic code with its explanation, sorted by code.
func Codes() []CodeInfo { return slices.Clone(codes) }

// Words lists the codes, sorted.
func Words() []string {
	out := make([]string, len(codes))
	for i, c := range codes {
		out[i] = c.Code
	}
	return out
}

// Known tells whether a code is in the table.
func Known(code string) bool {
	_, ok := slices.BinarySearchFunc(codes, code, func(c CodeInfo, code string) int {
		return strings.Compare(c.Code, code)
	})
	return ok
}
