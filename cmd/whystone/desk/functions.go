package desk

import (
	"html/template"
	"strings"
	"time"
)

// functions are what templates may call: they choose and join what is there, and make no sentence.
var functions = template.FuncMap{
	"join":  strings.Join,
	"clock": func(t time.Time) string { return t.Format("15:04") },
	"pair":  func(a, b any) [2]any { return [2]any{a, b} },
}
