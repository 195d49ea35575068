package desk

import (
	"cmp"
	"fmt"
	"html/template"
	"strings"
	"time"

	"whystone/cmd/whystone/catalog"
	"whystone/engine/phrase"
	"whystone/engine/replay"
	"whystone/kb"
	"whystone/kb/english"
)

// functions are what templates may call: they choose and join what is there, and make no sentence.
var functions = template.FuncMap{
	"join":       strings.Join,
	"ends":       strings.HasSuffix,
	"three":      func(a, b, c any) []any { return []any{a, b, c} },
	"words":      phrase.InWords,
	"plain":      plain,
	"short":      kb.ShortDigest,
	"fieldClass": func(label string) string { return strings.ToLower(strings.ReplaceAll(label, " ", "-")) },
	"list":       func(items ...string) []string { return items },
	"day":        func(t time.Time) string { return t.UTC().Format(time.DateOnly) },
	"moment":     func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") },
	"often":      kb.ByFrequency,
	"answer":     answerSays,
	"span":       span,
	"harms":      func(h any) bool { return !kb.Harm(fmt.Sprint(h)).Harmless() },
	"unit": func(y catalog.Yield) string {
		if y.Unit == "1" {
			return ""
		}
		return y.Unit
	},
	"percent": func(x float64) string { return fmt.Sprintf("%.2g", 100*x) },
	"pair":    func(a, b any) [2]any { return [2]any{a, b} },
	"grid":    replay.GridOf,
	"count":   english.Count[int],
	"add":     func(a, b int) int { return a + b },
	"give": func(pairs ...any) map[string]any {
		out := map[string]any{}
		for i := 0; i+1 < len(pairs); i += 2 {
			out[pairs[i].(string)] = pairs[i+1]
		}
		return out
	},
}

// claimAnswers are the answers to a claim, in the words of a page.
var claimAnswers = map[string]string{"stands": "agrees with the readings", "falls": "does not agree with the readings",
	"open": "is left open"}

// answerSays is an answer to a claim in words; what is none comes back.
func answerSays(a string) string { return cmp.Or(claimAnswers[a], a) }

// span writes a range as its sheet does.
func span(r catalog.Range) string {
	return phrase.RangeText(&kb.Range{Low: r.Range[0], High: r.Range[1], Derived: r.Derived})
}
