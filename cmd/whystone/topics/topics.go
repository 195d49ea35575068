// Package topics holds the pages of help that are longer than a command's own, as Markdown.
package topics

import (
	"embed"
	"io/fs"
	"slices"
	"strings"
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

// Page is the page of a topic, in Markdown; false: there is none.
func Page(name string) (string, bool) {
	text, err := pages.ReadFile(name + ".md")
	return string(text), err == nil
}

// Title is the heading of a page.
func Title(page string) string {
	first, _, _ := strings.Cut(page, "\n")
	return strings.TrimPrefix(first, "# ")
}
