// Package topics holds the pages of help that are longer than a command's own, as Markdown.
package topics

import (
	"embed"
	"io/fs"
	"slices"
	"strings"

	"whystone/engine/phrase"
)

//go:embed *.md
var pages embed.FS

// Names lists the topics, sorted.
func Names() []string {
	files, _ := fs.Glob(pages, "*.md") // the pattern is well formed
	for i, f := range files {
		files[i] = strings.TrimSuffix(f, ".md")
	}
	slices.Sort(files)
	return files
}

// Page is the page of a topic, in Markdown; false: there is none. That of reasons ends with the table of their codes.
func Page(name string) (string, bool) {
	text, err := pages.ReadFile(name + ".md")
	if name == "reasons" {
		text = append(text, codes()...)
	}
	return string(text), err == nil
}

// codes are the codes of reasons, under their headings.
func codes() string {
	var b strings.Builder
	of := ""
	for _, e := range phrase.Table() {
		if e.Of != of {
			of = e.Of
			b.WriteString("\n## " + of + "\n\n| code | words |\n|---|---|\n")
		}
		says := strings.ReplaceAll(strings.TrimSpace(e.Says), "|", `\|`)
		if e.Within != "" {
			says += " (in short: " + strings.TrimSpace(e.Within) + ")"
		}
		b.WriteString("| `" + string(e.Code) + "` | " + says + " |\n")
	}
	return b.String()
}

// Title is the heading of a page.
func Title(page string) string {
	first, _, _ := strings.Cut(page, "\n")
	return strings.TrimPrefix(first, "# ")
}
