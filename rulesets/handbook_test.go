package rulesets_test

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"whystone/kb"
)

// decided finds in a source the words by which it says what is taken of two figures that disagree: the trade's (or the
// gem's) and the computed one.
var (
	ofTrade = regexp.MustCompile(`trade constant|trade's|common practice|gem's range`)
	decided = regexp.MustCompile(`\btaken\b|\badmitted\b|\blies? inside\b|\blies? between\b`)
)

// Source: handbook_check.csv, trade constants recalled from memory beside figures computed from published formulas and
// cells. Where they disagree, the sheet says which it takes; and what its range then holds is what it says.
func TestWhereTradeAndComputedDisagreeTheSheetSaysWhichIsTaken(t *testing.T) {
	rs := desk(t)
	byRow := map[[2]string][]figure{}
	for _, e := range entries(t) {
		byRow[[2]string{e.table, e.row}] = e.figures
	}
	disagreeing := 0
	for _, row := range published(t, "handbook_check.csv") {
		what := row["material"] + " " + row["property"]
		if row["status"] != "memory" {
			t.Errorf("%s: no handbook was opened, and the status says %q", what, row["status"])
		}
		i := slices.IndexFunc(byRow[[2]string{row["table"], row["row"]}],
			func(f figure) bool { return f.property() == row["property"] })
		m := rs.Node(row["material"])
		if i < 0 || m == nil || m.Ranges[row["property"]] == nil {
			t.Errorf("%s: no such figure in %s %q, or no such sheet", what, row["table"], row["row"])
			continue
		}
		computed, r := byRow[[2]string{row["table"], row["row"]}][i], m.Ranges[row["property"]]
		low, high := number(t, row["trade_low"]), number(t, row["trade_high"])
		last := math.Pow10(-len(strings.SplitN(row["trade_low"]+".", ".", 3)[1]))
		if r.High < low-last || r.Low > high+last {
			t.Logf("%s: the sheet's %g to %g leaves the trade's %g to %g out", what, r.Low, r.High, low, high)
		}
		if computed.value >= low-last/2 && computed.value <= high+last/2 {
			continue
		}
		disagreeing++
		switch {
		case !decided.MatchString(r.Source) || !ofTrade.MatchString(r.Source):
			t.Errorf("%s: the trade has %g to %g and %s gives %g, but the sheet's source does not say which is "+
				"taken: %q",
				what, low, high, row["row"], computed.value, r.Source)
		case !holds(r, computed.value) && !holds(r, (low+high)/2):
			t.Errorf("%s: the sheet holds neither the trade's %g to %g nor the computed %g", what, low, high,
				computed.value)
		}
	}
	if disagreeing < 12 {
		t.Errorf("only %d of the list disagree; the check is blind", disagreeing)
	}
}

// Source: trade_facts.csv, facts of the trade, marked common practice unless they define a scale or follow from a
// table.
func TestTradeFactsHoldOnTheSheets(t *testing.T) {
	rs := desk(t)
	checked := 0
	for _, row := range published(t, "trade_facts.csv") {
		if !slices.Contains([]string{"common practice", "definition", "published"}, row["status"]) {
			t.Errorf("%s: status %q", row["fact"], row["status"])
		}
		m := named(rs, row["material"])
		if m == nil {
			if notHere[row["material"]] == "" {
				t.Errorf("%s: no material is called %q", row["fact"], row["material"])
			}
			continue
		}
		if notHere[row["material"]] != "" {
			t.Errorf("%s is on the desk after all", row["material"])
		}
		for _, i := range m.Leaves {
			checked++
			factHolds(t, rs, row, rs.Leaves[i])
		}
	}
	if checked < 60 {
		t.Errorf("only %d facts checked", checked)
	}
}

// notHere are the materials of trade_facts.csv that this ruleset has no sheet of.
var notHere = map[string]string{"amber": "an organic material; this desk sees what is sold as diamond"}

// named finds a node by id, name or other name.
func named(rs *kb.Ruleset, name string) *kb.Material {
	for _, m := range rs.Nodes {
		if m.ID == strings.ReplaceAll(name, " ", "-") || m.Name == name || slices.Contains(m.Also, name) {
			return m
		}
	}
	return nil
}

func factHolds(t *testing.T, rs *kb.Ruleset, row map[string]string, leaf *kb.Material) {
	t.Helper()
	property, value := row["property"], row["value"]
	r := leaf.Ranges[property]
	if f := leaf.Choices[property]; f != nil {
		if row["relation"] != "is" || !mostFrequent(rs, f, value) {
			t.Errorf("%s: the sheet of %s does not say that %s is mostly %q: %v", row["fact"], leaf.ID, property, value,
				f.Words)
		}
		return
	}
	if r == nil {
		t.Errorf("%s: the sheet of %s says nothing of %s", row["fact"], leaf.ID, property)
		return
	}
	const slack = 1e-9
	good := false
	switch row["relation"] {
	case "is":
		v, tolerance := number(t, value), number(t, row["tolerance"])
		good = r.Low >= v-tolerance-slack && r.High <= v+tolerance+slack
	case "at least":
		good = r.Low >= number(t, value)
	case "at most":
		good = r.High <= number(t, value)
	case "between":
		low, high, _ := strings.Cut(value, " ")
		good = r.Low >= number(t, low) && r.High <= number(t, high)
	case "above", "below":
		good = true
		for _, i := range named(rs, value).Leaves {
			other := rs.Leaves[i].Ranges[property]
			good = good && (row["relation"] == "above" && r.Low > other.High || row["relation"] == "below" &&
				r.High < other.Low)
		}
	default:
		t.Errorf("%s: unknown relation %q", row["fact"], row["relation"])
	}
	if !good {
		t.Errorf("%s: the sheet of %s has %s from %g to %g; it should be %s %s", row["fact"], leaf.ID, property, r.Low,
			r.High, row["relation"], value)
	}
}

// mostFrequent tells whether no outcome is seen more often.
func mostFrequent(rs *kb.Ruleset, f *kb.Frequencies, word string) bool {
	own, good := f.Words[word], f.Words[word] != "" && f.Words[word] != "never"
	for _, w := range f.Words {
		good = good && rs.Policy.Frequency[w] <= rs.Policy.Frequency[own]
	}
	return good
}

func holds(r *kb.Range, v float64) bool { return v >= r.Low-r.Tolerance && v <= r.High+r.Tolerance }
