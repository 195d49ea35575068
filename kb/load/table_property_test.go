package load_test

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
	"whystone/kb/syntax"
)

// drawn is a cell as drawn: how a person writes it in a table and in a condition, and what it means for a known case.
type drawn struct {
	items  []string // as a table has them; none: left out
	hand   string   // the condition; "": any
	either bool     // to be put in brackets beside others
	holds  func(c knownCase) bool
}

// knownCase is a case of which everything that the tables below ask is known, and exactly.
type knownCase struct {
	stake    float64
	doubling string
	features []string
	wet      bool
	claim    string
}

func (k knownCase) text() string {
	return fmt.Sprintf("claim: %s\nstake: %v\nstone: {wet: %t}\nreadings: {facet_doubling: %s, inclusions: "+
		"{features: [%s], looked_for: [feather, needles, gas bubbles]}}\n",
		k.claim, k.stake, k.wet, k.doubling, strings.Join(k.features, ", "))
}

var (
	doublings = []string{"none", "slight", "strong"}
	seen      = []string{"feather", "gas bubbles", "needles"}
	claims    = []string{"diamond", "rhinestone", "glass"}
)

func drawCase(t *rapid.T) knownCase {
	k := knownCase{stake: float64(rapid.IntRange(0, 6).Draw(t, "stake")),
		doubling: rapid.SampledFrom(doublings).Draw(t, "doubling"), wet: rapid.Bool().Draw(t, "wet"),
		claim: rapid.SampledFrom(claims).Draw(t, "claim")}
	for _, f := range seen {
		if rapid.Bool().Draw(t, f) {
			k.features = append(k.features, f)
		}
	}
	return k
}

// some draws from 1 to 3 words of a list.
func some(t *rapid.T, list []string) []string {
	return rapid.Permutation(list).Draw(t, "words")[:rapid.IntRange(1, len(list)).Draw(t, "how many")]
}

func drawStake(t *rapid.T) drawn {
	var d drawn
	var hand []string
	var tests []func(float64) bool
	for range rapid.IntRange(1, 3).Draw(t, "intervals") {
		x := rapid.IntRange(0, 5).Draw(t, "low")
		y := x + rapid.IntRange(1, 3).Draw(t, "more")
		a, b := strconv.Itoa(x), strconv.Itoa(y)
		low, high := float64(x), float64(y)
		switch rapid.IntRange(0, 3).Draw(t, "form") {
		case 0:
			d.items, hand = append(d.items, "above "+a), append(hand, "stake > "+a)
			tests = append(tests, func(s float64) bool { return s > low })
		case 1:
			d.items, hand = append(d.items, "below "+a), append(hand, "stake < "+a)
			tests = append(tests, func(s float64) bool { return s < low })
		case 2:
			d.items, hand = append(d.items, "from "+a), append(hand, "stake >= "+a)
			tests = append(tests, func(s float64) bool { return s >= low })
		default:
			d.items, hand = append(d.items, a+" to "+b), append(hand, a+" <= stake < "+b)
			tests = append(tests, func(s float64) bool { return low <= s && s < high })
		}
	}
	d.hand, d.either = strings.Join(hand, " or "), len(hand) > 1
	d.holds = func(k knownCase) bool {
		return slices.ContainsFunc(tests, func(f func(float64) bool) bool { return f(k.stake) })
	}
	return d
}

func drawWords(t *rapid.T, name string, list []string, of func(knownCase) string) drawn {
	words := some(t, list)
	d := drawn{items: words, hand: name + ` == "` + words[0] + `"`,
		holds: func(k knownCase) bool { return slices.Contains(words, of(k)) }}
	if len(words) > 1 {
		d.hand = name + ` in ["` + strings.Join(words, `", "`) + `"]`
	}
	return d
}

func drawFeatures(t *rapid.T) drawn {
	words := some(t, seen)
	var hand []string
	for _, w := range words {
		hand = append(hand, `"`+w+`" in inclusions`)
	}
	return drawn{items: words, hand: strings.Join(hand, " or "), either: len(hand) > 1, holds: func(k knownCase) bool {
		return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(k.features, w) })
	}}
}

func drawWet(t *rapid.T) drawn {
	wet := rapid.Bool().Draw(t, "wet")
	return drawn{items: []string{strconv.FormatBool(wet)}, hand: map[bool]string{true: "stone.wet",
		false: "not stone.wet"}[wet],
		holds: func(k knownCase) bool { return k.wet == wet }}
}

var columnDraws = map[string]func(t *rapid.T) drawn{
	"stake": drawStake,
	"facet_doubling": func(t *rapid.T) drawn {
		return drawWords(t, "facet_doubling", doublings, func(k knownCase) string { return k.doubling })
	},
	"inclusions": drawFeatures,
	"stone.wet":  drawWet,
	"claim": func(t *rapid.T) drawn {
		return drawWords(t, "claim", claims, func(k knownCase) string { return k.claim })
	},
}

// drawCell draws a cell of a column: one in four says nothing.
func drawCell(t *rapid.T, column string) drawn {
	if rapid.IntRange(0, 3).Draw(t, "any") == 0 {
		d := drawn{holds: func(knownCase) bool { return true }}
		if rapid.Bool().Draw(t, "written") {
			d.items = []string{"any"}
		}
		return d
	}
	return columnDraws[column](t)
}

// TestRandomTables: a random table, written in YAML or as a CSV file, is the same ruleset as its rows written by hand,
// and each row holds for a case just when each of its cells does.
func TestRandomTables(t *testing.T) {
	base := load.ReadFiles(t.Context(), loadtest.Stack(loadtest.Small(t, nil), nil), &diag.List{})
	build := func(t *rapid.T, files map[string]string) *kb.Ruleset {
		all := slices.Clone(base)
		for _, name := range slices.Sorted(maps.Keys(files)) {
			all = append(all, kb.File{Layer: "house", Path: name, Source: diag.NewSource("house/"+name,
				[]byte(files[name]))})
		}
		rs, out := load.Build(all)
		if rs == nil || len(out) > 0 {
			t.Fatal(out, files)
		}
		return rs
	}
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.Permutation(slices.Sorted(maps.Keys(columnDraws))).Draw(t,
			"columns")[:rapid.IntRange(1, 5).Draw(t, "how many")]
		head := "format: 1\ntables:\n  - table: t\n    says: x\n    columns: [" + strings.Join(columns, ", ") + "]\n"
		yaml, csv, hand := head+"    rows:\n", "row,cautions,"+strings.Join(columns, ",")+"\n", "format: 1\nrules:\n"
		rows := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) []drawn {
			var cells []drawn
			for _, c := range columns {
				cells = append(cells, drawCell(t, c))
			}
			return cells
		}), 1, 4).Draw(t, "rows")
		for i, cells := range rows {
			row := fmt.Sprintf("      - {row: r%d, cautions: y", i)
			csv += fmt.Sprintf("r%d,y", i)
			var parts, either []string
			for k, c := range cells {
				if len(c.items) > 0 {
					row += ", " + columns[k] + ": " + strings.Join(c.items, "; ")
					if len(c.items) > 1 {
						row = strings.TrimSuffix(row, strings.Join(c.items, "; ")) + "[" + strings.Join(c.items, ", ") +
							"]"
					}
				}
				csv += "," + strings.Join(c.items, "; ")
				if c.hand != "" {
					parts = append(parts, c.hand)
					if c.either {
						c.hand = "(" + c.hand + ")"
					}
					either = append(either, c.hand)
				}
			}
			if len(either) > 1 {
				parts = either
			}
			yaml, csv = yaml+row+"}\n", csv+"\n"
			hand += fmt.Sprintf("  - {rule: t-r%d, says: x, cautions: y", i)
			if len(parts) > 0 {
				hand += ", if: '" + strings.Join(parts, " and ") + "'"
			}
			hand += "}\n"
		}
		of := build(t, map[string]string{"t.yaml": yaml})
		fields := build(t, map[string]string{"t.yaml": head + "    rows_from: r.csv\n", "r.csv": csv})
		byHand := build(t, map[string]string{"t.yaml": hand})
		if of.Digest != byHand.Digest || fields.Digest != byHand.Digest {
			t.Fatalf("three rulesets:\n%s\n%s\n%s", yaml, csv, hand)
		}
		k := drawCase(t)
		run := eval.New(of)
		run.Do(caseIn(t, of, k.text()), loadtest.Day)
		for i, cells := range rows {
			want := logic.Holds
			for n, c := range cells {
				if !c.holds(k) {
					want = logic.Fails
				}
				cell := of.Table("t").Rows[i].Cells[n]
				if cell.If == nil {
					continue
				}
				is, _, err := condition.Evaluate(cell.If, &run.State)
				if err != nil || (is == logic.Holds) != c.holds(k) {
					t.Fatalf("the cell %q is %s for\n%s%v", cell.Text, is, k.text(), err)
				}
			}
			if got := run.Rules[of.Rule(fmt.Sprintf("t-r%d", i)).Turn]; got != want {
				t.Fatalf("row %d is %s, not %s, for\n%s%s", i, got, want, k.text(), yaml)
			}
		}
	})
}

// FuzzCell: whatever a cell says, it is a condition or it is refused at its own place; and each part of the condition
// leads back into it.
func FuzzCell(f *testing.F) {
	for _, s := range []string{"any", "above 1.5", "1.5 to 1.6", "[below 1.5, 1.6 to 2]", "slight", `"a ""b"`,
		"'it''s'", "true", "", "x: y", "[", "from -1e3", "|\n  above 1", "feather; needles", "\"\\u00e9\"", "1.5 to"} {
		for column := range 5 {
			f.Add(s, column)
		}
	}
	base := load.ReadFiles(f.Context(), loadtest.Stack(loadtest.Small(f, nil), nil), &diag.List{})
	columns := []string{"ri", "facet_doubling", "inclusions", "stone.wet", "claim"}
	f.Fuzz(func(t *testing.T, cell string, column int) {
		name := columns[uint(column)%uint(len(columns))]
		text := "format: 1\ntables:\n  - table: t\n    says: x\n    columns: [" + name +
			"]\n    rows:\n      - row: r\n        cautions: x\n        " + name + ": " + cell + "\n"
		checkTable(t, checkBuild(t, base, []byte(text)), base)
	})
}

// FuzzFields: the same of a CSV file.
func FuzzFields(f *testing.F) {
	for _, s := range []string{csvRows, strings.ReplaceAll(csvRows, "\n", "\r\n"),
		"\uFEFFrow,specific_gravity,facet_doubling,inclusions,stone.wet,cautions\na,2 to " +
			"3,\"slight;\nstrong\",,TRUE,\"\"\"x\"\"\"\n", "row;a\n", "", "\"",
		"row,specific_gravity,facet_doubling,inclusions,stone.wet,establishes\na,,,,,b = c; d\n"} {
		f.Add([]byte(s))
	}
	base := load.ReadFiles(f.Context(), loadtest.Stack(loadtest.Small(f, nil), nil), &diag.List{})
	f.Fuzz(func(t *testing.T, text []byte) {
		rows := kb.File{Layer: "house", Path: "rows.csv", Source: diag.NewSource("house/rows.csv", text)}
		checkTable(t, checkBuild(t, append(slices.Clone(base), rows), []byte(csvTable)), base)
	})
}

// checkTable sees that every cell of a ruleset's tables lies in its text, and that the condition that it became does
// too; and that the rows told as rules are the same ruleset.
func checkTable(t failer, rs *kb.Ruleset, base []kb.File) {
	t.Helper()
	if rs == nil {
		return
	}
	hand, out := load.Build(append(base[:len(base):len(base)], kb.File{Layer: "house", Path: "h.yaml",
		Source: diag.NewSource("house/h.yaml", []byte(toldAsRules(rs)))}))
	if hand == nil || hand.Digest != rs.Digest {
		t.Fatalf("told as rules, the rows are another ruleset: %s\n%s", out.Error(), toldAsRules(rs))
	}
	for _, tab := range rs.Tables {
		for _, row := range tab.Rows {
			checkFinding(t, diag.Diagnostic{Code: diag.BadText, Summary: row.Name, Span: row.Rule.Place.Span})
			n, whole := row.Rule.If, row.Rule.At("if")
			if _, written := row.Rule.Keys["if"]; written != (n != nil) {
				t.Fatalf("%s has a condition that nobody wrote", row.Rule.ID)
			}
			if n == nil {
				continue
			}
			for start := range n.Text {
				_, size := utf8.DecodeRuneInString(n.Text[start:])
				sp := n.At(start, start+size)
				checkFinding(t, diag.Diagnostic{Code: diag.BadText, Summary: "x", Span: sp})
				if sp.Start < whole.Start || sp.End > whole.End {
					t.Fatalf("%d of %q leads to %s, out of its row", start, n.Text, sp)
				}
			}
			for i, c := range row.Cells {
				if (c.If == nil) != (c.Text == "any") {
					t.Fatalf("%s: the cell %q of %s has the condition %v", row.Name, c.Text, tab.Columns[i].Name, c.If)
				}
			}
		}
	}
}

// caseIn reads a case in the words of a ruleset.
func caseIn(t failer, rs *kb.Ruleset, text string) *casefile.Case {
	t.Helper()
	var out diag.List
	docs := syntax.ParseYAML(diag.NewSource("case.yaml", []byte("case: A-1\n"+text)), &out)
	c := eval.CaseReader(rs).Read(docs[0], &out)
	if c == nil {
		t.Fatalf("%s\n%s", text, out.Error())
	}
	return c
}

func toldAsRules(rs *kb.Ruleset) string {
	var rules []string
	for _, tab := range rs.Tables {
		for _, row := range tab.Rows {
			rules = append(rules, writtenRule(rs, row.Rule.ID))
		}
	}
	return `{"format": 1, "rules": [` + strings.Join(rules, ",") + `]}`
}
