package desk

import (
	"html/template"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
)

// functions are what templates may call: they choose and join what is there, and make no sentence.
var functions = template.FuncMap{
	"join":       strings.Join,
	"words":      phrase.InWords,
	"plain":      plain,
	"short":      kb.ShortDigest,
	"fieldClass": func(label string) string { return strings.ToLower(strings.ReplaceAll(label, " ", "-")) },
	"list":       func(items ...string) []string { return items },
	"add":        func(a, b int) int { return a + b },
	"give": func(pairs ...any) map[string]any {
		out := map[string]any{}
		for i := 0; i+1 < len(pairs); i += 2 {
			out[pairs[i].(string)] = pairs[i+1]
		}
		return out
	},
}
