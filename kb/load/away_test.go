package load_test

import (
	"strings"
	"testing"
	"time"

	"whystone/kb/load/loadtest"
)

// TestRetiredForATime: a layer that retires a rule with dates takes it out on those days, and on no others; the digest
// knows.
func TestRetiredForATime(t *testing.T) {
	day := func(s string) time.Time {
		d, err := time.Parse(time.DateOnly, s)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for name, tt := range map[string]struct {
		dates   string
		in, out []string
	}{
		"from a day on": {"since: 2031-05-01", []string{"2020-01-01", "2031-04-30"},
			[]string{"2031-05-01", "2040-01-01"}},
		"up to a day": {"until: 2031-05-01", []string{"2031-05-01", "2040-01-01"},
			[]string{"2020-01-01", "2031-04-30"}},
		"for a time": {"since: 2031-05-01, until: 2031-06-01", []string{"2031-04-30", "2031-06-01"},
			[]string{"2031-05-01", "2031-05-31"}},
	} {
		rs := loadtest.Must(t, map[string]string{"h.yaml": "format: 1\nretires: [{rule: wet-stone, because: tried, " +
			tt.dates + "}]\n"})
		r := rs.Rule("wet-stone")
		for _, d := range tt.in {
			if !r.InForce(day(d)) || !r.AtTimes() {
				t.Errorf("%s: not in force on %s", name, d)
			}
		}
		for _, d := range tt.out {
			if r.InForce(day(d)) {
				t.Errorf("%s: in force on %s", name, d)
			}
		}
		if rs.Digest == loadtest.Must(t, nil).Digest || r.Away.Because != "tried" || r.Away.Layer != "house" {
			t.Errorf("%s: %+v", name, r.Away)
		}
	}
	for text, want := range map[string]string{
		"{rule: wet-stone, because: x, since: 2031-05-01, until: 2031-05-01}":                                "is retired on no day",
		"{rule: wet-stone, because: x, since: soon}":                                                         "is a date like",
		"{material: lead-glass, because: x, since: 2031-05-01}":                                              "is retired for good, and not for a time",
		"{rule: wet-stone, because: x, since: 2031-05-01}, {rule: wet-stone, because: y, until: 2030-01-01}": "is retired for a time already",
	} {
		rs, out := loadtest.House(t, map[string]string{"h.yaml": "format: 1\nretires: [" + text + "]\n"})
		if rs != nil || len(out) != 1 || !strings.Contains(out[0].Summary, want) {
			t.Errorf("%s\n%s", text, loadtest.Render(t, out))
		}
	}
}
