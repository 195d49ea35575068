package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"whystone/engine/enginetest"
	"whystone/kb/load"
)

// reckonedBy runs a command of the bench, and reads the figure that it writes as JSON.
func reckonedBy(t *testing.T, args ...string) (value, u float64) {
	t.Helper()
	status, out, errs := do(t, noon, nil, append(append([]string{"reckon"}, args...), "--json")...)
	var got struct {
		Value float64 `json:"value"`
		U     float64 `json:"standard_uncertainty"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || status != done {
		t.Fatalf("%v: status %d, %v, %s", args, status, err, errs)
	}
	return got.Value, got.U
}

// A figure that was reckoned, and the same reading in a case, agree to the last digit: by weighing, and by weight and
// size.
func TestReckonIsTheReading(t *testing.T) {
	rs := enginetest.Ruleset(t)
	for name, c := range map[string]struct {
		args     []string
		stone    string
		measured string // the observable that the case gives the value of; the others follow from the stone
	}{
		"a carat in water": {[]string{"sg", "--in-air", "1.02", "--in-liquid", "0.73"}, "carat: 1.02",
			"specific_gravity"},
		"in grams": {[]string{"sg", "--in-air", "0.0625g", "--in-liquid", "44.3 mg"}, "carat: 0.3125",
			"specific_gravity"},
		"by size": {[]string{"weight", "--length-mm", "6.45", "--width-mm", "6.48", "--depth-mm", "3.96", "--carat",
			"0.88"},
			"carat: 0.88, mounted: false, length_mm: 6.45, width_mm: 6.48, depth_mm: 3.96, cut: round brilliant", ""},
		"oval in a mount": {[]string{"weight", "--mounted", "--cut", "Oval", "--length-mm", "8.1", "--width-mm", "6",
			"--depth-mm", "3.9", "--carat", "1.42"},
			"carat: 1.42, mounted: true, length_mm: 8.1, width_mm: 6, depth_mm: 3.9, cut: oval", ""},
	} {
		value, u := reckonedBy(t, c.args...)
		readings := "{}"
		if c.measured != "" {
			readings = fmt.Sprintf("{%s: %v}", c.measured, value)
		}
		read := enginetest.Case(t, rs, name, fmt.Sprintf("case: A\ntaken: 2031-03-06\nstone: {%s}\nreadings: %s\n",
			c.stone, readings)).Readings
		if len(read) != 1 || read[0].Value != value || read[0].U != u {
			t.Errorf("%s: reckoned %v ± %v, the case has %+v", name, value, u, read)
		}
	}
	// Weight and specific gravity by size are each other's inverse.
	weight, _ := reckonedBy(t, "weight", "--length-mm", "6.45", "--width-mm", "6.48", "--depth-mm", "3.96", "--sg",
		"3.52")
	back, _ := reckonedBy(t, "weight", "--length-mm", "6.45", "--width-mm", "6.48", "--depth-mm", "3.96", "--carat",
		fmt.Sprint(weight))
	if back < 3.52*(1-1e-12) || back > 3.52*(1+1e-12) {
		t.Errorf("%v ct give a specific gravity of %v back", weight, back)
	}
}

// What is given with a figure counts beside what the sheet leaves open.
func TestReckonCountsWhatIsGiven(t *testing.T) {
	plain := []string{"weight", "--length-mm", "6.45", "--width-mm", "6.48", "--depth-mm", "3.96", "--carat", "0.88"}
	_, u := reckonedBy(t, plain...)
	if _, more := reckonedBy(t, append(plain, "--depth-mm", "3.96±0.1")...); more < 1.2*u {
		t.Errorf("a depth good to 0.1 mm leaves ± %g, an exact one ± %g", more, u)
	}
	if _, fine := reckonedBy(t, "sg", "--in-air", "1.02", "--in-liquid", "0.73", "--repeats", "0.0002"); fine > 0.004 {
		t.Errorf("a fine balance leaves ± %g", fine)
	}
}

// The budget that is told of a reading in a case is that of its own uncertainty, on the house's own balance too.
func TestBudgetOfAReading(t *testing.T) {
	house := t.TempDir()
	balance := []byte("format: 1\npolicy:\n  instruments: [{instrument: fine, test: hydrostatic-weighing, " +
		"repeats_to_ct: 0.0005}]\n")
	text := "case: A\ntaken: 2031-03-06\nstone: {carat: 1.02}\nreadings: {specific_gravity: 3.49}\n"
	file := filepath.Join(t.TempDir(), "case.yaml")
	for path, content := range map[string][]byte{filepath.Join(house, "house.yaml"): balance, file: []byte(text)} {
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	rs := enginetest.Ruleset(t, load.Layer{Name: "house", FS: os.DirFS(house)})
	read := enginetest.Case(t, rs, file, text).Readings[0]
	value, u := reckonedBy(t, "sg", "--case", file, "--layer", house)
	if value != read.Value || u != read.U || u > 0.01 {
		t.Errorf("the budget is of %v ± %v, the reading %v ± %v", value, u, read.Value, read.U)
	}
}
