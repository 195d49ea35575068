package terminal

import (
	"bytes"
	"strings"
	"testing"
	"whystone/kb/diag"

	"whystone/engine/coverage"
)

// wideReport has long names and large numbers, and a text that would move a cursor.
func wideReport() *coverage.Report {
	long := strings.Repeat("long-", 9) + "name"
	return &coverage.Report{Format: 1, AsOf: "2031-04-12T13:00:00+01:00", AsOfFrom: "clock", Undated: 1,
		Cases: 12345678, Unreadable: 8, Partial: true, Unread: []coverage.Unread{{Number: 1, Place: "a.jsonl:1",
			Says: "no test gives an observable \x1b[31m\"no_such\""}, {}, {}, {}, {}, {}},
		Rules: []coverage.Rule{
			{ID: long + "-a", Status: "active", Spot: diag.Spot{File: "a-folder-of-rules/" + long + ".yaml",
				Line: 1234}, Count: coverage.Count{Undecided: 12345678},
				Parts: []coverage.Part{{Says: "ri > 1.7", Key: "if",
					PartCount: coverage.PartCount{Undecided: 12345678}}}},
			{ID: long + "-b", Status: "active", Count: coverage.Count{Held: 345678, Failed: 2000000, Undecided: 9999999,
				Faults: 1}},
			{ID: long + "-c", Status: "draft", Count: coverage.Count{Held: 345678, Failed: 2000000, Undecided: 9999999,
				NotInForce: 1},
				Parts: []coverage.Part{{Says: "colour in [\"white\", \"" + strings.Repeat("yellow, ", 12) + "\"]",
					Key: "unless", PartCount: coverage.PartCount{Failed: 12345677}}}},
			{ID: "short", Status: "active", Count: coverage.Count{Held: 12345678, Decided: 5},
				Parts: []coverage.Part{{Says: "ri > 1.5", Key: "if", PartCount: coverage.PartCount{Held: 12345678,
					Decided: 12345678}}}},
		}}
}

func coverageText(t *testing.T, r *coverage.Report, width int, all bool) string {
	t.Helper()
	var b bytes.Buffer
	p := New(&b, width, false)
	p.Coverage(r, all)
	if err := p.Flush(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestCoverageFits: at every width no line is too long, save for a word that can't be broken, and nothing moves a
// cursor.
func TestCoverageFits(t *testing.T) {
	for width := Narrowest; width <= 120; width += 5 {
		for _, all := range []bool{false, true} {
			got := coverageText(t, wideReport(), width, all)
			if strings.ContainsRune(got, '\x1b') {
				t.Errorf("width %d: an escape comes through", width)
			}
			if !strings.Contains(got, "\n  long-long-") {
				t.Errorf("width %d: a rule stands under no heading:\n%s", width, got)
			}
			for l := range strings.Lines(got) {
				l = strings.TrimRight(l, "\n")
				if cellsOf(l) > width && strings.Contains(strings.TrimSpace(l), " ") {
					t.Errorf("width %d: %d cells: %q", width, cellsOf(l), l)
				}
			}
		}
	}
}

// TestCoverageSays what belongs to each kind of rule, and keeps quiet about the others.
func TestCoverageSays(t *testing.T) {
	weak, all := coverageText(t, wideReport(), 120, false), coverageText(t, wideReport(), 120, true)
	for _, want := range []string{"The archive was not read to its end. 12,345,678 cases judged; 8 records could not " +
		"be read.",
		"1 case without a date: judged as of 2031-04-12 (clock).",
		"Of 4 rules 1 never held, 1 held but decided nothing, and 1 never failed.",
		"and 3 more", "Never held (1)", "Held, but decided nothing (1)", "Never failed (1)",
		"could not be evaluated in 1 case", "ri > 1.5: never failed (held 12,345,678)",
		"ri > 1.7: always undecided Held, but",
		"1 rule is not shown. Of these 1 has a part that came out one way only."} {
		if !strings.Contains(strings.Join(strings.Fields(weak), " "), want) {
			t.Errorf("it does not say %q:\n%s", want, weak)
		}
	}
	if strings.Contains(weak, "draft") {
		t.Errorf("a draft that came out both ways is shown:\n%s", weak)
	}
	for _, want := range []string{"Held, failed and decided something (1)", "-c (draft)", "not in force in 1 case",
		"unless colour in", "A draft is evaluated and changes nothing"} {
		if !strings.Contains(strings.Join(strings.Fields(all), " "), want) {
			t.Errorf("with all it does not say %q:\n%s", want, all)
		}
	}
	if none := coverageText(t, &coverage.Report{Rules: []coverage.Rule{{ID: "x"}}}, 80,
		true); none != "0 cases judged. So nothing can be said of the rules.\n" {
		t.Errorf("%q", none)
	}
}
