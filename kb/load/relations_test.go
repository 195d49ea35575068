package load_test

import (
	"strings"
	"testing"

	"whystone/kb"
	"whystone/kb/load/loadtest"

	"github.com/google/go-cmp/cmp"
)

const series = `format: 1
materials:
  - group: series
    under: stones
    name: series
    nameable: true
    origin: natural
    seen_at_counter: rare
    properties:
      ri: {range: [1.60, 1.80], source: x}
      birefringence: {range: [0, 0.02], source: x}
      specific_gravity: {range: [3.0, 4.0], source: x}
    relations:
      - {of: specific_gravity, by: ri, through: [[1.60, 3.1], [1.80, 3.9]], within: 0.05, source: a book}
    others: [{origin: laboratory-grown, seen_at_counter: rare}]
  - {material: as-its-group, under: series, name: as its group}
  - material: by-itself
    under: series
    name: by itself
    relations:
      - {of: birefringence, by: ri, ray: high, through: [[1.60, 0.01], [1.70, 0.02], [1.75, 0.02]], within: 0.002, source: another, note: read there}
      - {of: specific_gravity, by: birefringence, through: [[0.01, 3.2], [0.02, 3.3]], within: 0.1, source: another}
  - {material: without, under: series, name: without, relations: []}
`

// TestRelations: a relation is inherited, by members without a sheet too, unless a sheet says its own, or none.
func TestRelations(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": series})
	group := rs.Node("series")
	r := group.Relations["specific_gravity"]
	if r.By != rs.Vocabulary.Observable("ri") || r.Ray != kb.MeanRay || r.Within != 0.05 || r.Source != "a book" ||
		r.SaidBy != group || r.Span.Position().Line != 14 {
		t.Errorf("%+v", r)
	}
	if d := cmp.Diff([][2]float64{{1.6, 3.1}, {1.8, 3.9}}, r.Through); d != "" {
		t.Error(d)
	}
	if rs.Node("as-its-group").Relations["specific_gravity"] != r ||
		group.Others[0].Relations["specific_gravity"] != r {
		t.Error("it is not handed down")
	}
	own := rs.Node("by-itself").Relations
	if len(own) != 2 || own["birefringence"].Ray != kb.HighRay || own["specific_gravity"].By.Name != "birefringence" ||
		own["specific_gravity"].Ray != "" {
		t.Errorf("%+v", own)
	}
	if left := rs.Node("without").Relations; len(left) != 0 {
		t.Errorf("an empty list leaves %v", left)
	}
}

// TestRelationsInTheDigest: whatever of a relation is changed names another ruleset; a house's layer replaces the list
// whole.
func TestRelationsInTheDigest(t *testing.T) {
	digests := map[string]string{}
	for _, change := range [][2]string{{"", ""}, {"within: 0.05", "within: 0.06"}, {"[1.80, 3.9]", "[1.80, 3.8]"},
		{"a book", "no book"}, {"ray: high", "ray: low"}, {"[]}\n", "[]}\n# a remark"}} {
		rs := loadtest.Must(t, map[string]string{"house.yaml": strings.Replace(series, change[0], change[1], 1)})
		if was, there := digests[rs.Digest]; there != (change[1] == "[]}\n# a remark") {
			t.Errorf("%q is told by the digest of %q: %v", change[1], was, there)
		}
		digests[rs.Digest] = change[1]
	}
	over := "format: 1\nmaterials:\n  - {group: diamond, amends: for a test, relations: [{of: specific_gravity, by: " +
		"ri, through: [[2.417, 3.51], [2.419, 3.52]], within: 0.01, source: x}]}\n"
	if rs := loadtest.Must(t, map[string]string{"house.yaml": over}); rs.Node("grown-diamond").Relations["specific_gravity"].Within != 0.01 {
		t.Error("a house's relation does not reach the leaves")
	}
}

// TestBand: the line is straight between points and level beyond them; where the band misses the range, the nearer end
// is left.
func TestBand(t *testing.T) {
	r := &kb.Relation{Through: [][2]float64{{1, 10}, {2, 20}, {4, 0}}, Within: 1}
	for _, c := range [][4]float64{{1, 1, 9, 11}, {0, 0.5, 9, 11}, {1.5, 1.5, 14, 16}, {2.5, 3, 9, 16}, {5, 9, -1, 1},
		{1.5, 3, 9, 21}, {0, 9, -1, 21}} {
		if lo, hi := r.Band(c[0], c[1]); lo != c[2] || hi != c[3] {
			t.Errorf("from %g to %g: %g to %g", c[0], c[1], lo, hi)
		}
	}
	flat := &kb.Range{Low: 12, High: 18}
	for _, c := range [][4]float64{{1.5, 1.5, 14, 16}, {1, 1, 12, 12}, {2, 2, 18, 18}, {0, 9, 12, 18},
		{1.1, 1.2, 12, 13}} {
		if lo, hi := r.Narrow(flat, c[0], c[1]); lo != c[2] || hi != c[3] {
			t.Errorf("what is left from %g to %g: %g to %g", c[0], c[1], lo, hi)
		}
	}
}
