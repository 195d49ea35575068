package sat

import (
	"fmt"
	"testing"
	"testing/fstest"
	"time"

	"whystone/kb/load"
)

// TestReplacedForATime: of rules that replace one another on some days the formulas say, day by day, what the rules
// themselves say.
func TestReplacedForATime(t *testing.T) {
	const season, later, ends = "since: 2031-05-10, until: 2031-05-20", "since: 2031-05-15", "until: 2031-05-12"
	for _, dates := range [][2]string{{season, later}, {season, ends}, {later, season}, {later, ends}, {ends, later},
		{ends, season}} {
		b := &base{quantities: []*measure{{name: "glow", span: [2]float64{0, 4}, limits: [2]float64{1, 3}}}}
		files := b.files()
		files["rules.yaml"].Data = []byte("format: 1\nrules:\n  - {rule: low, says: s, source: s, cautions: x, " +
			"until: 2031-05-25}\n")
		layers := []load.Layer{{Name: "low", FS: files}}
		for i, old := range []string{"low", "mid"} {
			text := fmt.Sprintf("format: 1\nrules: [{rule: %s, says: s, source: s, cautions: x, replaces: %s, "+
				"because: y, %s}]\n", [2]string{"mid", "top"}[i], old, dates[i])
			layers = append(layers, load.Layer{Name: fmt.Sprint("layer", i),
				FS: fstest.MapFS{"rules.yaml": {Data: []byte(text)}}})
		}
		rs, out := load.Load(t.Context(), layers)
		if rs == nil {
			t.Fatal(out.Error())
		}
		s := NewSpace(rs)
		for day := range 30 {
			on := time.Date(2031, 5, day+1, 0, 0, 0, 0, rs.Policy.Zone)
			that := And(lit(literal{dim: s.date, ask: loAtLeast, cut: seconds(on)}),
				lit(literal{dim: s.date, ask: hiBelow, cut: seconds(on.AddDate(0, 0, 1))}))
			for _, r := range rs.Rules {
				_, is := s.Satisfy(And(that, s.Fires(r)), AnyReading)
				_, isNot := s.Satisfy(And(that, s.Fails(r)), AnyReading)
				if want := r.InForce(on); (is == Yes) != want || (isNot == Yes) == want {
					t.Errorf("%v: %s on %s: in force %t; it can fire: %t, fail: %t", dates, r.ID,
						on.Format(time.DateOnly), want, is == Yes, isNot == Yes)
				}
			}
		}
	}
}
