package syntax

import (
	"regexp"
	"strings"

	"whystone/kb/diag"
)

// Where numbers are written with a comma, YAML takes {value: 3,52} for a value of 3 and a key 52, and [1,544, 1,553]
// for four numbers. Neither can be told from its nodes alone, but from how close they stand in the text.

var (
	commaForm = regexp.MustCompile(`^([-+]?)([0-9]+),([0-9]+)$`)
	// Groups of three digits, separated by commas, points, blanks or apostrophes, and perhaps decimals behind the other
	// mark.
	groupedForm = regexp.MustCompile(`^[-+]?[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+(?:\.[0-9]+)?|(?:\.[0-9]{3}){2,}(?:,[0-9]+)?|\.[0-9]{3},[0-9]+|(?:[ \x{A0}\x{2009}\x{202F}'’][0-9]{3})+(?:[.,][0-9]+)?)$`)
	// What may be such a number within a longer text.
	numberInText = regexp.MustCompile(`[0-9]+(?:[,.'’ \x{A0}\x{2009}\x{202F}][0-9]+)+`)
)

// SeparatorAdvice says how a number is written that has a comma for its point, or separators between its thousands; ""
// of a text that is no such number. A comma before three digits may be either, and taken for the wrong one would change
// the number a thousandfold, so that both are shown.
func SeparatorAdvice(text string) string {
	m := commaForm.FindStringSubmatch(text)
	switch grouped := groupedForm.MatchString(text); {
	case m != nil && grouped:
		decimals := strings.TrimRight(m[3], "0")
		if decimals == "" {
			decimals = "0"
		}
		return "If thousands are meant, write " + m[1] + m[2] + m[3] + ", without a separator; if decimals are, " +
			m[1] + m[2] + "." + decimals + ", with a point."
	case m != nil:
		return "Numbers are written with a point: " + m[1] + m[2] + "." + m[3] + ", not " + text + "."
	case grouped:
		return "Write the number without separators: " + withoutSeparators(text) + "."
	}
	return ""
}

// withoutSeparators is a number in groups as it should be written. The last mark parts its decimals, unless it parts
// thousands too.
func withoutSeparators(text string) string {
	last := strings.LastIndexAny(text, ".,")
	mark := last >= 0 && (strings.Count(text, text[last:last+1]) == 1)
	var out strings.Builder
	for i, r := range text {
		switch {
		case r >= '0' && r <= '9' || r == '-' || r == '+':
			out.WriteRune(r)
		case mark && i == last:
			out.WriteByte('.')
		}
	}
	return out.String()
}

// SeparatorAdviceAt is [SeparatorAdvice] for the number within a text that covers an offset or ends there, or with a
// negative one for the first that needs it.
func SeparatorAdviceAt(text string, at int) string {
	for _, m := range numberInText.FindAllStringIndex(text, -1) {
		if at < 0 || m[0] <= at && at <= m[1] {
			if advice := SeparatorAdvice(text[m[0]:m[1]]); advice != "" {
				return advice
			}
		}
	}
	return ""
}

// CommaHint tells how a number in a List should be written that has a comma for its point, or "" when there is none.
// The parts stand with nothing but commas between them; a list that has as many items as it should may well be meant
// so.
func (n *Node) CommaHint() string {
	for i := 1; i < len(n.Items); i++ {
		text := n.Items[i-1].Text
		if !digits(strings.TrimPrefix(text, "-")) {
			continue
		}
		for ; i < len(n.Items) && n.Items[i].Style == Plain && digits(n.Items[i].Text) &&
			n.Items[i-1].Span.End+1 == n.Items[i].Span.Start; i++ {
			text += "," + n.Items[i].Text
		}
		if strings.Contains(text, ",") {
			return SeparatorAdvice(text)
		}
	}
	return ""
}

// half finds the number written with commas of which a key is a part that is not the first: {a: 3,52} has a key 52, and
// {a: 1,54 to 1,56} a key "54 to 1". more tells that the key is not its last part either.
func (c *converter) half(key *Node) (number diag.Span, more, ok bool) {
	text, start := c.text, key.Span.Start
	if key.Style != Plain || key.Text == "" || key.Text[0] < '0' || key.Text[0] > '9' {
		return diag.Span{}, false, false
	}
	own := len(key.Text) - len(strings.TrimLeft(key.Text, "0123456789"))
	if start == 0 || text[start-1] != ',' || own < len(key.Text) &&
		key.Text[own] != ' ' {
		return diag.Span{}, false, false
	}
	rest := strings.TrimLeft(string(text[key.Span.End:min(len(text), key.Span.End+80)]), " \r\n\t")
	if rest == "" || rest[0] != ',' && rest[0] != '}' {
		return diag.Span{}, false, false // it has a value, as a key has
	}
	from := start
	for from > 0 && (text[from-1] == ',' || text[from-1] >= '0' && text[from-1] <= '9') {
		from--
	}
	if from > 0 && text[from-1] == '-' {
		from--
	}
	number = diag.Span{Source: c.src, Start: from, End: start + own}
	more = own == len(key.Text) && len(rest) > 1 && text[key.Span.End] == ',' && rest[1] >= '0' && rest[1] <= '9'
	first, _, _ := strings.Cut(string(text[from:start]), ",")
	return number, more, digits(strings.TrimPrefix(first, "-")) && from > 0 &&
		strings.IndexByte(" :\r\n\t", text[from-1]) >= 0
}

// halved reports a number written with commas.
func (c *converter) halved(number diag.Span) {
	text := number.Text()
	advice := SeparatorAdvice(text)
	if advice == "" {
		advice = "Numbers are written with a point, and a comma parts the keys of a mapping."
	}
	c.errorf(diag.BadNumber, number, "a number is written with a comma here").Detail = advice
}

func digits(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }
