// Package rulesets_test holds the shipped ruleset against the world outside it (published figures, facts of the trade,
// the weights and sizes of measured diamonds) and against itself (stones drawn from its own sheets, rules taken away
// one by one). Everything is driven by what the ruleset says: a new material is drawn, and missed in the tables, by
// itself.
package rulesets_test

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/kbtest"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// What tests share, by short names.
var (
	published = kbtest.Published
	readCSV   = kbtest.Rows
)

// judgedOn is the date by which every case here is judged that says none.
var judgedOn = time.Date(2031, 6, 1, 12, 0, 0, 0, time.UTC)

// thorough asks for the long form of a check, and turns what would be skipped into a failure.
func thorough() bool { return os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" }

// shippedFiles are the files of the shipped ruleset, read once, so that an edit meanwhile confuses no check.
var shippedFiles = sync.OnceValues(func() ([]kb.File, error) {
	var found diag.List
	files := load.ReadFiles(context.Background(), []load.Layer{{Name: "diamond-desk", FS: os.DirFS("diamond-desk")}},
		&found)
	if found.HasErrors() {
		return nil, errors.New(found[0].Error())
	}
	return files, nil
})

var shipped = sync.OnceValues(func() (*kb.Ruleset, error) {
	files, err := shippedFiles()
	if err != nil {
		return nil, err
	}
	return build(files)
})

func build(files []kb.File) (*kb.Ruleset, error) {
	rs, found := load.Build(files)
	if rs == nil {
		return nil, errors.New(found[0].Error())
	}
	return rs, nil
}

// under builds the shipped ruleset with a layer of one file above it.
func under(t testing.TB, name, text string) (*kb.Ruleset, error) {
	t.Helper()
	desk(t)
	files, _ := shippedFiles()
	above := kb.File{Layer: name, Path: name + ".yaml", Source: diag.NewSource(name+".yaml", []byte(text))}
	return build(append(slices.Clone(files), above))
}

// desk is the shipped ruleset, loaded from its files once.
func desk(t testing.TB) *kb.Ruleset {
	t.Helper()
	rs, err := shipped()
	if err != nil {
		t.Fatal(err)
	}
	return rs
}

var prepared = sync.OnceValue(func() *engine.Engine {
	rs, _ := shipped()
	return engine.Prepare(rs)
})

// judge is a fresh judge of the shipped ruleset.
func judge(t testing.TB) *engine.Judge {
	t.Helper()
	desk(t)
	return prepared().NewJudge()
}

// told is what a judge says of a case that carries no date of its own.
func told(j *engine.Judge, c *casefile.Case) *engine.Output {
	return j.Judge(c, engine.Moment{On: judgedOn, DatedBy: "clock"})
}

// caseOf reads a case from what a file would say: keys stone, readings, claim and so on.
func caseOf(t testing.TB, rs *kb.Ruleset, says map[string]any) *casefile.Case {
	t.Helper()
	if says["case"] == nil {
		says["case"] = "made by a test"
	}
	says["format"] = 1
	text, err := json.Marshal(says)
	if err != nil {
		t.Fatal(err)
	}
	var found diag.List
	node := syntax.ParseJSON(diag.NewSource("case", text), &found)
	var c *casefile.Case
	if node != nil {
		c = eval.CaseReader(rs).Read(node, &found)
	}
	if c == nil {
		t.Fatalf("%s: %v", text, found)
	}
	return c
}

// excludes tells whether a verdict's list of excluded materials has one.
func excludes(o *engine.Output, id string) bool {
	return slices.ContainsFunc(o.Excluded, func(x engine.Excluded) bool { return x.Material == id })
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("%q: %v", s, err)
	}
	return v
}
