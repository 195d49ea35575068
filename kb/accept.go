package kb

import (
	"regexp"
	"slices"
	"time"

	"whystone/kb/diag"
	"whystone/kb/doc"
)

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

// acceptances reads a sheet's `accepts`.
func (s *sheet) acceptances(zone *time.Location) []Acceptance {
	v := s.Get("accepts")
	if v.IsNull() {
		return nil
	}
	items, _ := v.List(s.out)
	var out []Acceptance
	for _, it := range items {
		if !it.Keys(s.out, "finding", "with", "because", "until") {
			continue
		}
		a := Acceptance{Finding: diag.Code(s.needText(it, "finding")), With: s.text(it, "with"), Because: s.needText(it, "because"), Span: it.Span}
		if n := it.Get("finding"); n != nil {
			a.At = n.Span
		}
		if it.Get("until").IsNull() {
			s.errorf(diag.MissingKey, it, "until when is it accepted?").Detail = "Nothing is accepted for ever. Say until: and a date like 2031-04-12."
			continue
		}
		if until, ok := s.day(it.Get("until"), "until", zone); ok {
			a.Until = until
			out = append(out, a)
		}
	}
	return out
}

// dayForm is how a day is written, whether or not there is such a day.
var dayForm = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)

// day is a date, at its beginning.
func (s *sheet) day(v *doc.Node, key string, zone *time.Location) (time.Time, bool) {
	if v.Kind == doc.Scalar {
		if t, err := time.ParseInLocation(time.DateOnly, v.Text, zone); err == nil {
			return t, true
		}
	}
	if v.Kind == doc.Scalar && dayForm.MatchString(v.Text) {
		s.errorf(diag.BadDate, v, "there is no day %s", v.Text)
		return time.Time{}, false
	}
	s.errorf(diag.BadDate, v, "%q is a date like 2031-04-12", key)
	return time.Time{}, false
}
