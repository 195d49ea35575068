package kb

import (
	"slices"
	"time"

	"whystone/kb/diag"
)

// SheetKind is what a sheet is of.
type SheetKind string

// The kinds of sheets. The policy has a sheet for each of its keys.
const (
	RuleSheet     SheetKind = "rule"
	TableSheet    SheetKind = "table"
	MaterialSheet SheetKind = "material"
	GroupSheet    SheetKind = "group"
	TestSheet     SheetKind = "test"
	DefineSheet   SheetKind = "define"
	PolicySheet   SheetKind = "policy"
)

// Sheet is what the files of one layer say of one thing, whether or not a layer above takes it away.
type Sheet struct {
	Kind    SheetKind
	ID      string // of the policy, the key
	Layer   string
	Retires bool      // it takes away what a layer below says of that
	Span    diag.Span // of the key before its id
	// Written is the sheet as JSON with sorted keys: equal for sheets that say the same, however they are laid out and
	// wherever they stand. The rows of a table are not part of its sheet, but have their own as rules.
	Written string
}

// Acceptance says that a finding of the proofreading is known and why it stays, for a time. It stands on the sheet that
// the finding is about.
type Acceptance struct {
	Finding diag.Code // which findings there are is known to those who make them: proofreading refuses others
	With    string    // the id of the other sheet, of a finding about two; empty: any
	Because string
	Until   time.Time // from this day on the finding is told again
	Span    diag.Span
	At      diag.Span // of Finding
}

// Covers tells whether an acceptance is for a finding with this code that also concerns these sheets.
func (a *Acceptance) Covers(code diag.Code, others []string) bool {
	return a.Finding == code && (a.With == "" || slices.Contains(others, a.With))
}
