package load_test

import (
	"testing"
	"testing/fstest"

	"whystone/kb"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
)

// TestAmends: what a layer says is laid over the sheet below, key by key, lists whole; what it leaves out stays.
func TestAmends(t *testing.T) {
	below := loadtest.Must(t, nil)
	above := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
materials:
  - group: quartz
    amends: We see more of it.
    also: [silica]
    properties: {specific_gravity: {range: [2.6, 2.7], source: the house's balance}}
tests:
  - test: loupe
    amends: We look for more.
    yields: {inclusions: {features: {silk: {also: [fine needles]}}}}
`})
	was, is := below.Node("quartz"), above.Node("quartz")
	if is.Name != was.Name || is.Nameable != was.Nameable || len(is.Also) != 1 || is.Also[0] != "silica" {
		t.Errorf("%s, also %v", is.Name, is.Also)
	}
	if r := is.Ranges["specific_gravity"]; r.Low != 2.6 || r.High != 2.7 || r.Source != "the house's balance" {
		t.Errorf("its specific gravity is %+v", r)
	}
	if *is.Ranges["ri"] == (kb.Range{}) || is.Ranges["ri"].Low != was.Ranges["ri"].Low ||
		is.Ranges["ri"].Source != was.Ranges["ri"].Source {
		t.Errorf("its index is %+v", is.Ranges["ri"])
	}
	if is.Place.Layer != "house" || is.Place.Span.String() != "house/house.yaml:3:12" {
		t.Errorf("it stands in %s", is.Place.Span)
	}
	inclusions := above.Vocabulary.Observable("inclusions")
	if len(inclusions.Outcomes) != len(below.Vocabulary.Observable("inclusions").Outcomes)+1 {
		t.Errorf("the loupe shows %v", inclusions.Words())
	}
	if i, ok := inclusions.Outcome("fine needles"); !ok || inclusions.Outcomes[i].Name != "silk" {
		t.Error("the loupe shows no silk")
	}
	if above.Test("loupe").Name != below.Test("loupe").Name || above.Digest == below.Digest {
		t.Error("the rest of the sheet, or the digest")
	}
}

// TestAmendedTwice: a third layer amends, or replaces, what the second has amended.
func TestAmendedTwice(t *testing.T) {
	stack := func(third string) *kb.Ruleset {
		layers := []load.Layer{{Name: "small", FS: loadtest.Small(t, nil)},
			{Name: "house", FS: fstest.MapFS{"a.yaml": {Data: []byte("format: 1\nmaterials: [{group: quartz, amends: " +
				"x, also: [silica], note: kept}]\n")}}},
			{Name: "counter", FS: fstest.MapFS{"a.yaml": {Data: []byte("format: 1\nmaterials: [" + third + "]\n")}}}}
		rs, out := load.Load(t.Context(), layers)
		if rs == nil {
			t.Fatal(out)
		}
		return rs
	}
	m := stack("{group: quartz, amends: y, also: [flint]}").Node("quartz")
	if len(m.Also) != 1 || m.Also[0] != "flint" || m.Note != "kept" || m.Place.Layer != "counter" {
		t.Errorf("%v, %q, of %s", m.Also, m.Note, m.Place.Layer)
	}
	m = stack("{group: quartz, under: stones, name: quartz, nameable: true, origin: natural, seen_at_counter: " +
		"common, replaces: quartz, because: z}").Node("quartz")
	if len(m.Also) != 0 || m.Note != "" {
		t.Errorf("of what was replaced %v, %q is left", m.Also, m.Note)
	}
}
