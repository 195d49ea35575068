package casefile

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

func (rd *Reader) features(r *Reading, seen, lookedFor *syntax.Node, out *diag.List) bool {
	r.Form = Features
	good := readSeen(r, seen, out)
	good = readNames(r.Observable, lookedFor, &r.LookedFor, out) && good
	r.settleLines()
	if good && r.LookedFor.Empty() && len(r.Lines) == 0 {
		d := out.Errorf(diag.MissingKey, r.Span, "no feature is named")
		d.Detail = "List what was seen, and what was looked for and may be absent."
		d.Write = "That stands under looked_for."
		return false
	}
	return good
}

// readNames reads a list of features by their names.
func readNames(o *vocab.Observable, n *syntax.Node, to *vocab.Set, out *diag.List) bool {
	if n == nil {
		return true
	}
	items, ok := n.ListOrOne(out)
	items, whole := unparted(o, items, out)
	ok = ok && whole
	for _, item := range items {
		if _, placed := place(o, vocab.Fold(item.Text)); placed && item.Kind == syntax.Scalar {
			out.Errorf(diag.WrongKind, item.Span, "what was looked for, and may not be there, is told by its name")
			ok = false
			continue
		}
		word, good := item.Str(out)
		if !good {
			ok = false
			continue
		}
		i, known := o.Outcome(vocab.Fold(word))
		if !known {
			unknownOutcome(o, word, diag.UnknownFeature, item, out)
			ok = false
			continue
		}
		to.Add(i)
	}
	return ok
}

// readSeen reads what was seen: features by name or, where they have places, by where they lie ("452", "452 nm");
// each with how strong it looked, if that is said behind it ("452 nm strong").
func readSeen(r *Reading, n *syntax.Node, out *diag.List) bool {
	o := r.Observable
	if !o.Placed() && len(o.Strengths) == 0 {
		return readNames(o, n, &r.Seen, out)
	}
	if n == nil {
		return true
	}
	items, ok := n.ListOrOne(out)
	items, whole := unparted(o, items, out)
	ok = ok && whole
	var placed []placedAt
	for _, item := range items {
		text, strength := cutStrength(o, vocab.Fold(item.Text))
		line := Line{Strength: strength}
		if x, ok := place(o, text); ok && item.Kind == syntax.Scalar {
			line.At = x
			placed = append(placed, placedAt{line, item})
			continue
		}
		if _, good := item.Str(out); !good {
			ok = false
			continue
		}
		i, known := o.Outcome(text)
		if !known {
			if !unknownStrength(o, text, item, out) {
				unknownOutcome(o, item.Text, diag.UnknownFeature, item, out)
			}
			ok = false
			continue
		}
		r.Seen.Add(i)
		if line.Strength != NoStrength {
			line.Features.Add(i)
			r.Lines = append(r.Lines, line)
		}
	}
	return readPlaces(r, placed, out) && ok
}

// unparted takes out of a list the pieces of a name that its own comma parts, as it stands without quotes, and says so.
func unparted(o *vocab.Observable, items []*syntax.Node, out *diag.List) (rest []*syntax.Node, whole bool) {
	whole = true
	for i := 0; i < len(items); i++ {
		name, pieces := parted(o, items[i:])
		if pieces == 0 {
			rest = append(rest, items[i])
			continue
		}
		out.Errorf(diag.UnknownFeature, items[i].Span, "the comma in %q makes two names of it", name).
			Write = "Put it in quotes: " + strconv.Quote(name) + "."
		i, whole = i+pieces-1, false
	}
	return rest, whole
}

// parted is the known name that the first items of a list are pieces of, and how many they are; 0 if none.
func parted(o *vocab.Observable, items []*syntax.Node) (name string, pieces int) {
	for i, item := range items {
		if name += item.Text; i > 0 {
			if _, known := o.Outcome(vocab.Fold(name)); known {
				return name, i + 1
			}
		}
		name += ", "
	}
	return "", 0
}

// placedAt is a line that was read by its place, and where that is written.
type placedAt struct {
	line Line
	at   *syntax.Node
}

// readPlaces finds what lies at the places that were read; one that is written twice is one.
func readPlaces(r *Reading, all []placedAt, out *diag.List) bool {
	o := r.Observable
	places := english.Each(all, func(p placedAt) float64 { return p.line.At })
	slices.Sort(places)
	places = slices.Compact(places)
	near := o.Near(places)
	ok := true
	for _, p := range all {
		at, _ := slices.BinarySearch(places, p.line.At)
		if near[at].Empty() {
			nothingThere(o, p, out)
			ok = false
			continue
		}
		p.line.Features = near[at]
		if only := p.line.Only(); only >= 0 && o.Outcomes[only].AllRead(places) {
			r.Seen.Add(only)
		}
		r.Lines = append(r.Lines, p.line)
	}
	return ok
}

// nothingThere says that nothing is listed at a place, and what lies nearest.
func nothingThere(o *vocab.Observable, p placedAt, out *diag.List) {
	d := out.Errorf(diag.UnknownFeature, p.at.Span, "%s lists nothing that is read at %s%s",
		diag.Name(o.Name), strconv.FormatFloat(p.line.At, 'f', -1, 64), unit(o))
	far := func(c vocab.Outcome) float64 {
		least := math.Inf(1)
		for _, at := range c.At {
			least = min(least, math.Abs(at-p.line.At))
		}
		return least
	}
	nearest := slices.MinFunc(o.Outcomes, func(a, b vocab.Outcome) int { return cmp.Compare(far(a), far(b)) })
	d.Detail = "What no sheet knows is written into the reading's note."
	if far(nearest) < 10*nearest.Within {
		d.Detail = "The nearest is " + nearest.Name + ". " + d.Detail
	}
}

var placeForm = regexp.MustCompile(`^[0-9]+(\.[0-9]+)?$`)

// place reads where a feature lies: "452", "452 nm".
func place(o *vocab.Observable, text string) (float64, bool) {
	if !o.Placed() {
		return 0, false
	}
	text = strings.TrimSpace(strings.TrimSuffix(text, vocab.Fold(o.Unit)))
	if !placeForm.MatchString(text) {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil
}

// cutStrength takes off what is said of the strength behind a feature: "653 nm strong", "line at 653 nm, strong".
func cutStrength(o *vocab.Observable, text string) (rest string, strength int) {
	if _, whole := o.Outcome(text); whole {
		return text, NoStrength
	}
	for i, s := range o.Strengths {
		if rest, ok := strings.CutSuffix(text, " "+s); ok {
			return strings.TrimSuffix(strings.TrimSpace(rest), ","), i
		}
	}
	return text, NoStrength
}

// unknownStrength says so where a feature has a word behind it that is no strength.
func unknownStrength(o *vocab.Observable, text string, item *syntax.Node, out *diag.List) bool {
	at := strings.LastIndexByte(text, ' ')
	if at < 0 || len(o.Strengths) == 0 {
		return false
	}
	rest, word := strings.TrimSuffix(text[:at], ","), text[at+1:]
	_, named := o.Outcome(rest)
	if _, placed := place(o, rest); !named && !placed {
		return false
	}
	d := out.Errorf(diag.UnknownFeature, item.Span, "%q is no strength of %s", word, diag.Name(o.Name))
	d.Nearest, d.Detail = diag.Nearest(word, o.Strengths), "It has: "+strings.Join(o.Strengths, ", ")+"."
	return true
}

// settleLines keeps one line of each that say the same, with the fainter of two strengths, and none that follows from
// what else was seen: a line that may be one of several says nothing beside one of them. What it may be was not looked
// for in vain.
func (r *Reading) settleLines() {
	slices.SortStableFunc(r.Lines, compareLines)
	var kept []Line
	for _, l := range r.Lines {
		if n := len(kept); n > 0 && kept[n-1].Features == l.Features {
			last := &kept[n-1]
			if last.Strength == NoStrength || l.Strength != NoStrength && l.Strength < last.Strength {
				last.Strength = l.Strength
			}
			continue
		}
		kept = append(kept, l)
	}
	r.LookedFor.Union(r.Seen)
	r.Lines = nil
	for _, l := range kept {
		fewer := func(o Line) bool { return o.Features != l.Features && within(o.Features, l.Features) }
		switch {
		case r.Sure(&l) && l.Strength != NoStrength:
			r.Lines = append(r.Lines, l)
		case !l.Features.Meets(r.Seen) && !slices.ContainsFunc(kept, fewer):
			r.Lines = append(r.Lines, l)
			r.LookedFor.Minus(l.Features)
		}
	}
}

// within tells whether all of a is in b.
func within(a, b vocab.Set) bool {
	a.Minus(b)
	return a.Empty()
}

func compareLines(a, b Line) int {
	return cmp.Or(slices.Compare(a.Features.Words[:], b.Features.Words[:]), cmp.Compare(a.At, b.At),
		cmp.Compare(a.Strength, b.Strength))
}
