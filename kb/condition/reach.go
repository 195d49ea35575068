package condition

import "math"

// CanBe tells whether a comparison that does arithmetic can hold, or can fail, as far as that is known of it whatever
// is read: no more features are counted than there are. Other leaves can be both.
func (l *Leaf) CanBe(holds bool) bool {
	if l.Arith == nil {
		return true
	}
	lo, hi := l.Arith.reach()
	switch {
	case l.Kind == SignBelow && holds:
		return lo < 0
	case l.Kind == SignBelow:
		return hi >= 0
	case holds:
		return lo <= 0
	}
	return hi > 0
}

// reach is between what the arithmetic can come to.
func (a *Arith) reach() (lo, hi float64) {
	switch a.Fn {
	case "":
		return a.Num, a.Num
	case "count":
		return 0, float64(len(a.Set.Members()))
	case "neg":
		lo, hi = a.Args[0].reach()
		return -hi, -lo
	case "+", "-", "min", "max":
		l, h := a.Args[0].reach()
		m, n := a.Args[1].reach()
		switch a.Fn {
		case "+":
			return l + m, h + n
		case "-":
			return l - n, h - m
		case "min":
			return math.Min(l, m), math.Min(h, n)
		}
		return math.Max(l, m), math.Max(h, n)
	case "abs":
		lo, hi = a.Args[0].reach()
		return math.Max(0, math.Max(lo, -hi)), math.Max(math.Abs(lo), math.Abs(hi))
	}
	return math.Inf(-1), math.Inf(1)
}
