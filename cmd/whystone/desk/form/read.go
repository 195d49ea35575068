package form

import (
	"encoding/json"
	"net/url"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Entered is a reading as it would be typed.
type Entered struct {
	Observable string
	Text       string
}

// Wrong says what is wrong with what was sent, where the case's reader would not say it as well.
type Wrong struct{ Says string }

func (e *Wrong) Error() string { return e.Says }

// Read reads what a form sent: a reading of one observable. Whether the value can be is for the case's reader to say.
func Read(rs *kb.Ruleset, sent url.Values) (*Entered, error) {
	o := rs.Vocabulary.Observable(sent.Get("observable"))
	if o == nil {
		return nil, &Wrong{"The rules of now know no such reading any more. Choose the test again."}
	}
	test := sent.Get("test")
	y := rs.Vocabulary.Yield(test, o)
	if y == nil {
		return nil, &Wrong{"The rules of now don't have this reading of that test any more. Choose the test again."}
	}
	var r reading
	if err := r.value(ask(y, rs.Vocabulary.HouseInstrument(test)), o, sent); err != nil {
		return nil, err
	}
	for _, key := range []string{"instrument", "where", "note"} {
		r.text(key, sent.Get(key))
	}
	if test != o.Test {
		r.text("test", test)
	}
	return &Entered{Observable: o.Name, Text: r.String()}, nil
}

// reading gathers the entries of one, in their order.
type reading struct{ keys, values []string }

func (r *reading) put(key, value string) {
	r.keys, r.values = append(r.keys, key), append(r.values, value)
}

func (r *reading) text(key, text string) {
	if text = strings.Join(strings.Fields(text), " "); text != "" {
		r.put(key, quoted(text))
	}
}

// String is the reading as it would be typed: a lone value stands for itself.
func (r *reading) String() string {
	if len(r.keys) == 1 && (r.keys[0] == "value" || r.keys[0] == "choice") {
		return r.values[0]
	}
	parts := make([]string, len(r.keys))
	for i := range r.keys {
		parts[i] = quoted(r.keys[i]) + ": " + r.values[i]
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

func (r *reading) value(a Ask, o *vocab.Observable, sent url.Values) error {
	if sent.Get("form") == "inconclusive" {
		if strings.TrimSpace(sent.Get("inconclusive")) == "" {
			return &Wrong{"Say why it stayed inconclusive."}
		}
		r.text("inconclusive", sent.Get("inconclusive"))
		return nil
	}
	switch o.Kind {
	case vocab.Choice:
		if sent.Get("choice") == "" {
			return &Wrong{"No outcome was chosen."}
		}
		r.text("choice", sent.Get("choice"))
	case vocab.Features:
		seen, looked := texts(sent["seen"]), texts(sent["looked"])
		placed := texts(strings.FieldsFunc(sent.Get("places"), func(c rune) bool { return c == ',' || c == ';' }))
		if len(seen)+len(looked)+len(placed) == 0 {
			return &Wrong{"Nothing was marked as seen, or as looked for and not there."}
		}
		r.put("features", list(slices.Concat(seen, placed)))
		if len(looked) > 0 {
			r.put("looked_for", list(append(seen, looked...)))
		}
	default:
		return r.quantity(a, sent)
	}
	return nil
}

func (r *reading) quantity(a Ask, sent url.Values) error {
	value, high, u := strings.TrimSpace(sent.Get("value")), strings.TrimSpace(sent.Get("high")),
		strings.TrimSpace(sent.Get("uncertainty"))
	if bound := sent.Get("bound"); bound == "above" || bound == "below" {
		r.put(bound, figure(sent.Get(bound)))
		return nil
	}
	if value == "" {
		return &Wrong{"No value was entered."}
	}
	if strings.ContainsAny(value[:1], "<>") {
		return &Wrong{"A value is entered without a sign. " + a.beyond()}
	}
	if high != "" {
		r.put("value", "["+figure(value)+", "+figure(high)+"]")
	} else {
		r.put("value", figure(value))
	}
	if u != "" {
		r.put("uncertainty", figure(u))
	}
	return nil
}

// figure is a number as it was typed; what is none is a text, so that the reader says where.
func figure(text string) string {
	text = strings.TrimSpace(text)
	if text != "" && strings.IndexByte("-0123456789", text[0]) >= 0 && json.Valid([]byte(text)) {
		return text
	}
	return quoted(text)
}

func texts(list []string) []string {
	return english.Only(list, func(t string) (string, bool) {
		t = strings.TrimSpace(t)
		return quoted(t), t != ""
	})
}

func list(items []string) string { return "[" + strings.Join(items, ", ") + "]" }

// quoted is a text as JSON.
func quoted(text string) string {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(text) // a text can be encoded
	return strings.TrimSuffix(b.String(), "\n")
}
