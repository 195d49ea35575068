package syntax

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"whystone/kb/diag"
)

var numberForm = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]+)?$`)

// Num returns a number written as JSON writes numbers: decimal, with a point, not in quotes, without leading zeros,
// underscores or a plus sign. It is never infinite or NaN, and not zero unless all its digits are.
func (n *Node) Num(out *diag.List) (float64, bool) {
	if !n.number("a number", out) {
		return 0, false
	}
	x, err := strconv.ParseFloat(n.Text, 64)
	mantissa, _, _ := strings.Cut(strings.ToLower(n.Text), "e")
	switch {
	case err != nil || math.IsInf(x, 0):
		out.Errorf(diag.BadNumber, n.Span, "the number %s is too large", short(n.Text))
		return 0, false
	case x == 0 && strings.ContainsAny(mantissa, "123456789"):
		out.Errorf(diag.BadNumber, n.Span, "the number %s is too small to be told from 0", short(n.Text))
		return 0, false
	}
	return x, true
}

// Pair returns the two numbers of a List; what one says that has not two items is the caller's.
func (n *Node) Pair(out *diag.List, format string, args ...any) (a, b float64, ok bool) {
	items, ok := n.List(out)
	if ok && len(items) != 2 {
		out.Errorf(diag.WrongKind, n.Span, format, args...).Detail = n.CommaHint()
	}
	if !ok || len(items) != 2 {
		return 0, 0, false
	}
	a, ok1 := items[0].Num(out)
	b, ok2 := items[1].Num(out)
	return a, b, ok1 && ok2
}

// Int returns a whole number, written without a point or exponent.
func (n *Node) Int(out *diag.List) (int, bool) {
	if !n.number("a whole number", out) {
		return 0, false
	}
	if strings.ContainsAny(n.Text, ".eE") {
		out.Errorf(diag.BadNumber, n.Span, "a whole number is expected, but %s has a point or exponent", short(n.Text))
		return 0, false
	}
	i, err := strconv.Atoi(n.Text)
	if err != nil {
		out.Errorf(diag.BadNumber, n.Span, "the number %s is too large", short(n.Text))
	}
	return i, err == nil
}

// number checks that n is an unquoted scalar that is written as a number is.
func (n *Node) number(what string, out *diag.List) bool {
	if !n.is(Scalar, what, out) {
		return false
	}
	quoted := n.Style != Plain && n.Style != JSONNumber
	form := numberForm.MatchString(n.Text)
	switch {
	case form && !quoted && n.Style != JSONWord:
		return true
	case n.Style == JSONWord || n.IsNull() || quoted && !form || plainKind(n.Text) == plainTruth:
		if d := n.unexpected(what, out); quoted {
			d.Detail = SeparatorAdvice(n.Text)
		}
		return false
	}
	d := out.Errorf(diag.BadNumber, n.Span, "%s is expected, but %s is not written as one", what, n.describe())
	d.Detail = numberHint(n.Text, quoted)
	return false
}

// numberHint says how a number should have been written.
func numberHint(text string, quoted bool) string {
	bare := strings.TrimLeft(strings.TrimPrefix(text, "+"), "0")
	if bare == "" || bare[0] < '0' || bare[0] > '9' {
		bare = "0" + bare
	}
	advice := SeparatorAdvice(text)
	switch {
	case quoted:
		return "Write the number without quotes."
	case advice != "":
		return advice
	case strings.HasSuffix(text, "%"):
		return "Write a plain number: an uncertainty in the unit of its observable, a share as 0.98 for 98%."
	case strings.Contains(text, "_"):
		return "Write the digits without underscores."
	case bare != text && numberForm.MatchString(bare):
		return "Write " + bare + "."
	}
	return "Write digits with a point, such as 1.77, -0.5 or 3e-4."
}
