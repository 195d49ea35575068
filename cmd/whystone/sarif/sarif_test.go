package sarif

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/proofread"
)

// findings has one of each sort: with related places, with a witness, accepted, standing nowhere, with wide runes
// before it.
func findings() []proofread.Finding {
	src := diag.NewSource("house rules/größe.yaml", []byte("format: 1\n# 石 ü\nif: ri > 1.8\n"))
	at := diag.Span{Source: src, Start: bytes.Index(src.Text, []byte("ri >")),
		End: bytes.Index(src.Text, []byte(" > 1.8"))}
	root := diag.NewSource("/srv/rules/a.yaml", []byte("rules: x"))
	return []proofread.Finding{
		{Diagnostic: diag.Diagnostic{Code: "never-holds", Severity: diag.Warning, Summary: "it can never hold",
			Detail: "Why.", Write: "Write 1.", Span: at,
			Related: []diag.Related{{Span: at, Says: "this"}, {Says: "nowhere"}}},
			Sheets: []proofread.Sheet{{Kind: "rule", ID: "a"}}},
		{Diagnostic: diag.Diagnostic{Code: "pulls-both-ways", Severity: diag.Error, Summary: "both ways", Span: at,
			Nearest: "x"},
			Sheets:  []proofread.Sheet{{Kind: "rule", ID: "a"}, {Kind: "rule", ID: "b"}},
			Witness: &proofread.Witness{ID: "w", Text: "format: 1\n", Says: []string{"ri 1.7"}},
			Accepted: &kb.Acceptance{Finding: "pulls-both-ways", Because: "both are meant", Until: time.Unix(0, 0),
				Span: diag.Span{Source: root, Start: 0, End: 5}}},
		{Diagnostic: diag.Diagnostic{Code: "alike-to-all-tests", Severity: diag.Note, Summary: "alike"},
			Sheets: []proofread.Sheet{{Kind: "material", ID: "m"}}},
	}
}

// What is written is valid by the schema of SARIF 2.1.0 (OASIS, with errata 01), which testdata/published has.
func TestSchema(t *testing.T) {
	schema := theSchema(t)
	for _, list := range [][]proofread.Finding{findings(), nil} {
		var b bytes.Buffer
		if err := Write(&b, list); err != nil {
			t.Fatal(err)
		}
		written, err := jsonschema.UnmarshalJSON(&b)
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(written); err != nil {
			t.Errorf("%#v", err)
		}
		// That the schema is looked into is seen by what it refuses.
		for _, run := range written.(map[string]any)["runs"].([]any) {
			run.(map[string]any)["columnKind"] = "bytes"
		}
		if err := schema.Validate(written); err == nil {
			t.Error("columns counted in bytes were taken")
		}
	}
}

func theSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	compiled, err := c.Compile(filepath.Join("..", "..", "..", "testdata", "published", "sarif-schema-2.1.0.json"))
	if err != nil {
		t.Fatal(err)
	}
	return compiled
}

// A region is told in lines and code points from 1, its end being the column behind the last (SARIF 2.1.0, 3.30.5 to
// 3.30.8).
func TestPlaces(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b, findings()); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Runs []struct {
			ColumnKind string
			Results    []struct {
				RuleID       string
				Message      struct{ Text string }
				RuleIndex    int
				Level        string
				Suppressions []struct{ Kind, Justification string }
				Locations    []struct {
					PhysicalLocation struct {
						ArtifactLocation struct{ URI string }
						Region           struct{ StartLine, StartColumn, EndLine, EndColumn int }
					}
				}
				RelatedLocations []any
			}
			Tool struct {
				Driver struct{ Rules []struct{ ID string } }
			}
		}
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	run := got.Runs[0]
	if run.ColumnKind != "unicodeCodePoints" {
		t.Errorf("columns are counted in %s", run.ColumnKind)
	}
	first := run.Results[0]
	if got := first.Message.Text; got != "it can never hold. Why. Write 1." {
		t.Errorf("it is told as %q", got)
	}
	at := first.Locations[0].PhysicalLocation
	if at.ArtifactLocation.URI != "house%20rules/gr%C3%B6%C3%9Fe.yaml" {
		t.Errorf("the file is %q", at.ArtifactLocation.URI)
	}
	if r := at.Region; r.StartLine != 3 || r.StartColumn != 5 || r.EndLine != 3 || r.EndColumn != 7 {
		t.Errorf("the region is %+v", r)
	}
	if len(first.RelatedLocations) != 1 {
		t.Errorf("%d related places, want the one that stands somewhere", len(first.RelatedLocations))
	}
	for _, r := range run.Results {
		if run.Tool.Driver.Rules[r.RuleIndex].ID != r.RuleID {
			t.Errorf("%s has the index of %s", r.RuleID, run.Tool.Driver.Rules[r.RuleIndex].ID)
		}
	}
	second := run.Results[1]
	if second.Level != "error" || len(second.Suppressions) != 1 || second.Suppressions[0].Kind != "inSource" ||
		second.Suppressions[0].Justification != "both are meant" {
		t.Errorf("the accepted finding is %+v", second)
	}
	if len(run.Results[2].Locations) != 0 {
		t.Error("a finding that stands nowhere has a place")
	}
}

// A fingerprint stays when lines move, and differs between findings.
func TestFingerprint(t *testing.T) {
	list := findings()
	moved := list[0]
	moved.Span.Start++
	if fingerprint(&list[0]) != fingerprint(&moved) {
		t.Error("it changed with the place")
	}
	if fingerprint(&list[0]) == fingerprint(&list[1]) {
		t.Error("two findings have one fingerprint")
	}
}
