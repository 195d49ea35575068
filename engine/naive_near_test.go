package engine_test

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// declareNear reads what lies near a word: its neighbours, "each of the other" if one of the two says so, and places.
func (o *naiveObservable) declareNear(w string, entry raw, within float64) {
	for _, v := range entry.at("neighbours").texts() {
		for _, pair := range [][2]string{{w, v}, {v, w}} {
			if o.neighbours[pair[0]] == nil {
				o.neighbours[pair[0]] = set{}
			}
			o.neighbours[pair[0]][pair[1]] = true
		}
	}
	for _, at := range entry.at("at").list() {
		o.at[w] = append(o.at[w], at.or(0))
	}
	o.within[w] = entry.at("within").or(within)
}

// called: of what has neighbours, a part is called one of them, each as often.
func (o *naiveObservable) called(is, as string) float64 {
	n := float64(len(o.neighbours[is]))
	switch {
	case is == as && n > 0:
		return 1 - o.neighbour
	case is == as:
		return 1
	case o.neighbours[is][as]:
		return o.neighbour / n
	}
	return 0
}

// told is how likely a feature is told of a leaf, and whether its sheet says anything of it or of a neighbour that may
// be called so; "a feature of which nothing is said is as frequent as on stones in general".
func (x *examined) told(m *naiveNode, o *naiveObservable, f string) (p float64, said bool) {
	not := 1 - o.background[f]
	word, own := m.words[o.name][f]
	if own {
		not = 1 - x.frequency[word]
	}
	said = own
	for _, w := range o.words {
		if q := x.frequency[m.words[o.name][w]]; w != f && o.neighbours[w][f] && q > 0 {
			not *= 1 - q*o.called(w, f)
			said = true
		}
	}
	return 1 - not, said
}

// never is a feature that a sheet calls never, and that nothing seen is called by.
func (x *examined) never(m *naiveNode, o *naiveObservable, f string) bool {
	p, _ := x.told(m, o, f)
	return m.words[o.name][f] == "never" && p == 0
}

// naiveLine was read by its place, or with its strength.
type naiveLine struct {
	among    set
	strength string
	at       float64
}

var placed = regexp.MustCompile(`^([0-9.]+)( nm)?( [a-z]+)?$`)

// lines reads what was seen where features have places or strengths: words, places, and how strong each looked.
func (r *naiveReading) lines(texts []string) {
	type at struct {
		x        float64
		strength string
	}
	var places []at
	for _, text := range texts {
		text = plainly(text)
		if found := placed.FindStringSubmatch(text); found != nil {
			x, err := strconv.ParseFloat(found[1], 64)
			if err != nil {
				panic(err)
			}
			places = append(places, at{x, strings.TrimSpace(found[3])})
			continue
		}
		strength := ""
		for _, s := range r.o.strengths {
			if rest, ok := strings.CutSuffix(text, " "+s); ok && !slices.Contains(r.o.words, text) {
				text, strength = strings.TrimSuffix(rest, ","), s
			}
		}
		w := r.o.spelt(text)
		r.seen[w], r.lookedFor[w] = true, true
		if strength != "" {
			r.read = append(r.read, naiveLine{among: setOf(w), strength: strength})
		}
	}
	var all []float64
	for _, p := range places {
		all = append(all, p.x)
	}
	slices.Sort(all)
	all = slices.Compact(all) // a line that is written twice is one
	for _, p := range places {
		l := naiveLine{r.o.lyingAt(p.x, all), p.strength, p.x}
		if len(l.among) == 1 {
			for w := range l.among {
				if r.o.pairedOff(w, r.o.at[w], all) {
					r.seen[w], r.lookedFor[w] = true, true
				}
			}
		}
		r.read = append(r.read, l)
	}
}

// lyingAt is what lies at a place: of features with three places or more, all of which were read, those with the most;
// else all that are near.
func (o *naiveObservable) lyingAt(x float64, all []float64) set {
	out, most := set{}, 1
	for _, w := range o.words {
		if slices.ContainsFunc(o.at[w], func(at float64) bool { return math.Abs(at-x) < o.within[w]+1e-6 }) {
			n := 1
			if len(o.at[w]) >= 3 && o.pairedOff(w, o.at[w], all) {
				n = len(o.at[w])
			}
			if n > most {
				out, most = set{}, n
			}
			if n == most {
				out[w] = true
			}
		}
	}
	return out
}

// pairedOff tells whether each place of a feature can be given a reading of its own, by trying all ways.
func (o *naiveObservable) pairedOff(w string, at, read []float64) bool {
	if len(at) == 0 {
		return true
	}
	for i, x := range read {
		if math.Abs(at[0]-x) < o.within[w]+1e-6 &&
			o.pairedOff(w, at[1:], slices.Delete(slices.Clone(read), i, i+1)) {
			return true
		}
	}
	return false
}

// settle: of lines that say the same the fainter counts; a line that may be one of several says nothing beside one of
// them, or beside a line that may be fewer.
func (r *naiveReading) settle() {
	defer func() { // what it may be was not looked for in vain
		for _, l := range r.read {
			if !r.sure(l) {
				for w := range l.among {
					delete(r.lookedFor, w)
				}
			}
		}
	}()
	same := func(a, b set) bool { return len(a) == len(b) && subset(a, b) }
	var kept []naiveLine
	for _, l := range r.read {
		i := slices.IndexFunc(kept, func(k naiveLine) bool { return same(k.among, l.among) })
		if i < 0 {
			kept = append(kept, l)
			continue
		}
		kept[i].at = math.Min(kept[i].at, l.at)
		for _, s := range r.o.strengths { // from the faintest
			if s == kept[i].strength || s == l.strength {
				kept[i].strength = s
				break
			}
		}
	}
	r.read = slices.DeleteFunc(slices.Clone(kept), func(l naiveLine) bool {
		if r.sure(l) {
			return l.strength == ""
		}
		for w := range l.among {
			if r.seen[w] {
				return true
			}
		}
		return slices.ContainsFunc(kept, func(k naiveLine) bool {
			return !same(k.among, l.among) && subset(k.among, l.among)
		})
	})
}

func subset(a, b set) bool {
	for w := range a {
		if !b[w] {
			return false
		}
	}
	return true
}

// sure: of a feature that was seen, and not of several, or of part of one.
func (r *naiveReading) sure(l naiveLine) bool {
	for w := range l.among {
		return len(l.among) == 1 && r.seen[w]
	}
	return false
}

// strengthOf is the line that says how strong a feature looked, if one does.
func (r *naiveReading) strengthOf(f string) (naiveLine, bool) {
	for _, l := range r.read {
		if r.sure(l) && l.among[f] {
			return l, true
		}
	}
	return naiveLine{}, false
}

// line: how likely any of those that it may be is seen, and so strong; "what is said of strengths is a choice", where
// nothing is said all are alike.
func (x *examined) line(ev *evidence, r *naiveReading, l naiveLine) {
	o := r.o
	for i, m := range x.leaves {
		not, notAny, said, never := 1.0, 1.0, false, r.sure(l)
		for _, f := range o.words {
			if !l.among[f] {
				continue
			}
			p, speaks := x.told(m, o, f)
			any := o.background[f]
			if !speaks {
				p = any
			}
			if l.strength != "" {
				any /= float64(len(o.strengths))
				p *= x.strengthShare(m, o, f, l.strength)
			}
			not, notAny = not*(1-p), notAny*(1-any)
			said, never = said || speaks, never && x.never(m, o, f)
		}
		switch {
		case never:
			ev.excludes(i)
		case said:
			ev.says(i, contributes(1-not, 1-notAny, ev.e))
		}
	}
}

// readStrengths reads what a sheet says of how strong features look: one strength, or how often each.
func (m *naiveNode) readStrengths(o string, given raw) {
	m.strengths[o] = map[string]map[string]string{}
	for _, f := range given.keys() {
		m.strengths[o][f] = map[string]string{}
		if !given.at(f).isMap() {
			m.strengths[o][f][given.at(f).text("")] = "always"
		}
		for _, s := range given.at(f).keys() {
			m.strengths[o][f][s] = given.at(f).at(s).text("")
		}
	}
}

func (x *examined) strengthShare(m *naiveNode, o *naiveObservable, f, strength string) float64 {
	words := m.strengths[o.name][f]
	if words == nil {
		return 1 / float64(len(o.strengths))
	}
	return x.choiceShares(o.strengths, words)[strength]
}
