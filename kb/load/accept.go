package load

import (
	"regexp"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// acceptances reads a sheet's `accepts`.
func (s *sheet) acceptances(zone *time.Location) []kb.Acceptance {
	var out []kb.Acceptance
	for _, it := range s.list(s.Get("accepts")) {
		if !it.Keys(s.out, "finding", "with", "because", "until") {
			continue
		}
		a := kb.Acceptance{Finding: diag.Code(s.needText(it, "finding")), With: s.text(it, "with"),
			Because: s.needText(it, "because"), Span: it.Span}
		if n := it.Get("finding"); n != nil {
			a.At = n.Span
		}
		if it.Get("until").IsNull() {
			s.errorf(diag.MissingKey, it,
				"until when is it accepted?").Detail = "Nothing is accepted for ever. Say until: and a date like " +
				"2031-04-12."
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
func (s *sheet) day(v *syntax.Node, key string, zone *time.Location) (time.Time, bool) {
	if v.Kind == syntax.Scalar {
		if t, err := time.ParseInLocation(time.DateOnly, v.Text, zone); err == nil {
			return t, true
		}
	}
	if v.Kind == syntax.Scalar && dayForm.MatchString(v.Text) {
		s.errorf(diag.BadDate, v, "there is no day %s", v.Text)
		return time.Time{}, false
	}
	s.errorf(diag.BadDate, v, "%q is a date like 2031-04-12", key)
	return time.Time{}, false
}
