package load_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
)

// threeLayers loads the small ruleset with a rule "low" in it, a house's layer and a desk's above.
func threeLayers(t testing.TB, low, house, desk string) (*kb.Ruleset, diag.List) {
	t.Helper()
	file := func(text string) fstest.MapFS { return fstest.MapFS{"r.yaml": {Data: []byte("format: 1\n" + text)}} }
	layers := []load.Layer{{"small", loadtest.Small(t, map[string]string{"low.yaml": "format: 1\nrules: [" + low +
		"]\n"})}}
	for name, text := range map[string]string{"house": house, "desk": desk} {
		if text != "" {
			layers = append(layers, load.Layer{name, file(text)})
		}
	}
	// house below desk
	slices.SortFunc(layers[1:], func(a, b load.Layer) int { return strings.Compare(b.Name, a.Name) })
	return load.Load(t.Context(), layers)
}

// over is a layer's rule that replaces another.
func over(id, old, more string) string {
	return fmt.Sprintf("rules: [{rule: %s, says: x, cautions: %s, replaces: %s, because: y%s}]\n", id, id, old, more)
}

// inForceOn lists those of some rules that a run finds in force on a day; its own word and InForce must agree.
func inForceOn(t testing.TB, rs *kb.Ruleset, on time.Time, ids ...string) string {
	t.Helper()
	run := eval.New(rs)
	run.Do(loadtest.Case(t, rs, "readings: {}"), on)
	var out []string
	for _, id := range ids {
		r := rs.Rule(id)
		if r == nil || r.Turn < 0 {
			continue
		}
		if run.InForce[r.Turn] != r.InForce(on) || (run.Rules[r.Turn] == logic.Holds) != r.InForce(on) {
			t.Errorf("%s on %s: in force %t, said to be %t, and it %s", id, on, run.InForce[r.Turn], r.InForce(on),
				run.Rules[r.Turn])
		}
		if r.InForce(on) && r.Status == kb.Active {
			out = append(out, id)
		}
	}
	return strings.Join(out, " ")
}

// TestReplacedForATime: a rule stays in force on any day on which what replaces it is not.
func TestReplacedForATime(t *testing.T) {
	low := "{rule: low, says: x, cautions: low}"
	const since, until, both = ", since: 2031-05-01", ", until: 2031-09-01", ", since: 2031-05-01, until: 2031-09-01"
	for name, tt := range map[string]struct{ low, house, desk, days string }{
		// The days: 30 April, 1 May, 31 August, 1 September.
		"always":          {low, over("mid", "low", ""), "", "mid | mid | mid | mid"},
		"always, same id": {low, over("low", "low", ""), "", "low | low | low | low"},
		"a draft": {low, over("mid", "low", ", status: draft"), "",
			"low | low | low | low"},
		"a draft with a date": {low, over("mid", "low", ", status: draft"+since), "",
			"low | low | low | low"},
		"from a day on": {low, over("mid", "low", since), "", "low | mid | mid | mid"},
		"until a day":   {low, over("mid", "low", until), "", "mid | mid | mid | low"},
		"for a season":  {low, over("mid", "low", both), "", "low | mid | mid | low"},
		"itself dated": {"{rule: low, says: x, cautions: low, until: 2031-08-31}",
			over("mid", "low", ", since: 2031-09-01"), "", "low | low |  | mid"},
		"retired under its own id":      {low, over("mid", "low", ", status: retired"), "", " |  |  | "},
		"retired with the dates it had": {low, over("mid", "low", ", status: retired"+both), "", " |  |  | "},
		"retired under the same id":     {low, over("low", "low", ", status: retired"+both), "", " |  |  | "},
		"three, the middle dated": {low, over("mid", "low", since), over("top", "mid", ""),
			"top | top | top | top"},
		"three, the top dated": {low, over("mid", "low", ""), over("top", "mid", both),
			"mid | top | top | mid"},
		"three, both dated": {low, over("mid", "low", since),
			over("top", "mid", ", since: 2031-09-01"), "low | mid | mid | top"},
		"three, the top before the middle": {low, over("mid", "low", ", since: 2031-09-01"),
			over("top", "mid", both), "low | top | top | mid"},
		"three, the middle a draft": {low, over("mid", "low", ", status: draft"), over("top", "low", since),
			"low | top | top | top"},
		"three, the top a draft": {low, over("mid", "low", since), over("top", "mid", ", status: draft"),
			"low | mid | mid | mid"},
		"a draft over a draft": {low, over("mid", "low", ", status: draft"),
			over("top", "mid", ", status: draft"), "low | low | low | low"},
		"instead of a draft": {low, over("mid", "low", ", status: draft"), over("top", "mid", ""),
			"low top | low top | low top | low top"},
		"the dated one is retired": {low, over("mid", "low", since), "retires: [{rule: mid, because: y}]\n",
			"low | low | low | low"},
		"retired by its status": {low, over("mid", "low", since), over("top", "mid", ", status: retired"),
			"low | low | low | low"},
		"the replaced one is retired": {low, over("mid", "low", since), "retires: [{rule: low, because: y}]\n",
			" | mid | mid | mid"},
		"the draft is retired": {low, over("mid", "low", ", status: draft"),
			"retires: [{rule: mid, because: y}]\n", "low | low | low | low"},
		"one that is always there is retired": {low, over("mid", "low", ""), "retires: [{rule: mid, because: y}]\n",
			" |  |  | "},
	} {
		t.Run(name, func(t *testing.T) {
			rs, out := threeLayers(t, tt.low, tt.house, tt.desk)
			if rs == nil || len(out) > 0 {
				t.Fatal(loadtest.Render(t, out))
			}
			var got []string
			for _, d := range []string{"2031-04-30", "2031-05-01", "2031-08-31", "2031-09-01"} {
				on, err := time.ParseInLocation(time.DateOnly, d, rs.Policy.Zone)
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, inForceOn(t, rs, on, "low", "mid", "top"))
			}
			if strings.Join(got, " | ") != tt.days {
				t.Errorf("%s, want %s", strings.Join(got, " | "), tt.days)
			}
		})
	}
}

// TestReplacedIsLinked: both know of each other, and the retirement of the one between joins the others.
func TestReplacedIsLinked(t *testing.T) {
	low := "{rule: low, says: x, cautions: low}"
	rs, _ := threeLayers(t, low, over("mid", "low", ", since: 2031-05-01"), "")
	if m, l := rs.Rule("mid"), rs.Rule("low"); l.ReplacedBy != m || m.Replaced != l || m.ReplacedBy != nil ||
		l.Replaced != nil {
		t.Error("the two don't know of each other")
	}
	rs, _ = threeLayers(t, low, over("mid", "low", ", status: draft"), "")
	if m, l := rs.Rule("mid"), rs.Rule("low"); l.ReplacedBy != nil || m.Replaced != nil {
		t.Error("a draft stands in for something")
	}
	// A fourth layer retires the middle one of three: the topmost stands in for the lowest, and says so.
	layers := []load.Layer{{"small", loadtest.Small(t, map[string]string{"low.yaml": "format: 1\nrules: [" + low +
		"]\n"})}}
	for i, text := range []string{over("mid", "low", ", since: 2031-05-01"), over("top", "mid", ", since: 2031-09-01"),
		"retires: [{rule: mid, because: y}]\n"} {
		layers = append(layers, load.Layer{fmt.Sprint("layer", i),
			fstest.MapFS{"r.yaml": {Data: []byte("format: 1\n" + text)}}})
	}
	rs, out := load.Load(t.Context(), layers)
	if rs == nil {
		t.Fatal(loadtest.Render(t, out))
	}
	direct, _ := threeLayers(t, low, over("top", "low", ", since: 2031-09-01"), "")
	if rs.Rule("low").ReplacedBy != rs.Rule("top") || rs.Rule("top").Place.Replaces != "low" ||
		rs.Digest != direct.Digest {
		t.Errorf("it stands in for %q", rs.Rule("top").Place.Replaces)
	}
}

// TestReplacingRefused: what can't be meant, with what to write.
func TestReplacingRefused(t *testing.T) {
	low := "{rule: low, says: x, cautions: low}"
	table := "format: 1\ntables: [{table: tab, says: x, columns: [ri], rows: [{row: a, cautions: a}, {row: b, " +
		"cautions: b}]}]\n"
	tab := func(more, row string) string {
		return "tables: [{table: new, says: x, columns: [ri], replaces: tab, because: y" + more +
			", rows: [{row: a, cautions: a}, {row: b, cautions: b" + row + "}]}]\n"
	}
	for name, tt := range map[string]struct {
		house, desk, code, at, says, write string
		n                                  int
	}{
		"same id, draft": {over("low", "low", ", status: draft"), "", "not-allowed", "draft",
			`"low" replaces the one of the same id below, and is a draft`, "such as low-new, and keep replaces: low",
			1},
		"same id, since": {over("low", "low", ", since: 2031-05-01"), "", "not-allowed", "2031-05-01",
			"and has dates", "an id of its own", 1},
		"same id, until": {over("low", "low", ", until: 2031-05-01"), "", "not-allowed", "2031-05-01",
			"and has dates", "an id of its own", 1},
		"replaced already": {over("mid", "low", ", since: 2031-05-01"), over("top", "low", ""),
			"replaces-nothing", "low", `"low" is replaced by "mid" already`, "replace the replacement", 1},
		"replaced already, dated": {over("mid", "low", ", since: 2031-05-01"),
			over("top", "low", ", since: 2031-09-01"), "replaces-nothing", "low", `"low" is replaced by "mid" already`,
			"replace the replacement", 1},
		"twice in one layer": {strings.Replace(over("mid", "low", ", until: 2031-05-01"), "}]",
			"}, {rule: mid-b, says: x, cautions: x, replaces: low, because: y, since: 2031-05-01}]", 1), "",
			"replaces-nothing", "low", `"low" is replaced by "mid" already`, "One rule has one replacement", 1},
		"a table, draft": {tab(", status: draft", ""), "", "not-allowed", "draft",
			`"new" replaces "tab", so its rows can be neither drafts nor have dates`, "a table of their own", 1},
		"a table, dated": {tab(", since: 2031-05-01", ""), "", "not-allowed", "2031-05-01",
			"neither drafts nor have dates", "a table of their own", 1},
		"a row, draft": {tab("", ", status: draft"), "", "not-allowed", "draft", "neither drafts nor have dates",
			"a table of their own", 1},
		"rows, dated": {tab("", ", until: 2031-05-01"), "", "not-allowed", "2031-05-01",
			"neither drafts nor have dates", "a table of their own", 1},
		"the row of the same": {strings.Replace(tab("", ", status: draft"), "table: new", "table: tab", 1), "",
			"not-allowed", "draft", "neither drafts nor have dates", "", 1},
	} {
		t.Run(name, func(t *testing.T) {
			files := loadtest.Small(t, map[string]string{"low.yaml": "format: 1\nrules: [" + low + "]\n",
				"t.yaml": table})
			layers := []load.Layer{{"small", files}}
			for _, text := range []string{tt.house, tt.desk} {
				if text != "" {
					layers = append(layers, load.Layer{fmt.Sprint("layer", len(layers)),
						fstest.MapFS{"r.yaml": {Data: []byte("format: 1\n" + text)}}})
				}
			}
			rs, out := load.Load(t.Context(), layers)
			if rs != nil || len(out) != tt.n {
				t.Fatal(loadtest.Render(t, out))
			}
			if d := out[0]; string(d.Code) != tt.code || d.Span.Text() != tt.at ||
				!strings.Contains(d.Summary, tt.says) || !strings.Contains(d.Detail, tt.write) {
				t.Errorf("at %q: %s", d.Span.Text(), loadtest.Render(t, out))
			}
		})
	}
	if rs, out := load.Load(t.Context(), loadtest.Stack(loadtest.Small(t, map[string]string{"t.yaml": table}),
		map[string]string{"r.yaml": "format: 1\n" + tab("", "")})); rs == nil {
		t.Error(loadtest.Render(t, out))
	}
}

// TestDraftsReplace: with a draft active that replaces a rule, the ruleset is what files are that say so.
func TestDraftsReplace(t *testing.T) {
	low := "{rule: low, says: x, cautions: low}"
	for name, tt := range map[string]struct{ draft, written string }{
		"always":  {", status: draft", ", status: active"},
		"from on": {", status: draft, since: 2031-05-01", ", status: active"},
		"until":   {", status: draft, until: 2031-09-01", ", status: active, until: 2031-09-01"},
	} {
		t.Run(name, func(t *testing.T) {
			rs, _ := threeLayers(t, low, over("mid", "low", tt.draft), "")
			written, _ := threeLayers(t, low, over("mid", "low", tt.written), "")
			if rs == nil || rs.Rule("low") == nil {
				t.Fatal("the draft took the rule away")
			}
			got, out := load.WithDrafts(rs, "mid")
			if got == nil {
				t.Fatal(loadtest.Render(t, out))
			}
			if d := cmp.Diff(dump(t, written), dump(t, got)); d != "" || (got.Rule("low") == nil) != (name != "until") {
				t.Errorf("with the draft active: %s", d)
			}
			if rs.Rule("low") == nil || rs.Rule("low").ReplacedBy != nil {
				t.Error("the ruleset that it was made of has changed")
			}
		})
	}
	// What lies above by then is in the way, and is told.
	rs, _ := threeLayers(t, low, over("mid", "low", ", status: draft, until: 2031-09-01"),
		over("top", "low", ", since: 2031-09-01"))
	if got, out := load.WithDrafts(rs, "mid"); got != nil || len(out) != 1 ||
		!strings.Contains(out[0].Summary, "is replaced by \"mid\" already") {
		t.Error(loadtest.Render(t, out))
	}
}

// TestOneOfAChainEachDay: of rules that replace one another over any layers, with any dates, exactly one is in force on
// each day as long as the lowest is there for ever; it is the highest that is no draft and whose dates take in the day.
func TestOneOfAChainEachDay(t *testing.T) {
	zone := loadtest.Must(t, nil).Policy.Zone
	first := time.Date(2031, 5, 1, 0, 0, 0, 0, zone)
	rapid.Check(t, func(rt *rapid.T) {
		type link struct {
			id, status   string
			since, until int // days after the first; 0: none
		}
		chain := []link{{id: "r0"}}
		layers := []load.Layer{{"small",
			loadtest.Small(t, map[string]string{"low.yaml": "format: 1\nrules: [{rule: r0, says: x, cautions: x}]\n"})}}
		below := "r0"
		for i := range rapid.IntRange(1, 4).Draw(rt, "layers") {
			l := link{id: fmt.Sprint("r", i+1), status: rapid.SampledFrom([]string{"active", "active", "active",
				"draft"}).Draw(rt, "status")}
			l.since = rapid.IntRange(0, 4).Draw(rt, "since")
			if l.until = rapid.SampledFrom([]int{0, 0, 3, 5, 7}).Draw(rt, "until"); l.until > 0 && l.until <= l.since {
				l.until = l.since + 1
			}
			more := ", status: " + l.status
			for key, day := range map[string]int{"since": l.since, "until": l.until} {
				if day > 0 {
					more += ", " + key + ": " + first.AddDate(0, 0, day).Format(time.DateOnly)
				}
			}
			layers = append(layers, load.Layer{"layer" + l.id,
				fstest.MapFS{"r.yaml": {Data: []byte("format: 1\n" + over(l.id, below, more))}}})
			if chain = append(chain, l); l.status == "active" {
				below = l.id
			}
		}
		rs, out := load.Load(t.Context(), layers)
		if rs == nil || len(out) > 0 {
			rt.Fatal(loadtest.Render(t, out))
		}
		ids := make([]string, len(chain))
		for i, l := range chain {
			ids[i] = l.id
		}
		for day := range 9 {
			want := ""
			for _, l := range chain {
				if l.status != "draft" && (l.since == 0 || day >= l.since) && (l.until == 0 || day < l.until) {
					want = l.id
				}
			}
			for _, hour := range []time.Duration{0, 24*time.Hour - time.Second} {
				if got := inForceOn(t, rs, first.AddDate(0, 0, day).Add(hour), ids...); got != want {
					rt.Fatalf("on day %d %q is in force, not %q: %+v", day, got, want, chain)
				}
			}
		}
	})
}

// TestAskedForHarmless: no rule asks for a test that harms the stone, be it a draft; a rule may forbid one, and a rule
// that is retired is a record.
func TestAskedForHarmless(t *testing.T) {
	test := "tests:\n  - {test: file-test, name: file test, harm: HARM, source: x, yields: {filed: {kind: choice, " +
		"family: hardness, blunder: 0.05, choices: [bites, skates]}}}\n"
	rule := "rules:\n  - {rule: files-it, says: x, if: ri > 1.7, EFFECT: [file-test]MORE}\n"
	for _, tt := range []struct{ harm, effect, more, says string }{
		{"marks", "calls_for", "", `the test "file-test" is never asked for: it marks the stone`},
		{"destroys", "calls_for", "", `the test "file-test" is never asked for: it can destroy the stone`},
		{"marks", "calls_for", ", status: draft", `it marks the stone`},
		{"marks", "calls_for", ", status: retired", ""},
		{"marks", "forbids", "", ""},
		{"destroys", "forbids", "", ""},
		{"contact", "calls_for", "", ""},
		{"none", "calls_for", "", ""},
	} {
		text := strings.NewReplacer("HARM", tt.harm, "EFFECT", tt.effect, "MORE",
			tt.more).Replace("format: 1\n" + test + rule)
		rs, out := loadtest.House(t, map[string]string{"house.yaml": text})
		switch {
		case tt.says == "" && (rs == nil || len(out) > 0):
			t.Errorf("%+v: %s", tt, loadtest.Render(t, out))
		case tt.says == "":
		case rs != nil || len(out) != 1 || out[0].Code != "not-allowed" || out[0].Span.Text() != "file-test" ||
			!strings.Contains(out[0].Summary, tt.says) ||
			!strings.Contains(out[0].Detail, "forbids") || out[0].Related[0].Says != "its sheet says harm: "+tt.harm:
			t.Errorf("%+v: %s", tt, loadtest.Render(t, out))
		}
	}
}
