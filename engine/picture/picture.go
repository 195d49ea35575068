// Package picture draws what one would rather look at than read: an index against a density, what a balance can tell
// apart, what speaks for and against each material, how far shares come true.
//
// A picture is text of an SVG without script or style sheet, legible in grey and on paper, with the same figures in a
// table behind it. Everything is drawn in the current colour of the text around it, and each part bears a class, so
// that a page can restyle it. The types that are drawn hold plain figures; OfCase and its like make them of what the
// engine knows.
package picture

import (
	_ "embed"
	"html/template"
	"io"
	"strings"
)

// Picture is one as it is shown: the drawing, and the table that says the same.
type Picture struct {
	Title string
	SVG   template.HTML // one <svg> element of class "picture"
	Table Table
	Notes []string // how to read it, and what it leaves out
}

// Table is what stands behind a picture. Columns from Figures on hold numbers.
type Table struct {
	Head []string
	Rows [][]string
}

//go:embed page.html.tmpl
var pageText string

var page = template.Must(template.New("page").Parse(pageText))

// WritePage writes pictures with their tables as one page that needs nothing else: it prints, and follows the
// reader's light or dark setting.
func WritePage(w io.Writer, title string, pictures ...*Picture) error {
	return page.Execute(w, struct {
		Title    string
		Pictures []*Picture
	}{title, pictures})
}

// WriteSVG writes the drawing alone as a file of its own, black on white, with its table as text for who can't see it.
func (p *Picture) WriteSVG(w io.Writer) error {
	const own = `<svg xmlns="http://www.w3.org/2000/svg" style="background:white" `
	_, err := io.WriteString(w, strings.Replace(string(p.SVG), "<svg ", own, 1)+"\n")
	return err
}

// picture is the picture of what is drawn, with the table that says the same.
func (s *scene) picture(table Table, notes ...string) *Picture {
	s.Desc = table.text()
	return &Picture{Title: s.Title, SVG: s.draw(), Table: table, Notes: notes}
}

// text is the table as text, a line a row.
func (t Table) text() string {
	var b strings.Builder
	for _, row := range append([][]string{t.Head}, t.Rows...) {
		b.WriteString(strings.Join(row, "; ") + "\n")
	}
	return b.String()
}
