// Package sarif writes what proofreading found in the Static Analysis Results Interchange Format (SARIF), version 2.1.0
// (OASIS, 2020, with errata 01 of 2023), which editors and code hosts show beside the lines.
package sarif

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"net/url"
	"path"
	"slices"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/proofread"
)

const (
	schema = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
	tool   = "whystone"
)

// Write writes a report; an accepted finding is there with its acceptance as a suppression.
func Write(w io.Writer, findings []proofread.Finding) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false) // it is read as JSON, not as a page
	enc.SetIndent("", "  ")
	return enc.Encode(report(findings))
}

// What is written of the format. Each type is the object of its name in SARIF 2.1.0, section 3, with the properties
// that are used; one that is left out has its default.
type (
	sarifLog struct {
		Schema  string `json:"$schema"`
		Version string `json:"version"`
		Runs    []run  `json:"runs"`
	}
	run struct {
		ColumnKind string            `json:"columnKind"`
		Tool       map[string]driver `json:"tool"`
		Results    []result          `json:"results"`
	}
	driver struct {
		Name  string                `json:"name"`
		Rules []reportingDescriptor `json:"rules"`
	}
	reportingDescriptor struct {
		ID    diag.Code `json:"id"`
		Short *message  `json:"shortDescription,omitempty"`
		Help  *message  `json:"help,omitempty"`
	}
	message struct {
		Text string `json:"text"`
	}
	result struct {
		RuleID       diag.Code         `json:"ruleId"`
		RuleIndex    int               `json:"ruleIndex"`
		Level        string            `json:"level"`
		Message      message           `json:"message"`
		Locations    []*location       `json:"locations"`
		Related      []*location       `json:"relatedLocations,omitempty"`
		Fingerprints map[string]string `json:"partialFingerprints"`
		Suppressions []suppression     `json:"suppressions,omitempty"`
		Properties   map[string]string `json:"properties,omitempty"`
	}
	suppression struct {
		Kind          string    `json:"kind"`
		Justification string    `json:"justification"`
		Location      *location `json:"location,omitempty"`
	}
	location struct {
		Message *message         `json:"message,omitempty"`
		Place   physicalLocation `json:"physicalLocation"`
	}
	physicalLocation struct {
		File   artifactLocation `json:"artifactLocation"`
		Region region           `json:"region"`
	}
	artifactLocation struct {
		URI string `json:"uri"`
	}
	region struct {
		StartLine   int `json:"startLine"`
		StartColumn int `json:"startColumn"`
		EndLine     int `json:"endLine"`
		EndColumn   int `json:"endColumn"`
	}
)

func report(findings []proofread.Finding) sarifLog {
	rules := []reportingDescriptor{}
	index := map[diag.Code]int{}
	for i, code := range codes(findings) {
		index[code] = i
		rules = append(rules, rule(code))
	}
	results := english.Each(findings, func(f proofread.Finding) result { return resultOf(&f, index) })
	return sarifLog{Schema: schema, Version: "2.1.0", Runs: []run{{ColumnKind: "unicodeCodePoints",
		Tool: map[string]driver{"driver": {Name: tool, Rules: rules}}, Results: append([]result{}, results...)}}}
}

func codes(findings []proofread.Finding) []diag.Code {
	out := english.Only(findings, func(f proofread.Finding) (diag.Code, bool) { return f.Code, f.Code != "" })
	slices.Sort(out)
	return slices.Compact(out)
}

func rule(code diag.Code) reportingDescriptor {
	out := reportingDescriptor{ID: code}
	if e, ok := diag.Explain(code); ok {
		out.Short = &message{Text: e.Says}
		if e.Help != "" {
			out.Help = &message{Text: strings.ReplaceAll(e.Help, "\n", " ")}
		}
	}
	return out
}

func resultOf(f *proofread.Finding, index map[diag.Code]int) result {
	out := result{RuleID: f.Code, RuleIndex: index[f.Code], Level: f.Severity.String(), Message: message{Text: text(f)},
		Locations: []*location{}, Fingerprints: map[string]string{"sheets/v1": fingerprint(f)}}
	if l := place(f.Span, ""); l != nil {
		out.Locations = append(out.Locations, l)
	}
	out.Related = english.Only(f.Related, func(r diag.Related) (*location, bool) {
		return place(r.Span, r.Says), !r.Span.IsZero()
	})
	if a := f.Accepted; a != nil {
		out.Suppressions = []suppression{{Kind: "inSource", Justification: a.Because, Location: place(a.Span, "")}}
	}
	if f.Witness != nil {
		out.Properties = map[string]string{"witness": f.Witness.Text}
	}
	return out
}

// text is what is wrong, why, what was perhaps meant.
func text(f *proofread.Finding) string {
	parts := []string{f.Summary + "."}
	if advice := f.Advice(); advice != "" {
		parts = append(parts, advice)
	}
	if f.Nearest != "" {
		parts = append(parts, "Did you mean \""+f.Nearest+"\"?")
	}
	if f.Witness != nil {
		parts = append(parts, "For example: "+strings.Join(f.Witness.Says, "; ")+".")
	}
	return strings.Join(parts, " ")
}

// fingerprint tells a finding from others wherever its lines have moved to.
func fingerprint(f *proofread.Finding) string {
	h := sha256.New()
	_, _ = io.WriteString(h, string(f.Code)) // a hash takes everything
	for _, s := range f.Sheets {
		_, _ = io.WriteString(h, "\x00"+s.Kind+"\x00"+s.ID)
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// place is where something stands; nil where that is nowhere.
func place(sp diag.Span, says string) *location {
	if sp.IsZero() {
		return nil
	}
	start, end := sp.Position(), sp.Source.Position(sp.End)
	out := &location{Place: physicalLocation{File: artifactLocation{URI: uri(sp.Source.Name)},
		Region: region{StartLine: start.Line, StartColumn: start.Column, EndLine: end.Line, EndColumn: end.Column}}}
	if says != "" {
		out.Message = &message{Text: says}
	}
	return out
}

// uri is a file's name as a reference; one that begins at the root is absolute.
func uri(name string) string {
	u := url.URL{Path: path.Clean(name)}
	if path.IsAbs(name) {
		u.Scheme = "file"
	}
	return u.String()
}
