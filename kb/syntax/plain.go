package syntax

import (
	"regexp"
	"strings"
)

// What an unquoted YAML word may be read as by one reader or another, whatever this one makes of it.
const (
	plainText   = ""
	plainNumber = "a number"
	plainTruth  = "true or false"
	plainNull   = "nothing"
	plainDate   = "a date or time"
	plainMerge  = "a merge of mappings"
)

// The forms are those of YAML 1.1's and 1.2's number, truth, null and timestamp types together (yaml.org/type, and
// YAML 1.2.2, 10.3.2): decimal, octal, hexadecimal, binary and base 60. Underscores, which may part the digits, are
// taken out before.
var (
	numberLike = regexp.MustCompile(`^[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$` +
		`|^[-+]?0([xX][0-9a-fA-F]+|[oO][0-7]+|[bB][01]+)$` +
		`|^[-+]?[0-9]+(:[0-5]?[0-9])+(\.[0-9]*)?$` +
		`|^[-+]?\.(inf|Inf|INF)$|^\.(nan|NaN|NAN)$`)
	dateLike = regexp.MustCompile(`^[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}([Tt \t].*)?$`)
)

// plainKind returns what an unquoted word may be read as; plainText when it can only be text. The truth words count in
// the cases YAML knows: lower, upper and capitalised.
func plainKind(text string) string {
	switch text {
	case "<<":
		return plainMerge
	case "true", "True", "TRUE", "yes", "Yes", "YES", "on", "On", "ON",
		"false", "False", "FALSE", "no", "No", "NO", "off", "Off", "OFF":
		return plainTruth
	}
	if saysNothing(text) {
		return plainNull
	}
	if c := text[0]; c != '-' && c != '+' && c != '.' && (c < '0' || c > '9') {
		return plainText
	}
	if dateLike.MatchString(text) {
		return plainDate
	}
	if numberLike.MatchString(strings.ReplaceAll(text, "_", "")) {
		return plainNumber
	}
	return plainText
}

func saysNothing(text string) bool {
	switch text {
	case "", "~", "null", "Null", "NULL":
		return true
	}
	return false
}
