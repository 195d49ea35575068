package diag

import (
	"slices"
	"strings"
)

// CodeInfo explains a diagnostic code in one line.
type CodeInfo struct{ Code, Says string }

// codes is the one table of every code, sorted. Documentation is generated from it.
var codes = []CodeInfo{
	{"alias-refused", "An anchor, alias or merge key stands where only plain values are read."},
	{"bad-date", "A date or time is not written in the form that is expected, or does not exist."},
	{"bad-encoding", "The text is not valid UTF-8, or holds a character that text must not hold."},
	{"bad-id", "An id has characters that ids must not have."},
	{"bad-number", "A number is not written as a plain decimal number, or is too large or too small to hold."},
	{"bad-policy", "A setting of the house's policy lies outside what makes sense."},
	{"bad-syntax", "The text breaks the grammar of its kind of file or of a condition."},
	{"bad-text", "A piece of text is empty or has characters that don't belong in it."},
	{"beyond-limit", "A value lies beyond what the instrument or the test can read."},
	{"circle-of-facts", "Facts depend on each other in a circle."},
	{"duplicate-id", "Two things of one kind have the same id."},
	{"duplicate-key", "A key is given twice in one mapping."},
	{"equals-on-quantity", "A measured quantity is compared for equality, which its uncertainty makes meaningless."},
	{"example-fails", "An example of a rule does not come out as it says."},
	{"family-needed", "A rule rests on several families or none and must say which one its evidence belongs to."},
	{"file-unreadable", "A file could not be read."},
	{"folded-condition", "A condition is written as a folded block, in which positions are lost."},
	{"given-twice", "The same thing is given in two places."},
	{"inactive", "Something is named that is a draft, retired, or out of its dates."},
	{"missing-key", "A key that is needed is absent."},
	{"not-allowed", "Something is written that this kind of file or condition does not allow."},
	{"out-of-span", "A value lies outside the span that its observable can have."},
	{"quote-it", "An unquoted value would be read as a number, date, truth or nothing; text must be in quotes."},
	{"replaces-nothing", "A layer replaces or retires something that no lower layer has."},
	{"too-deep", "The text is nested too deeply."},
	{"too-long", "The text, or a part of it, is longer than is read."},
	{"too-strong", "Evidence is stronger than a single contribution may be."},
	{"tree-broken", "The tree of materials has a gap, a circle, or more than one place for the same node."},
	{"unknown-choice", "A choice is not one that its observable has."},
	{"unknown-feature", "A feature is not one that its observable has."},
	{"unknown-key", "A key is not one that is read here."},
	{"unknown-material", "A material or group is not in the tree."},
	{"unknown-name", "A name in a condition is not known."},
	{"unknown-test", "A test has no sheet."},
	{"unlike-types", "Things of different kinds are compared or combined."},
	{"unlike-values", "The same thing is given with different values."},
	{"unsupported-format", "The format number of a file is not one that is read."},
	{"wrong-kind", "A value is of another kind than is expected: a list, a mapping, text, a number or a truth."},
}

// Codes returns every diagnostic code with its explanation, sorted by code.
func Codes() []CodeInfo { return slices.Clone(codes) }

// Known tells whether a code is in the table.
func Known(code string) bool {
	_, ok := slices.BinarySearchFunc(codes, code, func(c CodeInfo, code string) int {
		return strings.Compare(c.Code, code)
	})
	return ok
}
