package doc

import "strings"

// Where numbers are written with a comma, YAML takes {value: 3,52} for a value of 3 and a key 52, and [1,544, 1,553] for
// four numbers. Neither can be told from its nodes alone, but from how close they stand in the text.

// commaAdvice says how the number is written whose halves are given.
func commaAdvice(whole, part string) string {
	return "Numbers are written with a point: " + whole + "." + part + ", not " + whole + "," + part + "."
}

// CommaHint tells how a number in a List should be written that has a comma for its point, or "" when there is none. The
// halves stand with nothing but the comma between them; a list that has as many items as it should may well be meant so.
func (n *Node) CommaHint() string {
	for i := 1; i < len(n.Items); i++ {
		a, b := n.Items[i-1], n.Items[i]
		if b.Style == Plain && digits(b.Text) && digits(strings.TrimPrefix(a.Text, "-")) && a.Span.End+1 == b.Span.Start {
			return commaAdvice(a.Text, b.Text)
		}
	}
	return ""
}

// half finds the first half of a number written with a comma of which a key is the second.
func (c *converter) half(key *Node) (whole string, ok bool) {
	text, start := c.src.Text, key.Span.Start
	if key.Style != Plain || !digits(key.Text) || start == 0 || text[start-1] != ',' {
		return "", false
	}
	if rest := strings.TrimLeft(string(text[key.Span.End:min(len(text), key.Span.End+80)]), " \r\n\t"); rest == "" || rest[0] != ',' && rest[0] != '}' {
		return "", false // it has a value, as a key has
	}
	from := start - 1
	for from > 0 && text[from-1] >= '0' && text[from-1] <= '9' {
		from--
	}
	if from > 0 && text[from-1] == '-' {
		from--
	}
	whole = string(text[from : start-1])
	return whole, digits(strings.TrimPrefix(whole, "-")) && from > 0 && strings.IndexByte(" :\r\n\t", text[from-1]) >= 0
}

// halved reports a number written with a comma.
func (c *converter) halved(whole string, key *Node) {
	sp := key.Span
	sp.Start -= len(whole) + 1
	c.errorf("bad-number", sp, "a number is written with a comma here").Detail = commaAdvice(whole, key.Text)
}

func digits(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }
