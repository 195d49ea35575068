package proofread

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/eval"
)

// cellsOf are the cells that may be drawn for a column. The numbers lie between the points of the sharp grid.
var cellsOf = map[string][]string{
	"ri": {"below 1.5", "below 1.6", "from 1.6", "above 1.6", "1.5 to 1.7", "1.6 to 1.79", "from 1.7",
		"[below 1.5, from 1.7]", "[1.5 to 1.6, 1.7 to 1.79]", "from 1.79", "below 1.79"},
	"colour":      {"red", "blue", "[red, blue]", "[colourless]", "[blue, colourless]", "[red, blue, colourless]"},
	"inclusions":  {"feather", "needles", "[feather, needles]"},
	"high_index":  {"true", "false"},
	"stone.wet":   {"true", "false"},
	"stone.carat": {"below 1", "from 1", "above 1", "1 to 2", "below 2"},
}

// sharp are sharp readings of each column: between the numbers that are drawn, and of what is a number by itself at
// them too.
var sharp = map[string][]string{
	"ri":          {"1.45", "1.55", "1.65", "1.75", "1.795", "1.805"},
	"colour":      {"colourless", "blue", "red"},
	"inclusions":  {"feather", "needles"},
	"stone.wet":   {"false", "true"},
	"stone.carat": {"0.5", "1", "1.5", "2", "2.5"},
}

// drawTable draws a rule table, sometimes with an exception, or a draft.
func drawTable(t *rapid.T) (text string, columns []string) {
	columns = rapid.Permutation([]string{"ri", "colour", "inclusions", "high_index", "stone.wet",
		"stone.carat"}).Draw(t, "columns")[:rapid.IntRange(1, 3).Draw(t, "how many")]
	var b strings.Builder
	fmt.Fprintf(&b, "format: 1\ntables:\n  - table: drawn\n    says: Drawn.\n    source: invented\n    columns: "+
		"[%s]\n    rows:\n", strings.Join(columns, ", "))
	for i := range rapid.IntRange(1, 6).Draw(t, "rows") {
		fmt.Fprintf(&b, "      - {row: r%d, cautions: c%d", i, i)
		for _, c := range columns {
			if rapid.IntRange(0, 3).Draw(t, "any") > 0 {
				fmt.Fprintf(&b, ", %s: %s", c, rapid.SampledFrom(cellsOf[c]).Draw(t, "cell"))
			}
		}
		if rapid.IntRange(0, 4).Draw(t, "excepted") == 0 {
			b.WriteString(`, unless: colour == "red"`)
		}
		b.WriteString("}\n")
	}
	return b.String(), columns
}

// point is a case of the grid: what is read, by column.
type point map[string]string

func (p point) text() string {
	return fmt.Sprintf("format: 1\ncase: point\nstone: {wet: %s, carat: %s}\nreadings: {ri: {value: %s, uncertainty: "+
		"0.0001}, colour: %s, inclusions: [%s]}\n",
		p["stone.wet"], p["stone.carat"], p["ri"], p["colour"], p["inclusions"])
}

// sharpGrid calls f with each point as far as some columns, and the colour that exceptions ask for, can tell them
// apart.
func sharpGrid(columns []string, f func(point)) {
	columns = append([]string{"colour"}, columns...)
	all := []point{{}}
	for _, name := range []string{"ri", "colour", "inclusions", "stone.wet", "stone.carat"} {
		values := sharp[name]
		if !slices.Contains(columns, name) && (name != "ri" || !slices.Contains(columns, "high_index")) {
			values = values[:1]
		}
		var more []point
		for _, p := range all {
			for _, v := range values {
				q := maps.Clone(p)
				q[name] = v
				more = append(more, q)
			}
		}
		all = more
	}
	for _, p := range all {
		p["high_index"] = fmt.Sprint(p["ri"] == "1.805")
		f(p)
	}
}

// at is the place of a point on an axis; -1 where the axis doesn't ask for such.
func (x *axis) at(p point) int {
	text := p[x.column.Name]
	if !x.ordered() {
		if i := slices.Index(x.words, text); i >= 0 || len(x.words) > 0 {
			return i
		}
		return 0
	}
	var v float64
	fmt.Sscan(text, &v)
	i, is := slices.BinarySearch(x.places, v)
	if is {
		return 2*i + 1
	}
	return 2 * i
}

// in tells whether a point lies in a region.
func (g *tableGrid) in(p point, r region) bool {
	for i, x := range g.axes {
		if at := x.at(p); r[i] != nil && !r[i].meets(run(at, at+1)) {
			return false
		}
	}
	return true
}

func (g *tableGrid) asks(p point) bool {
	return !slices.ContainsFunc(g.axes, func(x *axis) bool { return x.at(p) < 0 })
}

// TestTablesAgainstGrid: the regions found in random tables hold exactly the points of a grid of sharp readings that
// meet no row, and rows are told to overlap exactly where a point meets both.
func TestTablesAgainstGrid(t *testing.T) {
	points, gaps, pairs := 0, 0, 0
	cases := map[string]bool{}
	rapid.Check(t, func(rt *rapid.T) {
		text, columns := drawTable(rt)
		rs := above(t, text)
		table := rs.Tables[0]
		p := newPass(t.Context(), rs, on)
		g := newGrid(p.space, table, table.Rows)
		regions, all := p.openRegions(table, g)
		if !all {
			rt.Fatal("not all was looked at")
		}
		overlap := map[string]bool{}
		open := 0
		run := eval.New(rs)
		sharpGrid(columns, func(pt point) {
			points++
			run.Do(readCase(t, rs, pt.text()), on)
			none := !slices.ContainsFunc(table.Rows, func(r *kb.TableRow) bool { return met(run, r) })
			if none && g.asks(pt) {
				open++
			}
			in := slices.ContainsFunc(regions, func(r region) bool { return g.in(pt, r) })
			if g.asks(pt) && none != in {
				rt.Fatalf("%s: met by no row: %v, in a gap: %v, of %s", pt.text(), none, in, text)
			}
			for j, b := range table.Rows {
				for _, a := range table.Rows[:j] {
					if run.Fired(a.Rule) && run.Fired(b.Rule) && asks(a) && asks(b) {
						overlap[b.Rule.ID+", "+a.Rule.ID] = true
					}
				}
			}
		})
		if len(regions) > open {
			rt.Fatalf("%d regions for %d points", len(regions), open)
		}
		tables(p)
		told := map[string]bool{}
		for _, f := range p.found {
			switch f.Code {
			case "table-overlap":
				told[f.Sheets[1].ID+", "+f.Sheets[2].ID] = true
				pairs++
			case "table-gap":
				run.Do(readCase(t, rs, f.Witness.Text), on)
				if slices.ContainsFunc(table.Rows, func(r *kb.TableRow) bool { return met(run, r) }) {
					rt.Fatalf("a row is met by the witness %s of %s", f.Witness.Text, text)
				}
				gaps++
			}
			cases[string(f.Code)] = true
		}
		if len(overlap) > maxTold {
			if len(told) != maxTold {
				rt.Fatalf("told are %v of %v", told, overlap)
			}
			return
		}
		for k := range overlap {
			if !told[k] {
				rt.Fatalf("%s overlap, and it is not told, of %s", k, text)
			}
		}
		if len(told) > len(overlap) {
			rt.Fatalf("told are %v, the grid shows %v, of %s", told, overlap, text)
		}
		if len(p.unsure) > 0 {
			rt.Fatalf("unsure of %s", text)
		}
	})
	t.Log(points, "points,", gaps, "gaps,", pairs, "overlaps")
	if !testing.Short() && (gaps < 20 || pairs < 20) { // -short draws few
		t.Errorf("only %d gaps and %d overlaps", gaps, pairs)
	}
}
