package terminal

import (
	"bytes"
	"io"
	"strings"
)

// Style is how a piece of text stands out.
type Style int

// The styles. Without colour they all look alike.
const (
	Plain Style = iota
	Bold
	Dim
	Accent
)

// codes are the SGR parameters of the styles (ECMA-48): bold; faint; bold in the accent colour.
var codes = [...]string{"", "1", "2", "1;36"}

// DefaultWidth is the number of cells of a line where nothing says otherwise.
const DefaultWidth = 80

// Narrowest is the least width that is laid out for; a narrower terminal wraps by itself.
const Narrowest = 40

// Printer gathers text and sends it on when it is flushed.
type Printer struct {
	out    io.Writer
	buf    bytes.Buffer
	width  int
	colour bool
}

// New makes a printer for lines of a width (0: 80 cells).
func New(out io.Writer, width int, colour bool) *Printer {
	if width <= 0 {
		width = DefaultWidth
	}
	return &Printer{out: out, width: max(width, Narrowest), colour: colour}
}

// Flush sends on what was gathered.
func (p *Printer) Flush() error {
	_, err := p.out.Write(p.buf.Bytes())
	p.buf.Reset()
	return err
}

// Blank writes an empty line.
func (p *Printer) Blank() { p.buf.WriteByte('\n') }

// run is a piece of a line in one style.
type run struct {
	style Style
	text  string
}

// line writes a line of runs; blanks at its end are left out.
func (p *Printer) line(runs ...run) {
	for len(runs) > 0 && strings.TrimSpace(runs[len(runs)-1].text) == "" {
		runs = runs[:len(runs)-1]
	}
	for i, r := range runs {
		if i == len(runs)-1 {
			r.text = strings.TrimRight(r.text, " ")
		}
		if p.colour && r.style != Plain && strings.TrimSpace(r.text) != "" {
			p.buf.WriteString("\x1b[" + codes[r.style] + "m" + r.text + "\x1b[0m")
			continue
		}
		p.buf.WriteString(r.text)
	}
	p.buf.WriteByte('\n')
}

// Text writes paragraphs, each line indented and wrapped.
func (p *Printer) Text(style Style, indent int, text string) {
	p.hang(style, strings.Repeat(" ", indent), strings.Repeat(" ", indent), text)
}

// section begins a part of a page.
func (p *Printer) section(head string) {
	p.Blank()
	p.Text(Bold, 0, head)
}

// hang writes paragraphs, the very first line after one prefix and all others after another. Prefixes are not styled.
func (p *Printer) hang(style Style, first, others, text string) {
	for _, l := range wrap(clean(text), p.width-max(cellsOf(first), cellsOf(others))) {
		p.line(run{Plain, first}, run{style, l})
		first = others
	}
}

// labelColumn is where the text beside a label begins.
const labelColumn = 15

// Field writes texts beside a label, each on a line of its own; a line that goes on is indented further.
func (p *Printer) Field(label string, style Style, texts ...string) {
	for i, t := range texts {
		head := "  " + pad(clean(label), labelColumn-2)
		if i > 0 {
			head = strings.Repeat(" ", labelColumn)
		}
		for k, l := range wrapHanging(clean(t), p.width-labelColumn, 2) {
			if k > 0 {
				head = strings.Repeat(" ", labelColumn)
			}
			p.line(run{Dim, head}, run{style, l})
		}
	}
}

// pad fills a text up with spaces, with at least one at its end.
func pad(text string, cells int) string {
	return text + strings.Repeat(" ", max(cells-cellsOf(text), 1))
}

// pair is a name and what it is called by.
type pair struct {
	style    Style
	name, id string
}

// list writes names with their ids in a column, or below where a line would be too long.
func (p *Printer) list(pairs []pair) {
	column := 0
	for _, x := range pairs {
		column = max(column, cellsOf(x.name)+2)
	}
	for _, x := range pairs {
		if column+cellsOf(x.id) <= p.width {
			p.line(run{x.style, pad(clean(x.name), column)}, run{Dim, x.id})
			continue
		}
		indent := len(x.name) - len(strings.TrimLeft(x.name, " "))
		p.Text(x.style, indent, x.name)
		p.Text(Dim, indent+4, x.id)
	}
}

// fits tells whether two texts stand beside each other.
func (p *Printer) fits(left, right string) bool {
	return p.width-cellsOf(clean(left))-cellsOf(clean(right)) >= 2
}

// title writes a name on lines of its own; one without blanks that is longer than a line is broken all the same.
func (p *Printer) title(name string) {
	for i, l := range wrap(clean(name), p.width-2) {
		for rest := []rune(l); len(rest) > 0; i++ {
			n := len(rest)
			for n > 1 && cellsOf(string(rest[:n])) > p.width-2 {
				n--
			}
			p.line(run{Plain, strings.Repeat(" ", 2*min(i, 1))}, run{Bold, string(rest[:n])})
			rest = rest[n:]
		}
	}
}

// Columns writes a text at the left and one at the right edge, or under each other where they don't fit.
func (p *Printer) Columns(style Style, left, right string) {
	left, right = clean(left), clean(right)
	gap := p.width - cellsOf(left) - cellsOf(right)
	if !p.fits(left, right) || right == "" {
		p.Text(style, 0, left)
		if right != "" {
			p.Text(Dim, 2, right)
		}
		return
	}
	p.line(run{style, left}, run{Dim, strings.Repeat(" ", gap) + right})
}
