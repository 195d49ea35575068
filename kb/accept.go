package kb

import (
	"slices"
	"time"

	"whystone/kb/diag"
)

// Acceptance says that a finding of the proofreading is known and why it stays, for a time. It stands on the sheet that
// the finding is about.
type Acceptance struct {
	Finding string // the code
	With    string // the id of the other sheet, of a finding about two; empty: any
	Because string
	Until   time.Time // from this day on the finding is told again
	Span    diag.Span
}

// Covers tells whether an acceptance is for a finding with this code that also concerns these sheets.
func (a *Acceptance) Covers(code string, others []string) bool {
	return a.Finding == code && (a.With == "" || slices.Contains(others, a.With))
}
