package rulesets_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// spectrumLine is a row of absorption_lines.csv.
type spectrumLine struct {
	row     map[string]string
	leaf    *kb.Material
	feature int
}

// spectrumLines reads absorption_lines.csv: where lines lie, each with what the ruleset calls it.
func spectrumLines(t testing.TB, rs *kb.Ruleset) []spectrumLine {
	t.Helper()
	o := rs.Vocabulary.Observable("spectrum")
	var out []spectrumLine
	for _, row := range published(t, "absorption_lines.csv") {
		leaf := rs.Node(row["material"])
		f, known := o.Outcome(row["feature"])
		switch {
		case leaf == nil || len(leaf.Leaves) != 1:
			t.Errorf("absorption_lines.csv: no single material is called %q", row["material"])
		case !known || len(o.Outcomes[f].At) == 0:
			t.Errorf("absorption_lines.csv: %q is no feature with a place", row["feature"])
		default:
			out = append(out, spectrumLine{row, leaf, f})
		}
	}
	return out
}

// spectrumOf reads lines by their places, on a stone of that colour.
func spectrumOf(t testing.TB, rs *kb.Ruleset, colour string, places ...string) (*casefile.Case, *casefile.Reading) {
	t.Helper()
	c := caseOf(t, rs, map[string]any{"readings": map[string]any{"colour": colour, "spectrum": places}})
	i := slices.IndexFunc(c.Readings, func(r *casefile.Reading) bool { return r.Observable.Name == "spectrum" })
	return c, c.Readings[i]
}

// Source: absorption_lines.csv. Each line, read alone by its place on a stone of the usual colour, and as strong as the
// source calls it, is taken for what the sheet of its material shows (or for one of several, of which that is one), and
// speaks for the material.
func TestPublishedLinesAreOnTheSheets(t *testing.T) {
	rs, j := gemDesk(t), gemJudge(t)
	lines, opened := spectrumLines(t, rs), 0
	for _, l := range lines {
		what := l.row["material"] + " at " + l.row["place"] + " nm (" + l.row["source"] + ")"
		if l.row["status"] == "opened" {
			opened++
		}
		if w := l.leaf.Features["spectrum"].Words[l.row["feature"]]; w == "" || w == kb.Never {
			t.Errorf("%s: its sheet says %q of %q", what, w, l.row["feature"])
			continue
		}
		for _, place := range slices.Compact([]string{l.row["place"],
			strings.TrimSpace(l.row["place"] + " nm " + l.row["strength"])}) {
			c, r := spectrumOf(t, rs, l.row["colour"], place)
			may := r.Seen
			for _, line := range r.Lines {
				may.Union(line.Features)
			}
			if !slices.Contains(may.Members(), l.feature) {
				t.Errorf("%s: %q may not be %q", what, place, l.row["feature"])
			}
			var d engine.Decision
			j.Decide(c, judgedOn, &d)
			if j.Excluded(l.leaf.Index) {
				t.Errorf("%s: %q excludes it", what, place)
			}
			for _, term := range j.Terms(l.leaf.Index) {
				if strings.HasPrefix(term.Name, "spectrum") && term.C < 0.1 {
					t.Errorf("%s: %s speaks for it by %.3f", what, term.Name, term.C)
				}
			}
		}
	}
	if t.Logf("%d lines, %d of them opened", len(lines), opened); opened < 100 {
		t.Errorf("only %d lines were opened", opened)
	}
}

// Source: absorption_lines.csv. Where a source gives all lines of a feature that has three or more, they are that one
// when they are read together, and no other; of two, each may be of it.
func TestPublishedLinesTogetherAreOneFeature(t *testing.T) {
	rs := gemDesk(t)
	o := rs.Vocabulary.Observable("spectrum")
	together := map[string][]spectrumLine{}
	for _, l := range spectrumLines(t, rs) {
		key := strings.Join([]string{l.row["material"], l.row["feature"], l.row["source"]}, ", ")
		together[key] = append(together[key], l)
	}
	checked := map[string]bool{}
	for _, key := range slices.Sorted(maps.Keys(together)) {
		all := together[key]
		f := all[0].feature
		if n := len(o.Outcomes[f].At); n < 2 || len(all) != n {
			continue
		}
		checked[all[0].leaf.ID] = true
		var places []string
		for _, l := range all {
			places = append(places, l.row["place"])
		}
		_, r := spectrumOf(t, rs, all[0].row["colour"], places...)
		lacks := func(l casefile.Line) bool { return !l.Features.Has(f) }
		if len(all) == 2 && !r.Seen.Has(f) && !slices.ContainsFunc(r.Lines, lacks) {
			continue
		}
		if !slices.Equal(r.Seen.Members(), []int{f}) || len(r.Lines) > 0 {
			t.Errorf("%s: %v is read as %v and %v", key, places, seenNames(o, r), r.Lines)
		}
	}
	t.Logf("%v", slices.Sorted(maps.Keys(checked)))
	if len(checked) < 20 {
		t.Errorf("only %d materials show several lines", len(checked))
	}
}

func seenNames(o *vocab.Observable, r *casefile.Reading) (out []string) {
	for _, f := range r.Seen.Members() {
		out = append(out, o.Outcomes[f].Name)
	}
	return out
}
