package casebook

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"whystone/engine/archive"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// Form is the case as a case file has it, on one line of JSON. What is held apart stands in it as far as it is given,
// by its id.
func (s *State) Form(held map[string]string) string { return archive.JSON(asJSON(s.Node(held))) }

// Kept is a case with its history, as it is listed.
type Kept struct {
	Format  int             `json:"format"`
	Head    string          `json:"head"`
	Version int             `json:"version"`
	Summary Summary         `json:"summary"`
	Case    json.RawMessage `json:"case"`
	Events  []*Event        `json:"events"`
}

// Keep is the case as it is listed; what is held apart stands in it as far as it is given, by its id.
func (s *State) Keep(head Head, held map[string]string) Kept {
	return Kept{Format, head.String(), s.Version, s.Summary(), json.RawMessage(s.Form(held)), s.Events}
}

// Node is the same as a tree, in which each value stands where it was typed.
func (s *State) Node(held map[string]string) *syntax.Node {
	root := mapping("format", word("1", syntax.JSONNumber), "case", word(s.Number, syntax.JSONString))
	add := func(key string, v *syntax.Node) {
		if v != nil && (v.Kind != syntax.Map || len(v.Entries) > 0) {
			put(root, key, v)
		}
	}
	for _, key := range []string{"claim", "taken", "desk", "by"} {
		add(key, s.field(key))
	}
	add("stone", s.stone())
	add("stake", s.field("stake"))
	add("readings", s.readings(held))
	add("correlations", s.field("correlations"))
	if s.Truth != nil {
		add("truth", word(s.Truth.Material, syntax.JSONString))
	}
	add("recorded", s.recorded())
	add("note", s.note(held))
	return root
}

func (s *State) field(key string) *syntax.Node {
	if text, ok := s.Fields[key]; ok {
		return value(s.Number+", "+key, key, text)
	}
	return nil
}

func (s *State) stone() *syntax.Node {
	out := mapping()
	for _, key := range slices.Sorted(maps.Keys(s.Fields)) {
		if name, ok := strings.CutPrefix(key, "stone."); ok {
			put(out, name, s.field(key))
		}
	}
	return out
}

// readings lists them by observable, each as it was typed; several of one observable are a list of mappings.
func (s *State) readings(held map[string]string) *syntax.Node {
	typed := map[string][]*syntax.Node{}
	var order []string
	for _, r := range s.Live() {
		if typed[r.Observable] == nil {
			order = append(order, r.Observable)
		}
		typed[r.Observable] = append(typed[r.Observable], value(fmt.Sprintf("%s, reading %d of %s", s.Number, r.ID,
			r.Observable), r.Observable, r.Typed(held)))
	}
	out := mapping()
	for _, name := range order {
		all := typed[name]
		if len(all) == 1 {
			put(out, name, all[0])
			continue
		}
		put(out, name, syntax.NewList(slices.Concat(english.Each(all, asMaps)...)...))
	}
	return out
}

// asMaps writes a reading, or several, as mappings.
func asMaps(n *syntax.Node) []*syntax.Node {
	switch {
	case n.Kind == syntax.Map:
		return []*syntax.Node{n}
	case n.Kind == syntax.List && len(n.Items) > 0 && !slices.ContainsFunc(n.Items,
		func(it *syntax.Node) bool { return it.Kind != syntax.Map }):
		return n.Items
	}
	return []*syntax.Node{mapping("value", n)}
}

// Typed is the reading as it was typed, with its notes as far as they are given.
func (r *Reading) Typed(held map[string]string) string {
	var notes []note
	for _, ref := range r.Notes {
		if text, ok := held[ref.ID]; ok {
			notes = append(notes, note{ref.At, text})
		}
	}
	return withNotes(r.Text, notes)
}

// recorded is what was told of the case when its verdict was issued, here or before it came here.
func (s *State) recorded() *syntax.Node {
	last := s.Last()
	if last == nil {
		return s.field("recorded")
	}
	out := mapping("verdict", word(last.Verdict.Verdict, syntax.JSONString))
	for _, p := range [][2]string{{"claim", last.Claim}, {"named", last.Named}} {
		if p[1] != "" {
			put(out, p[0], word(p[1], syntax.JSONString))
		}
	}
	if len(last.Nodes) > 0 {
		put(out, "nodes", syntax.NewList(english.Each(last.Nodes, func(id string) *syntax.Node {
			return word(id, syntax.JSONString)
		})...))
	}
	put(out, "ruleset", word(last.Ruleset, syntax.JSONString))
	put(out, "method", word(strconv.Itoa(last.Method), syntax.JSONNumber))
	return out
}

// note is what the notes of the case say, as far as they are given.
func (s *State) note(held map[string]string) *syntax.Node {
	var texts []string
	for _, h := range s.Held {
		if text, ok := held[h.ID]; ok && h.What == Note {
			texts = append(texts, text)
		}
	}
	if len(texts) == 0 {
		return nil
	}
	return word(strings.Join(texts, "\n"), syntax.JSONString)
}

// value reads what was typed for a key. It was read before it was kept; what can't be read any more is told where the
// case is read.
func value(name, key, text string) *syntax.Node {
	var none diag.List
	n := Parse(&diag.Source{Name: name, Key: key, Text: []byte(text)}, &none)
	if n == nil {
		return word(text, syntax.JSONString)
	}
	return n
}

func word(text string, style syntax.Style) *syntax.Node {
	return &syntax.Node{Kind: syntax.Scalar, Style: style, Text: text}
}

func mapping(pairs ...any) *syntax.Node {
	out := &syntax.Node{Kind: syntax.Map}
	for i := 0; i+1 < len(pairs); i += 2 {
		put(out, pairs[i].(string), pairs[i+1].(*syntax.Node))
	}
	return out
}

func put(n *syntax.Node, key string, v *syntax.Node) {
	n.Entries = append(n.Entries, syntax.Entry{Key: word(key, syntax.JSONString), Value: v})
}
