package terminal

import "strings"

// Node is a line of a tree, wrapped where it is long, with what hangs below it.
type Node struct {
	Text  string
	Style Style
	Notes []string // dim lines under the text, before the kids
	Kids  []*Node
}

// add hangs a node below n and returns it.
func (n *Node) add(style Style, text string, notes ...string) *Node {
	k := &Node{Text: text, Style: style, Notes: notes}
	n.Kids = append(n.Kids, k)
	return k
}

// Tree writes a root and all that hangs below it.
func (p *Printer) Tree(root *Node) { p.branch(root, "", "") }

func (p *Printer) branch(n *Node, first, others string) {
	more := others + "  "
	if len(n.Kids) > 0 {
		more = others + "│ "
	}
	p.hang(n.Style, first, more, n.Text)
	for _, note := range n.Notes {
		p.hang(Dim, more, more, note)
	}
	for i, k := range n.Kids {
		if i < len(n.Kids)-1 {
			p.branch(k, others+"├ ", others+"│ ")
		} else {
			p.branch(k, others+"└ ", others+"  ")
		}
	}
}

// Table writes rows of cells in columns, each cell wrapped within its column; the first row is the head. widths are
// cells a column; 0 shares what is left.
func (p *Printer) Table(widths []int, head []string, rows [][]string) {
	const gap = 2
	left, open := p.width-gap*(len(widths)-1), 0
	for _, w := range widths {
		left -= w
		if w == 0 {
			open++
		}
	}
	at := make([]int, len(widths))
	for i, w := range widths {
		at[i] = w
		if w == 0 {
			at[i] = max(left/open, 8)
		}
	}
	p.row(at, gap, Bold, head)
	for _, r := range rows {
		p.row(at, gap, Plain, r)
	}
}

func (p *Printer) row(widths []int, gap int, style Style, cells []string) {
	wrapped := make([][]string, len(cells))
	tallest := 0
	for i, c := range cells {
		wrapped[i] = wrap(clean(c), widths[i])
		tallest = max(tallest, len(wrapped[i]))
	}
	for l := range tallest {
		var line strings.Builder
		for i := range cells {
			text := ""
			if l < len(wrapped[i]) {
				text = wrapped[i][l]
			}
			line.WriteString(text)
			if i < len(cells)-1 {
				line.WriteString(strings.Repeat(" ", max(widths[i]-cellsOf(text), 0)+gap))
			}
		}
		p.line(run{style, line.String()})
	}
}
