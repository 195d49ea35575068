package next

import (
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
)

// exact is as fine a mesh as the checks by brute force need.
var exact = mesh{points: 10, parts: 8, grain: 0, least: 0}

// priors are the model's prior weights, what is unlisted last.
func (m *model) priors() []float64 {
	sum := 0.0
	for _, p := range m.prior {
		sum += p
	}
	var out []float64
	for _, p := range m.prior {
		out = append(out, p/sum*(1-modelUnlisted))
	}
	return append(out, modelUnlisted)
}

// likely is the likelihood of an outcome of a test under each stone and what is unlisted, from the definition: (1-e) L
// + e L_any. The outcome is the index of a choice, seen or not (0, 1) of a feature, a value of a quantity.
func (m *model) likely(t *modelTest, outcome float64) []float64 {
	var out []float64
	any := m.any(t, outcome)
	for s := range m.stones {
		l := any
		if t.says[s] {
			l = (1-t.blunder)*m.likelihood(t, s, outcome) + t.blunder*any
		}
		out = append(out, l)
	}
	return append(out, any)
}

func (m *model) any(t *modelTest, outcome float64) float64 {
	switch t.kind {
	case "choice":
		return 1.0 / modelOutcomes
	case "feature":
		return [2]float64{modelBackground, 1 - modelBackground}[int(outcome)]
	}
	return 1 / modelSpan
}

func (m *model) likelihood(t *modelTest, s int, outcome float64) float64 {
	switch t.kind {
	case "choice":
		sum := 0.0
		for _, w := range t.words[s] {
			sum += modelWords[w]
		}
		return modelWords[t.words[s][int(outcome)]] / sum
	case "feature":
		p := modelWords[t.words[s][0]]
		return [2]float64{p, 1 - p}[int(outcome)]
	}
	r := t.ranges[s]
	if outcome < r[0]-modelMisfit*t.u-t.tol || outcome > r[1]+modelMisfit*t.u+t.tol {
		return 0
	}
	whole := uniform(outcome, t.u, r[0], r[1])
	if q := t.typicalOf(s); q != nil {
		return 0.9*uniform(outcome, t.u, q[0], q[1]) + 0.1*whole
	}
	return whole
}

// uniform is the density of a reading of a value uniform over a range, widened to the resolution where it is narrower.
func uniform(x, u, a, b float64) float64 {
	if b-a < modelResolution {
		mid := (a + b) / 2
		a, b = mid-modelResolution/2, mid+modelResolution/2
	}
	return 0.5 * (math.Erf((b-x)/(u*math.Sqrt2)) - math.Erf((a-x)/(u*math.Sqrt2))) / (b - a)
}

func entropyOf(w []float64) float64 {
	sum, h := 0.0, 0.0
	for _, x := range w {
		sum += x
	}
	for _, x := range w {
		h += plog(x / sum)
	}
	return h
}

// expect integrates f over a test's outcomes: f is given the joint weights of an outcome with the stones.
func (m *model) expect(t *modelTest, w []float64, f func(joint []float64) float64) float64 {
	joint := func(outcome float64) []float64 {
		out := m.likely(t, outcome)
		for i := range out {
			out[i] *= w[i]
		}
		return out
	}
	sum, mass := 0.0, 0.0
	add := func(outcome, weight float64) {
		j := joint(outcome)
		p := 0.0
		for _, x := range j {
			p += x
		}
		sum, mass = sum+weight*p*f(j), mass+weight*p
	}
	if t.kind != "quantity" {
		n := modelOutcomes
		if t.kind == "feature" {
			n = 2
		}
		for k := range n {
			add(float64(k), 1)
		}
		return sum / mass
	}
	ends := []float64{0, modelSpan}
	for s := range m.stones {
		r, slack := t.ranges[s], modelMisfit*t.u+t.tol
		ends = append(ends, r[0]-slack, r[0], r[1], r[1]+slack)
	}
	sort.Float64s(ends)
	for i := 1; i < len(ends); i++ {
		simpson(math.Max(0, ends[i-1]), math.Min(modelSpan, ends[i]), 4000, add)
	}
	return sum / mass
}

// simpson lays the nodes of Simpson's composite rule, just inside the ends, where the density may jump.
func simpson(a, b float64, n int, add func(x, weight float64)) {
	if b-a < 1e-12 {
		return
	}
	h := (b - a) / float64(n)
	for k := 0; k <= n; k++ {
		weight, x := h/3, a+float64(k)*h
		switch {
		case k == 0:
			x += 1e-13
		case k == n:
			x -= 1e-13
		case k%2 == 1:
			weight *= 4
		default:
			weight *= 2
		}
		add(x, weight)
	}
}

// drop is the expected fall of entropy by one test, by brute force; unclear is how likely it stays inconclusive.
func (m *model) drop(t *modelTest, w []float64, unclear float64) float64 {
	return (1 - unclear) * (entropyOf(w) - m.expect(t, w, entropyOf))
}

// TestAgainstBruteForce compares the expected fall of entropy of every test of small models with the definition, summed
// and integrated without the engine: to 1e-9, and never negative.
func TestAgainstBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	compared := map[string]int{}
	for range rounds(40) {
		m := drawModel(rng, 1)
		rs := m.load(t)
		a := New(engine.Prepare(rs))
		c := read(t, rs, "model", "case: model\nreadings: {}\n")
		w := m.priors()
		// Half of the time one choice was read before.
		done := -1
		for i := range m.tests {
			if m.tests[i].kind == "choice" && rng.IntN(2) == 0 {
				done = i
				c = feasible.With(c, sourceOf(rs, m.names("test", i)).Choice(choiceIndex(rs, m, i, 1)))
				for s, l := range m.likely(&m.tests[i], 1) {
					w[s] *= l
				}
				break
			}
		}
		b := a.lay(c, noon, Options{mesh: exact})
		for i := range m.tests {
			if i == done {
				continue
			}
			s := b.suggest(a.players[0], rs.Test(m.names("test", i)))
			want, got := m.drop(&m.tests[i], w, DefaultUnclear), s.best().drop
			compared[m.tests[i].kind]++
			if math.Abs(got-want) > 1e-9 {
				t.Errorf("%s: the entropy is expected to fall by %.12f, by brute force %.12f", m.tests[i].kind, got,
					want)
			}
			if got < -1e-12 {
				t.Errorf("%s: negative: %g", m.tests[i].kind, got)
			}
		}
	}
	// -short draws few
	if !testing.Short() && (compared["choice"] < 5 || compared["feature"] < 5 || compared["quantity"] < 5) {
		t.Errorf("compared: %v", compared)
	}
}

func sourceOf(rs *kb.Ruleset, test string) *feasible.Source {
	return feasible.Sources(rs, &casefile.Case{}, rs.Test(test))[0]
}

// choiceIndex is the place of the model's k-th choice among the sorted outcomes.
func choiceIndex(rs *kb.Ruleset, m *model, test, k int) int {
	o := rs.Vocabulary.Observable(strings.ReplaceAll(m.names("look", test), "-", "_"))
	i, _ := o.Outcome([]string{"one", "two", "three"}[k])
	return i
}

// TestTwoDeepAgainstBruteForce compares what two tests, one after the other, are expected to bring.
func TestTwoDeepAgainstBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 3))
	pairs := 0
	for range rounds(30) {
		m := drawModel(rng, 0)
		rs := m.load(t)
		a := New(engine.Prepare(rs))
		c := read(t, rs, "model", "case: model\nreadings: {}\n")
		b := a.lay(c, noon, Options{mesh: exact})
		w := m.priors()
		for i := range m.tests {
			for k := range m.tests {
				if i == k {
					continue
				}
				pairs++
				first := b.suggest(a.players[0], rs.Test(m.names("test", i)))
				second := b.suggest(a.players[0], rs.Test(m.names("test", k)))
				got := b.both(a.players[0], b.first(a.players[0], first.best()), second.best().look,
					second.test).drop
				after := func(w []float64) float64 {
					return entropyOf(w) - m.drop(&m.tests[k], normal1(w),
						DefaultUnclear)
				}
				want := entropyOf(w) - ((1-DefaultUnclear)*m.expect(&m.tests[i], w, after) + DefaultUnclear*after(w))
				if math.Abs(got-want) > 1e-9 {
					t.Errorf("two tests: %.12f, by brute force %.12f", got, want)
				}
			}
		}
	}
	if pairs < 50 {
		t.Errorf("only %d pairs", pairs)
	}
}

// normal1 makes weights come to 1.
func normal1(w []float64) []float64 {
	sum := 0.0
	out := make([]float64, len(w))
	for _, x := range w {
		sum += x
	}
	for i, x := range w {
		out[i] = x / sum
	}
	return out
}

// TestOutcomesComeToOne holds that the outcomes of every look come to 1, and under each stone too, where the sheet
// gives one blunder rate for all of them.
func TestOutcomesComeToOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for range rounds(20) {
		m := drawModel(rng, 1)
		rs := m.load(t)
		a := New(engine.Prepare(rs))
		c := &casefile.Case{ID: "model"}
		b := a.lay(c, noon, Options{})
		for i := range m.tests {
			for _, l := range looks(rs, c, rs.Test(m.names("test", i))) {
				total, under := 0.0, make([]float64, len(b.w))
				for _, o := range a.players[0].outcomes(c, l, b.w, fine) {
					total += o.mass
					for k, p := range o.like {
						under[k] += p
					}
				}
				if math.Abs(total-1) > 1e-12 {
					t.Errorf("%s: outcomes come to %g", m.tests[i].kind, total)
				}
				for k, p := range under {
					if math.Abs(p-1) > 0.02 {
						t.Errorf("%s: outcomes come to %g under stone %d", m.tests[i].kind, p, k)
					}
				}
			}
		}
	}
}
