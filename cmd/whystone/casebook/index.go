package casebook

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"whystone/kb/diag"
	"whystone/kb/english"
)

// Summary is what a list shows of a case.
type Summary struct {
	Number  string `json:"number"`
	Called  string `json:"called,omitempty"`
	Opened  string `json:"opened"`
	By      string `json:"by"`
	Claim   string `json:"claim,omitempty"`
	Verdict string `json:"verdict,omitempty"` // as issued last
	Named   string `json:"named,omitempty"`
	Truth   string `json:"truth,omitempty"`
	Closed  bool   `json:"closed"`
}

// Summary sums the case up.
func (s *State) Summary() Summary {
	out := Summary{Number: s.Number, Called: s.Called, Opened: s.day(), By: s.By[0], Closed: s.Closed}
	if claim := s.field("claim"); claim != nil {
		out.Claim = claim.Text
	}
	if last := s.Last(); last != nil {
		out.Verdict, out.Named = last.Verdict.Verdict, last.Named
	}
	if s.Truth != nil {
		out.Truth = s.Truth.Material
	}
	return out
}

func (s *State) day() string { return s.At.UTC().Format(time.DateOnly) }

// entry is the case in the index.
func (s *State) entry(sum Summary) (Entry, error) {
	raw, err := json.Marshal(sum)
	year, running := split(s.Number)
	return Entry{Opened: s.Opened, Number: s.Number, Year: year, Running: running, Day: s.day(), Summary: raw}, err
}

// terms are what the case is found by; texts are those held apart, by id.
func (s *State) terms(sum Summary, texts map[string]string) []string {
	var out []string
	add := func(key string, values ...string) {
		for _, v := range values {
			if v = fold(v); v != "" {
				out = append(out, key+":"+v)
			}
		}
	}
	add("called", s.Called)
	add("claim", sum.Claim)
	add("by", s.By...)
	add("verdict", sum.Verdict)
	add("truth", sum.Truth)
	add("status", map[bool]string{true: "closed", false: "open"}[s.Closed])
	if last := s.Last(); last != nil {
		add("material", last.Named)
		add("material", last.Path...)
		add("material", last.Nodes...)
	}
	add("text", words(s.Called)...)
	add("text", words(sum.Claim)...)
	for _, key := range []string{"desk", "stone.cut", "stone.setting"} {
		if v := s.field(key); v != nil {
			add("text", words(v.Text)...)
		}
	}
	if s.Truth != nil {
		add("text", words(s.Truth.Laboratory+" "+s.Truth.Report)...)
	}
	for _, h := range s.Held {
		if h.What != Picture {
			add("text", words(texts[h.ID])...)
		}
	}
	return slices.Compact(slices.Sorted(slices.Values(out)))
}

func fold(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }

// longest is how much of a word is looked at.
const longest = 60

// words are the words of a text, as they are looked for.
func words(text string) []string {
	out := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool {
		return !unicode.IsLetter(r) &&
			!unicode.IsDigit(r) && !unicode.IsMark(r)
	})
	for i, w := range out {
		if r := []rune(w); len(r) > longest {
			out[i] = string(r[:longest])
		}
	}
	return out
}

// Search lists the cases that meet what is looked for, at most so many (0: all), and tells whether there are more.
func Search(v View, q *Query, most int) (list []Summary, more bool, err error) {
	for e, err := range v.Find(q.Terms) {
		if err != nil {
			return nil, false, err
		}
		if most > 0 && len(list) == most {
			return list, true, nil
		}
		var sum Summary
		if err := json.Unmarshal(e.Summary, &sum); err != nil {
			return nil, false, fmt.Errorf("the index is damaged at %s; casebook verify --rebuild makes it anew: %w",
				e.Number, err)
		}
		list = append(list, sum)
	}
	return list, false, nil
}

// queryKeys are what can be looked for.
var queryKeys = []string{"by", "called", "claim", "from", "material", "status", "text", "to", "truth", "verdict"}

// Query is what is looked for.
type Query struct {
	Terms
	Says string // as it was written
}

// ParseQuery reads what is looked for: words that are in the case's texts, or KEY=VALUE.
func ParseQuery(parts []string) (*Query, error) {
	q := &Query{Says: strings.Join(parts, " ")}
	for _, part := range parts {
		key, v, ok := strings.Cut(part, "=")
		if !ok {
			key, v = "text", part
		}
		if !slices.Contains(queryKeys, key) {
			says := fmt.Sprintf("nothing can be looked for by %q; by %s", key, strings.Join(queryKeys, ", "))
			return nil, errors.New(says + diag.Meant(diag.Nearest(key, queryKeys)))
		}
		if v = fold(v); v == "" {
			return nil, fmt.Errorf("%q says nothing to look for", part)
		}
		if err := q.add(key, v); err != nil {
			return nil, err
		}
	}
	return q, nil
}

func (q *Query) add(key, v string) error {
	switch key {
	case "text":
		q.All = append(q.All, english.Each(words(v), func(w string) string { return "text:" + w })...)
	case "from", "to":
		if _, err := time.Parse(time.DateOnly, v); err != nil {
			return fmt.Errorf("%s=%s is no day; write 2031-04-12", key, v)
		}
		*map[string]*string{"from": &q.From, "to": &q.To}[key] = v
	case "status":
		if v != "open" && v != "closed" {
			return fmt.Errorf("status=%s: a case is open or closed", v)
		}
		fallthrough
	default:
		q.All = append(q.All, key+":"+v)
	}
	return nil
}
