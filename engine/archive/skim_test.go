package archive

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
)

// pieces are what records are drawn of: plain ones, unusual ones, and ones that are wrong.
var pieces = map[string][]string{
	"format": {"1", "1", "1", "1.0", "2", `"1"`},
	"case": {`"A-1"`, `"B 2"`, `"Zürich 7"`, `"with \"quotes\""`, `"\u0041"`, `""`, `12`, `"a` + "\x01" + `b"`,
		`"` + "\xff" + `"`},
	"claim": {`"diamond"`, `"Natural  Ruby"`, `"saphire"`, `"Gr\u00fcn"`, `null`, `7`, `""`,
		`"` + strings.Repeat("x", 600) + `"`},
	"taken": {`"2030-05-01T10:00:00Z"`, `"2030-05-01T10:00:00+02:00"`, `"2030-05-01"`, `"2030-05-01 10:00"`,
		`"2030-02-30"`, `null`, `20300501`},
	"desk":         {`"quay"`, `"Zürich"`, `null`, `3`, `"tab\there"`},
	"stake":        {"100", "0", "99.5", "-1", "1e3", `"12"`, "null", "01", "1.", "12345678901234567890"},
	"truth":        {`"natural-diamond"`, `"no-such-thing"`, `null`, `["x"]`},
	"by":           {`"anna"`, `"[a]"`, "null", "7"},
	"note":         {`"invented"`, `"[sic] as written"`, `"a, b: {c}"`, `"line\nend"`, `"back\\"`, "null", "5"},
	"correlations": {"null", "[]", `[{"of":["ri","specific_gravity"],"r":0.3}]`},
	"recorded": {`{"verdict":"narrowed","method":2}`,
		`{"verdict":"identified","named":"natural-diamond","claim":"stands","nodes":["a","b"]}`,
		`{"verdict":"passed"}`, "null", `{"method":"2"}`, `{}`, `[1]`, `{"verdict":"narrowed","verdict":"narrowed"}`},
	"stone": {`{"carat":0.51,"mounted":false}`, `{"mounted":true,"warm":true}`,
		`{"carat":0.015,"wet":true,"coated":true}`, `{}`, "null", `{"carat":0}`,
		`{"carat":1.2,"length_mm":6.8,"width_mm":6.7,"depth_mm":4.1,"cut":"Round  Brilliant"}`, `{"mounted":"no"}`,
		`{"carat":1,"carat":2}`, `{"colour":"red"}`, `{ "setting" : "claw" , "mounted" : true }`,
		`{"colour":"red","transparency":"transparent","carat":0.4}`, `{"weight":1}`, `{"mounted":null}`,
		`{"carat":0.3,"length_mm":4.3,"width_mm":4.3,"depth_mm":2.6,"cut":"round"}`,
		`{"carat":0.3,"length_mm":4.3,"width_mm":4.3,"depth_mm":260,"cut":"round"}`, `{"carat":100001}`,
		`{"carat":0.3,"width_mm":1001}`},
	"ri": {"1.544", "1.76", "[1.544,1.553]", "[1.762, 1.77]", `{"above":1.81}`, `{"between":[1.5,1.6]}`,
		"1.9", `{"value":1.76,"uncertainty":0.003,"where":"table"}`, `[{"value":1.76},{"value":1.761}]`,
		`[{"value":1.5,"where":"crown"},{"value":1.7,"where":"pavilion"}]`, `"1.76"`, "null",
		`{"inconclusive":"no shadow"}`, `[{"value":1.5},{"value":1.7}]`, "1.54e0", "[1.77,1.76]"},
	"specific_gravity": {"3.52", "3.99", "4", "4.0", "3.520", `{"value":3.5,"uncertainty":0.05}`, `[{"value":3.5},{"value":3.51}]`,
		"99", `{"value":3.5,"uncertainty":50}`, `{"above":3.3}`, `{"value":3.5,"note":"twice \"so\""}`},
	// its uncertainty follows from what was read
	"reflectance": {"4.9", "17", "6.25", "17.0", `{"value":12.5}`, `[{"value":16.8},{"value":17.1}]`, `{"above":10}`,
		`{"value":12.5,"uncertainty":0.2}`, `{"value":4.9,"instrument":"none of ours"}`, `"4.9"`, "4000", "0"},
	"size_density": {"3.5", `{"value":3.6}`, `{"value":3.6,"by":"A","at":"2030-05-01"}`},
	"thermal_probe": {`"diamond range"`, `"below diamond range"`, `"Diamond  Range"`, `"dia\u006dond range"`,
		`"no such"`, "1", `{"choice":"diamond range"}`, `[{"choice":"diamond range"},{"choice":"below diamond range"}]`,
		`{"choice":"diamond range","test":"no-such-test"}`},
	"polariscope": {`"stays dark"`, `"blinks"`, `{"inconclusive":"too bright"}`,
		`[{"choice":"stays dark"},{"inconclusive":"x"}]`},
	"heft":   {`"light"`, `"as expected"`},
	"colour": {`"red"`, `"blue"`, `{"value":"red"}`},
	"inclusions": {`["gas bubbles"]`, `{"features":["gas bubbles"],"looked_for":["curved striae"]}`,
		`{"features":[],"looked_for":["gas bubbles","curved striae"]}`, `{"looked_for":["gas bubbles"]}`,
		`{"features":[],"looked_for":[]}`, `{"features":"gas bubbles"}`, `["Gas Bubbles"]`, `["no such"]`,
		`{"features":["gas bubbles"],"features":[]}`, `["gas bubbles","gas bubbles"]`,
		`[ "gas bubbles" , "curved striae" ]`, `["gas bubbles",]`, `{"features":["gas bubbles"],"note":"x"}`, `[`,
		`{"features":["gas bubbles"]`, "[]", `[{"features":["gas bubbles"]},{"features":["curved striae"]}]`},
	"spectrum": {`{"features":["nothing to see"],"looked_for":["line at 415 nm"]}`, `["line at 415 nm"]`, "{}"},
	"no_such":  {"1"},
}

var top = []string{"format", "case", "claim", "taken", "desk", "by", "stone", "stake", "readings", "correlations",
	"truth", "recorded", "note"}

// drawRecord draws a record, of which the most part is plain.
func drawRecord(rng *rand.Rand) string {
	gap := func() string { return strings.Repeat([]string{"", "", "", " ", "\t"}[rng.IntN(5)], 1) }
	pick := func(key string) string {
		p := pieces[key]
		return p[int(float64(len(p))*rng.Float64()*rng.Float64()*rng.Float64())]
	}
	object := func(keys []string, value func(string) string) string {
		var all []string
		for _, k := range keys {
			all = append(all, fmt.Sprintf("%s%q%s:%s%s", gap(), k, gap(), gap(), value(k)))
		}
		if rng.IntN(60) == 0 && len(all) > 0 {
			all = append(all, all[0])
		}
		return "{" + strings.Join(all, ",") + gap() + "}"
	}
	some := func(keys []string, share float64) (out []string) {
		for _, k := range keys {
			if rng.Float64() < share {
				out = append(out, k)
			}
		}
		if rng.IntN(4) == 0 {
			rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
		}
		return out
	}
	var observables []string
	for k := range pieces {
		if !slices.Contains(top, k) && (k != "no_such" || rng.IntN(30) == 0) {
			observables = append(observables, k)
		}
	}
	slices.Sort(observables)
	keys := some(top, 0.8)
	if !slices.Contains(keys, "case") && rng.IntN(10) > 0 {
		keys = append(keys, "case")
	}
	return object(keys, func(k string) string {
		if k == "readings" {
			return object(some(observables, 0.35), pick)
		}
		return pick(k)
	}) + gap()
}

// alike fails unless the skimmer reads a record as the decoder does, if it reads it at all; it tells whether it does.
func alike(t *testing.T, s *Skimmer, r *Raw, room *casefile.Room) bool {
	t.Helper()
	got, found, unusual := s.Decode(r, room)
	if unusual {
		return false
	}
	want, wrong := s.Decoder.Decode(r)
	if want == nil || len(found)+len(wrong) > 0 {
		t.Fatalf("%q %q is read, and is wrong: %v", r.Text, r.Row(), wrong)
	}
	if diff := cmp.Diff(plainly(want), plainly(got)); diff != "" {
		t.Fatalf("%q %q (- decoder, + skimmer):\n%s", r.Text, r.Row(), diff)
	}
	return true
}

// plainly is a case without places and numbers, which only one of the two ways gives.
func plainly(c *casefile.Case) any {
	flat := *c
	flat.Span, flat.Readings = diag.Span{}, nil
	var bare func(list []*casefile.Reading) []casefile.Reading
	type reading struct {
		One   casefile.Reading
		Parts []casefile.Reading
	}
	bare = func(list []*casefile.Reading) (out []casefile.Reading) {
		for _, r := range list {
			x := *r
			x.Span, x.Known, x.Parts, x.Observable = diag.Span{}, 0, nil, nil
			out = append(out, x)
		}
		return out
	}
	var readings []reading
	var names []string
	for _, r := range c.Readings {
		readings = append(readings, reading{bare([]*casefile.Reading{r})[0], bare(r.Parts)})
		names = append(names, r.Observable.Name)
	}
	correlations := len(flat.Correlations)
	flat.Correlations = nil
	taken := flat.Taken.UTC()
	flat.Taken = taken
	return struct {
		Case         casefile.Case
		Readings     []reading
		Names        []string
		Correlations int
	}{flat, readings, names, correlations}
}

// balance is the shipped ruleset: the uncertainty of its hydrostatic weighing follows from the stone.
func balance(tb testing.TB) *kb.Ruleset {
	tb.Helper()
	return enginetest.Ruleset(tb)
}

// TestSkimmerAgainstDecoder: what the skimmer reads, the decoder reads alike; a skimmer that remembers next to nothing
// too.
func TestSkimmerAgainstDecoder(t *testing.T) {
	rd := eval.CaseReader(balance(t))
	n := 20_000
	if testing.Short() {
		n = 4000
	}
	for _, most := range []int{20_000, 5} {
		s, rng := NewSkimmer(rd, casefile.NewMemory(1000*most, 900)), rand.New(rand.NewPCG(7, 7))
		var room casefile.Room
		skimmed := 0
		for i := range n {
			if alike(t, s, &Raw{File: "a", Line: i + 1, Text: drawRecord(rng)}, &room) {
				skimmed++
			}
		}
		if skimmed < n/10 {
			t.Errorf("%d of %d records were skimmed", skimmed, n)
		}
	}
}

// TestSkimmersShareAMemory: skimmers that share one give a value the same number, and no other value that number, at
// once or one after another; and read as the decoder does.
func TestSkimmersShareAMemory(t *testing.T) {
	rd := eval.CaseReader(balance(t))
	memory := casefile.NewMemory(60_000, 900) // which is full before the end
	numbers := make([]map[int]string, 4)
	var all sync.WaitGroup
	for i := range numbers {
		all.Go(func() {
			s, rng := NewSkimmer(rd, memory), rand.New(rand.NewPCG(11, uint64(i/2)))
			var room casefile.Room
			numbers[i] = map[int]string{}
			for k := range 1500 {
				r := &Raw{File: "a", Line: k + 1, Text: drawRecord(rng)}
				got, _, unusual := s.Decode(r, &room)
				if unusual {
					continue
				}
				if want, _ := s.Decoder.Decode(r); !cmp.Equal(plainly(want), plainly(got)) {
					t.Errorf("%q is not read as the decoder reads it", r.Text)
				}
				for _, x := range got.Readings {
					if x.Known > 0 && x.Form != casefile.Features {
						numbers[i][x.Known] = fmt.Sprint(x.Observable.Name, x.Form, x.Where, x.Outcome, x.Value, x.High,
							x.Lo, x.Hi)
					}
				}
			}
		})
	}
	all.Wait()
	known, of, shared := map[int]string{}, map[string]int{}, 0
	for _, one := range numbers {
		for n, says := range one {
			if was, ok := known[n]; ok {
				shared++
				if was != says {
					t.Fatalf("%d is %q and %q", n, was, says)
				}
			}
			known[n] = says
		}
	}
	for n, says := range known {
		of[says] = n
	}
	if len(known) < 15 || shared < 30 || len(of) < len(known)/2 {
		t.Errorf("%d numbers of %d values, %d times one that another skimmer has too", len(known), len(of), shared)
	}
}

// TestSkimmerReadsTables: a row of a table is read as the decoder reads it.
func TestSkimmerReadsTables(t *testing.T) {
	s, rng := NewSkimmer(eval.CaseReader(balance(t)), casefile.NewMemory(1000*20_000, 900)), rand.New(rand.NewPCG(8, 8))
	var names []string
	for k := range pieces {
		if k != "no_such" && k != "readings" && k != "stone" && k != "recorded" {
			names = append(names, map[bool]string{true: k, false: "readings." + k}[slices.Contains(top, k)])
		}
	}
	names = append(names, "stone.carat", "stone.mounted", "stone.cut", "recorded.verdict", "recorded.method",
		"recorded.nodes", "stone.colour")
	slices.Sort(names)
	h, err := header(names, nil)
	if err != nil {
		t.Fatal(err)
	}
	more := map[string][]string{"carat": {"0.51", "0.01", " 1", "1e0"}, "mounted": {"false", "true", "maybe"},
		"cut": {"round", "1"}, "verdict": {"narrowed", "x"}, "method": {"2", "two"}, "nodes": {`["a"]`, "a"}}
	var room casefile.Room
	skimmed, words := 0, map[string]int32{}
	for i := range 6000 {
		if i == 3000 { // before, as a Parquet file has it; from here on, as CSV
			words = nil
		}
		cells := make([]string, len(names))
		for k, name := range names {
			key := name[strings.IndexByte(name, '.')+1:]
			p := slices.Concat(more[key], pieces[key])
			if rng.IntN(3) == 0 && name != "case" && name != "format" {
				continue
			}
			cells[k] = p[int(float64(len(p))*rng.Float64()*rng.Float64()*rng.Float64()*rng.Float64())]
			if rng.IntN(5) > 0 && !strings.HasSuffix(cells[k], `\"`) {
				cells[k] = strings.Trim(cells[k], `"`)
			}
		}
		if alike(t, s, numbered(rowOf(h, cells...), words), &room) {
			skimmed++
		}
	}
	if skimmed < 300 {
		t.Errorf("%d rows were skimmed", skimmed)
	}
}

// numbered gives cells the numbers that a Parquet file gives them; with no words it gives none.
func numbered(r *Raw, words map[string]int32) *Raw {
	for i := range r.Cells {
		c := &r.Cells[i]
		key := fmt.Sprint(c.Column, c.Text)
		if c.Number = words[key]; c.Number == 0 && words != nil {
			c.Number = int32(len(words) + 1)
			words[key] = c.Number
		}
	}
	return r
}

// TestSkimmerReadsOrdinaryRecords: the demo cases' own form, and all forms of a reading that help shows, go the fast
// way.
func TestSkimmerReadsOrdinaryRecords(t *testing.T) {
	s := NewSkimmer(eval.CaseReader(balance(t)), casefile.NewMemory(1000*20_000, 900))
	var room casefile.Room
	for _, line := range []string{
		`{"case":"1"}`, `{"format":1,"case":"1","claim":"diamond","readings":{}}`,
		`{"case":"1","stone":{"mounted":false,"carat":1.02},"readings":{"ri":[1.544,1.553],"specific_gravity":2.65}}`,
		`{"case":"1","note":"he said: {no}, [twice]","readings":{"inclusions":{"features":[],"looked_for":["gas bubbles"]}}}`,
		`{"readings": {"ri": {"above": 1.81}, "thermal_probe": "diamond range"}, "case": "2", "stake": 1000.5}`,
	} {
		if !alike(t, s, &Raw{Text: line}, &room) {
			t.Errorf("%s is unusual", line)
		}
	}
	for _, line := range []string{`{"case":"1"} x`, `{"case":"1"}{"case":"2"}`, `{"case":"1"},`} {
		if _, _, unusual := s.Decode(&Raw{Text: line}, &room); !unusual {
			t.Errorf("%s is one record", line)
		}
	}
}

func FuzzSkimmer(f *testing.F) {
	rng := rand.New(rand.NewPCG(9, 9))
	for range 50 {
		f.Add(drawRecord(rng))
	}
	files, err := filepath.Glob("testdata/*.jsonl")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range files {
		if text, err := os.ReadFile(name); err == nil {
			for line := range strings.Lines(string(text)) {
				f.Add(line)
			}
		}
	}
	s := NewSkimmer(eval.CaseReader(balance(f)), casefile.NewMemory(1000*20_000, 900))
	var room casefile.Room
	f.Fuzz(func(t *testing.T, text string) { alike(t, s, &Raw{File: "a", Line: 1, Text: text}, &room) })
}
