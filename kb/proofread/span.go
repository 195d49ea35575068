package proofread

import "slices"

// span is a run of places, the last not in it; spans are such runs, rising and apart.
type (
	span  struct{ from, to int }
	spans []span
)

// run is a single span; none where it has no places.
func run(from, to int) spans {
	if from >= to {
		return nil
	}
	return spans{{from, to}}
}

// and is what lies in both.
func (a spans) and(b spans) (out spans) {
	for i, j := 0, 0; i < len(a) && j < len(b); {
		out = append(out, run(max(a[i].from, b[j].from), min(a[i].to, b[j].to))...)
		if a[i].to < b[j].to {
			i++
		} else {
			j++
		}
	}
	return out
}

// meets tells whether some place lies in both.
func (a spans) meets(b spans) bool {
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i].to <= b[j].from:
			i++
		case b[j].to <= a[i].from:
			j++
		default:
			return true
		}
	}
	return false
}

// or is what lies in one of them.
func (a spans) or(b spans) spans { return union(slices.Concat(a, b)) }

// union is what lies in one of some spans, in any order.
func union(all []span) (out spans) {
	slices.SortFunc(all, func(x, y span) int { return x.from - y.from })
	for _, s := range all {
		if n := len(out); n > 0 && s.from <= out[n-1].to {
			out[n-1].to = max(out[n-1].to, s.to)
			continue
		}
		out = append(out, s)
	}
	return out
}

// not is what lies outside, of places up to a size.
func (a spans) not(size int) (out spans) {
	from := 0
	for _, s := range a {
		out = append(out, run(from, s.from)...)
		from = s.to
	}
	return append(out, run(from, size)...)
}

// within tells whether all of a lies in b.
func (a spans) within(b spans) bool {
	j := 0
	for _, s := range a {
		for j < len(b) && b[j].to <= s.from {
			j++
		}
		if j == len(b) || s.from < b[j].from || s.to > b[j].to {
			return false
		}
	}
	return true
}

// members lists the places.
func (a spans) members() (out []int) {
	for _, s := range a {
		for i := s.from; i < s.to; i++ {
			out = append(out, i)
		}
	}
	return out
}
