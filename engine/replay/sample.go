package replay

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Sample writes an invented archive: n cases of an invented saleroom's intake as JSON lines, drawn from the ruleset's
// own sheets with the errors and blunders that they state. The same seed gives the same bytes. Truths follow what is
// common at the counter; desks differ in what they test; one balance drifts over the two years; part of the cases carry
// the verdict that was recorded. Readings are drawn in all forms that people write them in, or in the plainest.
func Sample(ctx context.Context, e *engine.Engine, n int, seed uint64, allForms bool, out io.Writer) error {
	s := &sampler{forms: allForms, rs: e.Ruleset, rng: rand.New(rand.NewPCG(seed, 0x5743)), priors: e.Ruleset.Priors(),
		judge: e.NewJudge(), reader: eval.CaseReader(e.Ruleset)}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	for i := range n {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err := enc.Encode(s.one(i, n)); err != nil {
			return err
		}
	}
	return nil
}

const (
	sampleNote  = "invented"
	sampleYears = 2
	// drift is how far the quay desk's balance is off after two years, in specific gravity.
	drift = 0.03
)

var sampleStart = time.Date(2030, 1, 7, 9, 0, 0, 0, time.UTC)

// sampleDesks are the invented saleroom's desks, and how much of what could be tested each of them tests.
var sampleDesks = []struct {
	name  string
	share float64
}{{"quay", 0.35}, {"annexe", 0.22}, {"travelling", 0.12}}

type sampler struct {
	forms  bool
	rs     *kb.Ruleset
	rng    *rand.Rand
	priors []float64
	judge  *engine.Judge
	reader *casefile.Reader
	drawn  map[string]float64 // true values of the stone at hand, by property
}

// record is a case in the order in which people read it.
type record struct {
	Format   int            `json:"format"`
	Case     string         `json:"case"`
	Claim    string         `json:"claim"`
	Taken    string         `json:"taken"`
	Desk     string         `json:"desk"`
	Stone    map[string]any `json:"stone"`
	Stake    float64        `json:"stake"`
	Readings map[string]any `json:"readings"`
	Truth    string         `json:"truth"`
	Recorded map[string]any `json:"recorded,omitempty"`
	Note     string         `json:"note"`
}

func (s *sampler) one(i, n int) *record {
	m := s.material()
	s.drawn = map[string]float64{}
	part := float64(i) / float64(max(n, 1))
	taken := sampleStart.Add(time.Duration(part*sampleYears*365*24*60) * time.Minute)
	desk := sampleDesks[s.rng.IntN(len(sampleDesks))]
	mounted := s.rng.Float64() < 0.3
	r := &record{Format: 1, Case: fmt.Sprintf("S-%07d", i+1), Claim: s.claim(m), Taken: taken.Format(time.RFC3339),
		Desk: desk.name, Stone: map[string]any{"mounted": mounted, "carat": math.Round(20+s.rng.ExpFloat64()*80) / 100},
		Truth: engine.Told(m).ID, Note: sampleNote, Stake: math.Round(math.Exp(4+4*s.rng.Float64())) * 10,
		Readings: map[string]any{}}
	s.measure(r, m)
	bias := 0.0
	if desk.name == "quay" {
		bias = drift * part
	}
	for _, t := range s.rs.Tests {
		if t.Harmless() && s.rng.Float64() < desk.share {
			s.test(r, t, m, mounted, bias)
		}
	}
	if s.rng.Float64() < 0.8 {
		s.record(r)
	}
	return r
}

func (s *sampler) material() *kb.Material {
	x := s.rng.Float64() * (1 - s.rs.Policy.Unlisted)
	for i, p := range s.priors {
		if x -= p; x < 0 {
			return s.rs.Leaves[i]
		}
	}
	return s.rs.Leaves[len(s.rs.Leaves)-1]
}

// claim is what the consignor says: mostly diamond, else what it is, else something else.
func (s *sampler) claim(m *kb.Material) string {
	diamond := 0.6
	if s.forms { // a saleroom takes in more than diamonds
		diamond = 0.35
	}
	switch x := s.rng.Float64(); {
	case x < diamond:
		return "diamond"
	case x < 0.85:
		return m.Name
	default:
		words := s.rs.ClaimWords()
		return words[s.rng.IntN(len(words))]
	}
}

// test draws what one test gives of a stone.
func (s *sampler) test(r *record, t *kb.Test, m *kb.Material, mounted bool, bias float64) {
	for _, y := range t.Yields {
		o := y.Observable
		if _, done := r.Readings[o.Name]; done || y.Test != o.Test {
			continue
		}
		if mounted && o.Family == "density" && !(s.forms && s.rng.Float64() < partMountedRead) || s.derived(r, t, o) {
			continue
		}
		if s.rng.Float64() < 0.04 {
			r.Readings[o.Name] = map[string]any{"inconclusive": "no clear result"}
			continue
		}
		blunder := s.rng.Float64() < y.Blunder
		switch o.Kind {
		case vocab.Quantity:
			s.quantity(r, y, m, blunder, bias)
		case vocab.Choice:
			s.choice(r, y, m, blunder)
		case vocab.Features:
			s.features(r, o, m, blunder)
		}
	}
}

func (s *sampler) quantity(r *record, y *vocab.Yield, m *kb.Material, blunder bool, bias float64) {
	o := y.Observable
	p := m.Ranges[o.Property]
	if p == nil {
		return
	}
	x := s.truth(m, o.Property)
	if blunder {
		x = o.Span[0] + s.rng.Float64()*(o.Span[1]-o.Span[0])
	}
	if o.Family == "density" {
		x += bias
	}
	x += s.rng.NormFloat64() * y.Uncertainty
	x = math.Max(o.Span[0], math.Min(o.Span[1], x))
	digits := math.Pow10(int(math.Ceil(-math.Log10(y.Uncertainty))) + 1)
	round := func(x float64) float64 { return math.Round(x*digits) / digits }
	x = round(x)
	switch {
	case x > y.Limits[1]:
		r.Readings[o.Name] = map[string]any{"above": y.Limits[1]}
	case x >= y.Limits[0]:
		r.Readings[o.Name] = s.number(y, m, x, round)
	}
}

// truth draws the true value of a property anew for each reading; of one that goes with another, once for a stone.
func (s *sampler) truth(m *kb.Material, property string) float64 {
	if x, drawn := s.drawn[property]; drawn {
		return x
	}
	p := *m.Ranges[property]
	if r := m.Relations[property]; r != nil {
		x := s.truth(m, r.By.Property)
		if p.Low, p.High = r.Narrow(m.Ranges[property], x, x); p.Typical != nil {
			p.Typical = &[2]float64{math.Max(p.Low, math.Min(p.High, p.Typical[0])),
				math.Max(p.Low, math.Min(p.High, p.Typical[1]))}
		}
	}
	low, high := p.Low, p.High
	if p.Typical != nil && s.rng.Float64() < 0.9 {
		low, high = p.Typical[0], p.Typical[1]
	}
	x := low + s.rng.Float64()*(high-low)
	if len(m.Relations) > 0 {
		s.drawn[property] = x
	}
	return x
}

func (s *sampler) choice(r *record, y *vocab.Yield, m *kb.Material, blunder bool) {
	o := y.Observable
	f := m.Choices[o.Name]
	if f == nil && !blunder {
		return
	}
	said := func(c vocab.Outcome) (kb.Frequency, bool) {
		if f == nil {
			return "", false
		}
		w, ok := f.Words[c.Name]
		return w, ok
	}
	weights := make([]float64, len(o.Outcomes))
	left, others := 1.0, 0
	for i, c := range o.Outcomes {
		if w, ok := said(c); ok {
			weights[i] = s.rs.Policy.Frequency[w]
			left -= weights[i]
		} else if c.Covers == 0 {
			others++
		}
	}
	for i, c := range o.Outcomes {
		switch _, ok := said(c); {
		case c.Covers != 0:
		case blunder:
			weights[i] = 1
		case !ok:
			weights[i] = math.Max(left, 0.03) / float64(others)
		}
	}
	total := 0.0
	for _, w := range weights {
		total += w
	}
	x := s.rng.Float64() * total
	for i, w := range weights {
		if x -= w; x < 0 {
			r.Readings[o.Name] = s.word(y, i)
			return
		}
	}
}

func (s *sampler) features(r *record, o *vocab.Observable, m *kb.Material, blunder bool) {
	f := m.Features[o.Name]
	seen, looked := []string{}, []string{}
	for _, c := range o.Outcomes {
		if s.rng.Float64() > 0.6 {
			continue
		}
		p := c.Background
		if f != nil && !blunder {
			if w, ok := f.Words[c.Name]; ok {
				p = s.rs.Policy.Frequency[w]
			}
		}
		looked = append(looked, c.Name)
		if s.rng.Float64() < p {
			seen = append(seen, c.Name)
		}
	}
	if len(looked) > 0 {
		seen = s.lines(o, f, seen)
		r.Readings[o.Name] = map[string]any{"features": seen, "looked_for": looked}
	}
}

// record adds the verdict that the ruleset gives today.
func (s *sampler) record(r *record) {
	text, err := json.Marshal(r)
	if err != nil {
		return
	}
	var l diag.List
	n := syntax.ParseJSON(diag.NewSource(r.Case, text), &l)
	if n == nil {
		return
	}
	c := s.reader.Read(n, &l)
	if c == nil {
		return
	}
	var d engine.Decision
	s.judge.Decide(c, c.Taken, &d)
	r.Recorded = map[string]any{"verdict": d.Class.String(), "method": s.rs.Method, "ruleset": s.rs.Digest}
	if d.Named != nil {
		r.Recorded["named"] = d.Named.ID
	}
	if d.Claim.Answer != engine.NoClaim {
		r.Recorded["claim"] = d.Claim.Answer.String()
	}
}

// Sorted lists the ids of a tally's map in order: maps have none.
func Sorted[V any](m map[string]V) []string {
	return slices.Sorted(maps.Keys(m))
}
