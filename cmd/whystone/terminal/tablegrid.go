package terminal

import (
	"strings"

	"whystone/kb"
	"whystone/kb/english"
)

const (
	tableGap      = 2
	followsHead   = "what follows"
	narrowFollows = 24 // the least width in which what follows can be read
	wideFollows   = 48 // more than this is given to it only when the cells need no more
)

// columnWidths shares the width out among the columns: the row's name, the cells and what follows. Each has room for
// its longest word, and more as far as there is any; nil when that is too much for the width.
func columnWidths(width int, t *kb.Table, rows []tableRow) []int {
	n := len(t.Columns) + 1
	least, most := make([]int, n), make([]int, n)
	longest := 0 // of what follows
	see := func(i int, text string) {
		most[i] = max(most[i], cellsOf(clean(text)))
		for _, w := range strings.Fields(clean(text)) {
			least[i] = max(least[i], cellsOf(w))
		}
	}
	see(0, "row")
	for i, c := range t.Columns {
		for _, part := range nameParts(c.Name) {
			see(i+1, part)
		}
		most[i+1] = max(most[i+1], cellsOf(c.Name))
	}
	for _, r := range rows {
		for _, f := range append(r.follows, r.place) {
			longest = max(longest, cellsOf(clean(f)))
		}
		see(0, r.name)
		for i, c := range r.cells {
			see(i+1, c)
		}
	}
	left := width - tableGap*n - narrowFollows
	for _, w := range least {
		left -= w
	}
	if left < 0 {
		return nil
	}
	follows := narrowFollows + min(left/2, max(min(longest, wideFollows)-narrowFollows, 0))
	left -= follows - narrowFollows
	for i := range least {
		more := min(most[i]-least[i], left)
		least[i] += more
		left -= more
	}
	return append(least, follows+left)
}

// nameParts are the parts at whose ends a name may be broken.
func nameParts(name string) []string {
	var out []string
	for {
		i := strings.IndexAny(name, "_.")
		if i < 0 {
			return append(out, name)
		}
		out, name = append(out, name[:i+1]), name[i+1:]
	}
}

// broken is a name over as many lines as a width makes of it.
func broken(name string, width int) []string {
	lines := []string{""}
	for _, part := range nameParts(name) {
		if last := lines[len(lines)-1]; last != "" && cellsOf(last+part) > width {
			lines = append(lines, "")
		}
		lines[len(lines)-1] += part
	}
	return lines
}

// grid writes the rows under their columns.
func (p *Printer) grid(widths []int, t *kb.Table, rows []tableRow) {
	head := [][]run{{{Dim, "row"}}}
	for i, c := range t.Columns {
		head = append(head, inStyle(Dim, broken(c.Name, widths[i+1])))
	}
	p.gridRow(widths, append(head, []run{{Dim, followsHead}}))
	for _, r := range rows {
		p.gridRow(widths, r.lines(widths))
	}
}

// lines wraps a row's cells in their columns: the place stands below what follows.
func (r tableRow) lines(widths []int) [][]run {
	out := [][]run{inStyle(Bold, []string{r.name})}
	for i, c := range r.cells {
		out = append(out, inStyle(Plain, wrap(clean(c), widths[i+1])))
	}
	var last []run
	for _, f := range r.follows {
		last = append(last, inStyle(Plain, wrapHanging(clean(f), widths[len(widths)-1], 2))...)
	}
	return append(out, append(last, inStyle(Dim, wrapHanging(clean(r.place), widths[len(widths)-1], 2))...))
}

func inStyle(style Style, lines []string) []run {
	return english.Each(lines, func(l string) run { return run{style, l} })
}

// gridRow writes the lines of columns side by side.
func (p *Printer) gridRow(widths []int, columns [][]run) {
	tallest := 0
	for _, c := range columns {
		tallest = max(tallest, len(c))
	}
	for k := range tallest {
		var line []run
		for i, c := range columns {
			x := run{Plain, ""}
			if k < len(c) {
				x = c[k]
			}
			line = append(line, x, run{Plain, strings.Repeat(" ", max(widths[i]-cellsOf(x.text), 0)+tableGap)})
		}
		p.line(line...)
	}
}

// blocks writes the rows under each other, where the width has no room for columns.
func (p *Printer) blocks(t *kb.Table, rows []tableRow) {
	for i, r := range rows {
		if i > 0 {
			p.Blank()
		}
		p.Text(Bold, 0, r.name)
		asked := false
		for i, c := range r.cells {
			if c != "any" {
				asked = true
				p.hang(Plain, "  ", "    ", t.Columns[i].Name+": "+c)
			}
		}
		if !asked {
			p.Text(Plain, 2, "always")
		}
		for _, f := range r.follows {
			p.hang(Plain, "  ", "    ", f)
		}
		p.hang(Dim, "  ", "    ", r.place)
	}
}
