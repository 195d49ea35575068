package load_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
)

// TestWhatIsGoneIsNamed: wherever something is named that a layer took out, that is told where the layer says so, and
// not as a name that nobody knows.
func TestWhatIsGoneIsNamed(t *testing.T) {
	const graded = "format: 1\nrules:\n  - {rule: high, says: x, if: ri > 1.7, establishes: {grade: high}}\n  - " +
		"{rule: low, says: x, if: ri < 1.7, establishes: {grade: low}}\n"
	const lens = "{test: refractometer, name: refractometer, harm: none, source: x, replaces: refractometer, " +
		"because: y,\n" +
		"    yields: {ri: {kind: quantity, family: refraction, unit: \"1\", span: [1.3, 3], uncertainty: 0.001, " +
		"blunder: 0.01}}}"
	for name, x := range map[string]struct{ gone, names string }{
		"a test, by a reading": {"test: goniometer",
			"rules: [{rule: r, says: x, if: ri > 1.6, cautions: x, examples: [{readings: {ri: {value: 1.7, test: " +
				"goniometer}}, is: holds}]}]"},
		"an observable, by a reading": {"test: breath",
			"rules: [{rule: r, says: x, if: ri > 1.6, cautions: x, examples: [{readings: {breath_fog: lingers}, is: " +
				"undecided}]}]"},
		"an observable, by a stone": {"test: eye",
			"rules: [{rule: r, says: x, if: ri > 1.6, cautions: x, examples: [{stone: {colour: blue}, is: undecided}]}]"},
		"an observable, by correlations": {"test: breath",
			"rules: [{rule: r, says: x, if: ri > 1.6, cautions: x, examples: [{readings: {ri: 1.7}, correlations: " +
				"[{of: [ri, breath_fog], r: 0.1}], is: holds}]}]"},
		"an observable, by another test": {"test: breath",
			"tests: [{test: lung, name: lung, harm: none, source: x, yields: {breath_fog: {blunder: 0.1}}}]"},
		"a material, by a claim": {"material: rock-crystal",
			"policy: {claims: {crystal: {node: rock-crystal}}}"},
		"an observable, set aside": {"test: breath", "rules: [{rule: r, says: x, sets_aside: breath_fog}]"},
		"a test, called for":       {"test: goniometer", "rules: [{rule: r, says: x, calls_for: goniometer}]"},
		"a family": {"test: weighing",
			"rules: [{rule: r, says: x, if: ri > 1.6, family: density, weakens: {materials: [quartz], ratio: 4}}]"},
		"the colour, by a name": {"test: eye",
			"materials: [{group: beryl, under: stones, name: beryl, nameable: true, in_verdicts: [{colour: [red], " +
				"says: red beryl}, {says: beryl}]}, {material: heliodor, under: beryl, name: heliodor, origin: " +
				"natural, seen_at_counter: rare}]"},
		"a material, excluded": {"material: rock-crystal",
			"rules: [{rule: r, says: x, if: ri > 1.6, excludes: [rock-crystal]}]"},
		"an observable, by a table": {"test: breath",
			"tables: [{table: t, says: x, columns: [breath_fog], rows: [{row: a, breath_fog: lingers, cautions: x}]}]"},
		"an observable, of every sheet": {"test: breath", "policy: {every_sheet_says: [breath_fog]}"},
		"a test, by an instrument": {"test: goniometer",
			"policy: {instruments: [{instrument: i, test: goniometer, uncertainty: 0.1}]}"},
		"an observable, by an instrument": {lens,
			"policy: {instruments: [{instrument: i, test: refractometer, observable: birefringence, uncertainty: 0.1}]}"},
		"a material, by priors":     {"material: rock-crystal", "policy: {priors: {rock-crystal: 3}}"},
		"a property, by a material": {"test: weighing", ""},
		"outcomes, by a material":   {"test: probe", ""},
		"a fact, by a condition": {"rule: over-the-limit",
			"rules: [{rule: r, says: x, if: high_index, cautions: x}]"},
		"a word of a fact, by a condition": {"rule: high",
			"rules: [{rule: r, says: x, if: 'grade == \"high\"', cautions: x}]"},
	} {
		house := "format: 1\n" + x.names + "\nretires: [{" + x.gone + ", because: y}]\n"
		if strings.HasPrefix(x.gone, "{") {
			house = "format: 1\n" + x.names + "\ntests: [" + x.gone + "]\n"
		}
		below := loadtest.Small(t, nil)
		below["graded.yaml"] = &fstest.MapFile{Data: []byte(graded)}
		rs, out := load.Load(t.Context(), loadtest.Stack(below, map[string]string{"house.yaml": house}))
		told := 0
		for _, d := range out {
			switch {
			case d.Code == diag.StillNamed:
				told++
			case d.Severity == diag.Error:
				t.Errorf("%s: %s", name, d.Error())
			}
		}
		if rs != nil || told != 1 {
			t.Errorf("%s: %d are told as gone:\n%s", name, told, loadtest.Render(t, out))
		}
	}
}

// TestWhatIsGoneHasNoName: what is gone may have given a family without a name; other findings are told as ever.
func TestWhatIsGoneHasNoName(t *testing.T) {
	below := loadtest.Small(t, nil)
	below["t.yaml"] = &fstest.MapFile{Data: []byte("format: 1\ntests: [{test: lamp, name: lamp, harm: none, source: " +
		"x, yields: {glow: {kind: choice, family: \"\", blunder: 0.1, choices: [dull, bright]}}}]\n")}
	_, out := load.Load(t.Context(), loadtest.Stack(below,
		map[string]string{"house.yaml": "format: 1\nrules: [{rule: r, says: x, cautions: x, iff: ri > 1}]\nretires: " +
			"[{test: lamp, because: y}]\n"}))
	if len(out) != 1 || out[0].Code != diag.UnknownKey {
		t.Errorf("a key that nobody knows is told as\n%s", loadtest.Render(t, out))
	}
}
