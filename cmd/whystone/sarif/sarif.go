// Package sarif writes what proofreading found in the Static Analysis Results Interchange Format (SARIF), version 2.1.0
// (OASIS, 2020, with errata 01 of 2023), which editors and code hosts show beside the lines.
package sarif

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/url"
	"path"
	"slices"
	"strings"

	"github.com/owenrumney/go-sarif/v3/pkg/report/v210/sarif"

	"whystone/kb/diag"
	"whystone/kb/proofread"
)

const (
	schema = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
	tool   = "whystone"
)

// Write writes a report; an accepted finding is there with its acceptance as a suppression.
func Write(w io.Writer, findings []proofread.Finding) error { return report(findings).PrettyWrite(w) }

func report(findings []proofread.Finding) *sarif.Report {
	run := sarif.NewRun().WithColumnKind("unicodeCodePoints")
	driver := sarif.NewToolComponent().WithName(tool)
	index := map[string]int{}
	for i, code := range codes(findings) {
		index[code] = i
		driver.AddRule(rule(code))
	}
	run.Tool = sarif.NewTool().WithDriver(driver)
	run.Results = []*sarif.Result{}
	for i := range findings {
		run.AddResult(result(&findings[i], index))
	}
	out := sarif.NewReport().AddRun(run)
	out.Schema = schema
	return out
}

func codes(findings []proofread.Finding) []string {
	var out []string
	for _, f := range findings {
		if f.Code != "" {
			out = append(out, f.Code)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func rule(code string) *sarif.ReportingDescriptor {
	out := sarif.NewReportingDescriptor().WithID(code)
	if e, ok := diag.Explain(code); ok {
		out.WithShortDescription(sarif.NewMultiformatMessageString().WithText(e.Says))
		if e.Help != "" {
			out.WithHelp(sarif.NewMultiformatMessageString().WithText(strings.ReplaceAll(e.Help, "\n", " ")))
		}
	}
	return out
}

func result(f *proofread.Finding, index map[string]int) *sarif.Result {
	out := sarif.NewRuleResult(f.Code).WithRuleIndex(index[f.Code]).WithLevel(f.Severity.String()).
		WithMessage(sarif.NewTextMessage(message(f))).WithPartialFingerprints(map[string]string{"sheets/v1": fingerprint(f)})
	if l := location(f.Span, ""); l != nil {
		out.AddLocation(l)
	}
	for _, r := range f.Related {
		if l := location(r.Span, r.Says); l != nil {
			out.AddRelatedLocation(l)
		}
	}
	if a := f.Accepted; a != nil {
		out.Suppressions = append(out.Suppressions, sarif.NewSuppression().WithKind("inSource").WithJustification(a.Because).
			WithLocation(location(a.Span, "")))
	}
	if f.Witness != nil {
		out.Properties = sarif.NewPropertyBag()
		out.Properties.Add("witness", f.Witness.Text)
	}
	return out
}

// message is one text: what is wrong, why, what was perhaps meant.
func message(f *proofread.Finding) string {
	parts := []string{f.Summary + "."}
	if f.Detail != "" {
		parts = append(parts, f.Detail)
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
	_, _ = io.WriteString(h, f.Code) // a hash takes everything
	for _, s := range f.Sheets {
		_, _ = io.WriteString(h, "\x00"+s.Kind+"\x00"+s.ID)
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

func location(sp diag.Span, says string) *sarif.Location {
	if sp.IsZero() {
		return nil
	}
	start, end := sp.Position(), sp.Source.Position(sp.End)
	region := sarif.NewRegion().WithStartLine(start.Line).WithStartColumn(start.Column).WithEndLine(end.Line).WithEndColumn(end.Column)
	at := sarif.NewPhysicalLocation().WithArtifactLocation(sarif.NewArtifactLocation().WithURI(uri(sp.Source.Name))).WithRegion(region)
	out := sarif.NewLocationWithPhysicalLocation(at)
	if says != "" {
		out.WithMessage(sarif.NewTextMessage(says))
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
