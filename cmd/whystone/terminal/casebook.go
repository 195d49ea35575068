package terminal

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/kb/english"
)

// Moment is a moment as a casebook tells it.
func Moment(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") + " UTC" }

// Entry says in a line when, by whom and what was done. A page may say the last in words of its own.
func Entry(e *casebook.Event, deed string) string { return Moment(e.At) + "  " + e.By + "  " + deed }

// Deed says in a line what an event of a casebook says.
func Deed(e *casebook.Event) string {
	d := &e.Data
	says := string(e.Kind)
	switch e.Kind {
	case casebook.Opened:
		if d.Called != "" {
			says += ", called " + d.Called
		}
	case casebook.Added:
		says += ": " + d.Observable + " " + oneLine(d.Text)
	case casebook.Corrected:
		says = fmt.Sprintf("reading %d corrected: %s", d.Reading, oneLine(d.Text))
	case casebook.Withdrawn:
		says = fmt.Sprintf("reading %d withdrawn", d.Reading)
	case casebook.Changed:
		for _, key := range slices.Sorted(maps.Keys(d.Fields)) {
			says += "; " + key + ": " + cmp.Or(oneLine(d.Fields[key]), "taken away")
		}
	case casebook.Issued:
		says += ": " + d.Verdict.Verdict
		if d.Verdict.Named != "" {
			says += " as " + d.Verdict.Named
		}
	case casebook.Truth:
		says += ": " + Found(d.Truth)
	case casebook.Noted, casebook.Pictured:
		for _, p := range d.Particulars {
			says = string(p.What) + " recorded"
		}
	case casebook.Erased:
		says += ": " + strings.Join(d.Erase, ", ")
	}
	if d.Because != "" {
		says += " (" + d.Because + ")"
	}
	return says
}

// Found says what a stone turned out to be, and who says so.
func Found(f *casebook.Finding) string {
	says := f.Material
	for _, p := range [][2]string{{", says ", f.Laboratory}, {", report ", f.Report}, {" of ", f.Dated}} {
		if p[1] != "" {
			says += p[0] + p[1]
		}
	}
	return says
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// numbered writes what stands beside a number.
func (p *Printer) numbered(number int, says string) {
	head := fmt.Sprintf("  %-4d", number)
	p.hang(Plain, head, strings.Repeat(" ", len(head)+2), says)
}

var openWords = map[bool]string{true: "closed", false: "open"}

// Case writes what a case has come to, and how. What is held apart is told as far as it is given, by its id.
func (p *Printer) Case(s *casebook.State, held map[string]string) {
	left := s.Number
	if s.Called != "" {
		left += "   called " + s.Called
	}
	p.Columns(Bold, left, openWords[s.Closed]+", version "+strconv.Itoa(s.Version))
	var stone []string
	for _, key := range slices.Sorted(maps.Keys(s.Fields)) {
		text := oneLine(s.Fields[key])
		if name, ok := strings.CutPrefix(key, "stone."); ok {
			stone = append(stone, name+" "+text)
			continue
		}
		p.Field(key, Plain, text)
	}
	p.fieldIf("stone", strings.Join(stone, ", "))
	for _, h := range s.Held {
		text, given := held[h.ID]
		if text += " (" + h.ID + ")"; !given || h.What == casebook.Picture {
			text = Joined(", ", "held apart as "+h.ID, h.Type)
		}
		what := string(h.What)
		if h.What == casebook.ReadingNote {
			what, text = string(casebook.Note), text+", with reading "+strconv.Itoa(h.Event.Version)
		}
		p.Field(what, Plain, text)
	}
	if len(s.Readings) > 0 {
		p.Text(Bold, 0, "Readings")
	}
	for _, r := range s.Readings {
		says := r.Observable + " " + oneLine(r.Typed(held))
		if r.Event.Version != r.ID {
			says += fmt.Sprintf(", corrected in version %d", r.Event.Version)
		}
		if r.Withdrawn != "" {
			says += ", withdrawn: " + r.Withdrawn
		}
		p.numbered(r.ID, says)
	}
	if s.Truth != nil {
		p.Text(Bold, 0, "Turned out to be "+Found(s.Truth))
	}
	p.Text(Bold, 0, "What was done")
	for _, e := range s.Events {
		p.numbered(e.Version, Entry(e, Deed(e)))
	}
}

// Cases lists cases, one below the other.
func (p *Printer) Cases(list []casebook.Summary, more bool) {
	rows := english.Each(list, func(c casebook.Summary) []string {
		verdict := cmp.Or(c.Verdict, "no verdict issued")
		if c.Verdict != "" && c.Named != "" {
			verdict += ": " + c.Named
		}
		if c.Truth != "" {
			verdict += "; turned out to be " + c.Truth
		}
		return []string{c.Number, c.Opened, openWords[c.Closed], cmp.Or(c.Claim, "-"), verdict}
	})
	widths := make([]int, 4)
	for _, r := range rows {
		for i := range widths {
			widths[i] = max(widths[i], min(cellsOf(clean(r[i])), 30))
		}
	}
	for _, r := range rows {
		head := ""
		for i, w := range widths {
			head += pad(clean(r[i]), w+2)
		}
		if cellsOf(head)+cellsOf(clean(r[4])) <= p.width {
			p.line(run{Plain, head + clean(r[4])})
			continue
		}
		p.line(run{Plain, head})
		p.Text(Plain, 4, r[4])
	}
	switch {
	case len(list) == 0:
		p.Text(Plain, 0, "No case.")
	case more:
		p.Text(Dim, 0, "There are more; --most N lists so many.")
	}
}

// Count writes a number of things.
func Count(n int) string { return english.Thousands(float64(n)) }
