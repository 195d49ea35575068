package condition

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"whystone/kb/diag"
)

// conformanceRow is one line of the conformance file: a condition with readings and what it comes to, or a refusal.
type conformanceRow struct {
	line       int
	expression string
	readings   string
	want       string   // holds, fails, undecided, fault
	causes     []string // of undecided, when the line names them
}

// conformanceCase is a condition with the refusals that it must give, in order; none when it compiles.
type conformanceCase struct {
	line       int
	expression string
	rows       []conformanceRow
	refusals   []string
}

// readConformance reads the file: a condition at the margin, its rows indented below it.
func readConformance(t *testing.T) []conformanceCase {
	t.Helper()
	text, err := os.ReadFile("testdata/conformance.txt")
	if err != nil {
		t.Fatal(err)
	}
	var cases []conformanceCase
	for i, line := range strings.Split(string(text), "\n") {
		row, indented := strings.CutPrefix(line, "    ")
		switch {
		case strings.TrimSpace(line) == "" || line[0] == '#':
		case !indented:
			cases = append(cases, conformanceCase{line: i + 1, expression: strings.ReplaceAll(line, "⏎", "\n")})
		case len(cases) == 0:
			t.Fatalf("line %d: a row before any condition", i+1)
		default:
			c := &cases[len(cases)-1]
			if refusal, ok := strings.CutPrefix(row, "! "); ok {
				c.refusals = append(c.refusals, refusal)
				continue
			}
			readings, want, ok := strings.Cut(row, "=> ")
			if !ok {
				t.Fatalf("line %d: a row says readings => truth, or ! refusal", i+1)
			}
			r := conformanceRow{line: i + 1, expression: c.expression, readings: readings}
			parts := strings.Split(want, " | ")
			r.want, r.causes = parts[0], parts[1:]
			c.rows = append(c.rows, r)
		}
	}
	return cases
}

// TestConformance pins what each construct of the language means, against readings, and what is refused, with its span.
// The parser is not ours: this file is what holds it still.
func TestConformance(t *testing.T) {
	scope := deskScope()
	cases := readConformance(t)
	rows := 0
	for _, c := range cases {
		rows += len(c.rows) + len(c.refusals)
		t.Run(fmt.Sprintf("line %d", c.line), func(t *testing.T) {
			cond, out := compileFor(scope, c.expression)
			checkRefusals(t, c, out)
			for _, r := range c.rows {
				if cond != nil {
					checkRow(t, scope, cond, r)
				}
			}
		})
	}
	if rows < 150 {
		t.Errorf("the conformance file has %d rows; it must have 150 at least", rows)
	}
}

// checkRefusals compares "code @ start-end", with "; near: name" and "; hint: part of the detail" where the line has
// them.
func checkRefusals(t *testing.T, c conformanceCase, out diag.List) {
	t.Helper()
	if len(out) != len(c.refusals) {
		t.Errorf("%s\n%d refusals wanted, %d found:\n%s", c.expression, len(c.refusals), len(out),
			describeRefusals(out))
		return
	}
	for i, want := range c.refusals {
		d := out[i]
		parts := strings.Split(want, "; ")
		if got := fmt.Sprintf("%s @ %d-%d", d.Code, d.Span.Start, d.Span.End); got != parts[0] {
			t.Errorf("%s\nwant %s\ngot  %s", c.expression, want, describeRefusals(out[i:i+1]))
		}
		near, hint := "", ""
		for _, p := range parts[1:] {
			if v, ok := strings.CutPrefix(p, "near: "); ok {
				near = v
			} else if v, ok := strings.CutPrefix(p, "hint: "); ok {
				hint = v
			} else {
				t.Errorf("%q is neither near nor hint", p)
			}
		}
		if d.Nearest != near {
			t.Errorf("%s\nnearest %q, want %q", c.expression, d.Nearest, near)
		}
		if !strings.Contains(d.Summary+" "+d.Detail, hint) {
			t.Errorf("%s\n%q is not in %q", c.expression, hint, d.Summary+" "+d.Detail)
		}
	}
}

func describeRefusals(out diag.List) string {
	var b strings.Builder
	for _, d := range out {
		fmt.Fprintf(&b, "    ! %s @ %d-%d %s near=%s\n      %s | %s\n", d.Code, d.Span.Start, d.Span.End,
			strconv.Quote(d.Span.Text()), d.Nearest, d.Summary, d.Detail)
	}
	return b.String()
}

func checkRow(t *testing.T, scope *Scope, cond *Condition, r conformanceRow) {
	t.Helper()
	v, causes, err := Evaluate(cond, stateOf(t, scope, r.readings))
	got := v.String()
	if err != nil {
		got = "fault"
	}
	if got != r.want {
		t.Errorf("line %d: %s\n%s\ngot %s (%v, %v), want %s", r.line, r.expression, r.readings, got, causes, err,
			r.want)
		return
	}
	if got == "undecided" && len(causes) == 0 || got != "undecided" && len(causes) > 0 {
		t.Errorf("line %d: %s is %s, with the causes %v", r.line, r.expression, got, causes)
	}
	if len(r.causes) == 0 {
		return
	}
	var says []string
	for _, c := range causes {
		says = append(says, c.String())
	}
	if strings.Join(says, " | ") != strings.Join(r.causes, " | ") {
		t.Errorf("line %d: %s\n%s\ncauses %q, want %q", r.line, r.expression, r.readings, says, r.causes)
	}
}
