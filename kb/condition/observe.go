package condition

import "whystone/kb/logic"

// Observer evaluates a condition with its exception ("if" and not "unless") part by part, and tells of each part what
// came of it and whether it mattered. It is for looking on: a [Program] gives the same truth, faster. One goroutine
// uses it at a time.
type Observer struct {
	Parts []Observed // of the condition in the order of its text, then of the exception
	root  watched
}

// Observed is a part of a condition that was written as one test (a comparison, near(...), any(...), a choice, a
// feature, seen(...), a fact), and what came of it in the last evaluation.
type Observed struct {
	Node      *Node
	Exception bool // it stands in the exception
	Truth     logic.Value
	// Decides tells that it is decided, and that were it undecided the truth of the whole would be another.
	Decides bool
	Err     error // why it could not be evaluated; it is undecided then
}

// watched is a node of the whole that is made of parts.
type watched struct {
	op    Op
	part  int // of Leafed: the place in Parts
	kids  []watched
	value logic.Value
}

// Observe makes an observer. Without a condition the rule always holds, without an exception nothing excepts it.
func Observe(condition, exception *Condition) *Observer {
	o := &Observer{root: watched{op: And}}
	if condition != nil {
		o.root.kids = append(o.root.kids, o.watch(condition.Root, false))
	}
	if exception != nil {
		o.root.kids = append(o.root.kids, watched{op: Not, kids: []watched{o.watch(exception.Root, true)}})
	}
	return o
}

func (o *Observer) watch(n *Node, exception bool) watched {
	if n.oneTest() {
		o.Parts = append(o.Parts, Observed{Node: n, Exception: exception})
		return watched{op: Leafed, part: len(o.Parts) - 1}
	}
	w := watched{op: n.Op, value: logic.Of(n.Value)}
	for _, test := range n.Tests() {
		k := test[0]
		if len(test) > 1 {
			k = &Node{Op: n.Op, Kids: test, Start: k.Start, End: k.End}
		}
		w.kids = append(w.kids, o.watch(k, exception))
	}
	return w
}

// oneTest tells whether a tree was written as one test: it has leaves, and all its nodes stand for the same text.
func (n *Node) oneTest() bool {
	leaves := 0
	var same func(k *Node) bool
	same = func(k *Node) bool {
		if k.Op == Leafed {
			leaves++
		}
		for _, kid := range k.Kids {
			if !same(kid) {
				return false
			}
		}
		return k.Start == n.Start && k.End == n.End
	}
	return same(n) && leaves > 0
}

// Evaluate looks at a case. The error is that of a part which could not be evaluated and on which the truth rests.
func (o *Observer) Evaluate(s *State) (logic.Value, error) {
	v := o.evaluate(&o.root, s)
	o.decide(&o.root, true)
	return v, o.fault(&o.root)
}

func (o *Observer) evaluate(w *watched, s *State) logic.Value {
	switch w.op {
	case Leafed:
		p := &o.Parts[w.part]
		p.Decides = false
		p.Truth, p.Err = s.tree(p.Node)
		w.value = p.Truth
	case Not:
		w.value = logic.Not(o.evaluate(&w.kids[0], s))
	case And, Or:
		w.value = neutral(w.op)
		for i := range w.kids {
			w.value = join(w.op, w.value, o.evaluate(&w.kids[i], s))
		}
	}
	return w.value
}

// decide finds the parts that matter. Whatever turns undecided makes what stands above it undecided or leaves it alone,
// so that a part matters when on the way up no other part settles the matter by itself: one that fails in an "and", one
// that holds in an "or".
func (o *Observer) decide(w *watched, matters bool) {
	if matters = matters && w.value != logic.Undecided; !matters {
		return
	}
	switch w.op {
	case Leafed:
		o.Parts[w.part].Decides = true
	case Not:
		o.decide(&w.kids[0], true)
	case And, Or:
		settles := logic.Not(neutral(w.op))
		settled := 0
		for i := range w.kids {
			if w.kids[i].value == settles {
				settled++
			}
		}
		for i := range w.kids {
			o.decide(&w.kids[i], settled == 0 || settled == 1 && w.kids[i].value == settles)
		}
	}
}

// fault is the error of an undecided part that makes w undecided.
func (o *Observer) fault(w *watched) error {
	if w.value != logic.Undecided {
		return nil
	}
	if w.op == Leafed {
		return o.Parts[w.part].Err
	}
	for i := range w.kids {
		if err := o.fault(&w.kids[i]); err != nil {
			return err
		}
	}
	return nil
}

// neutral is the truth of "and" and "or" of nothing.
func neutral(op Op) logic.Value { return logic.Of(op == And) }

func join(op Op, a, b logic.Value) logic.Value {
	if op == And {
		return logic.And(a, b)
	}
	return logic.Or(a, b)
}

// tree evaluates what was written as one test.
func (s *State) tree(n *Node) (v logic.Value, err error) {
	switch n.Op {
	case Always:
		return logic.Of(n.Value), nil
	case Leafed:
		return s.leaf(n.Leaf)
	case Not:
		v, err = s.tree(n.Kids[0])
		return logic.Not(v), err
	}
	v = neutral(n.Op)
	for _, k := range n.Kids {
		is, failed := s.tree(k)
		if v = join(n.Op, v, is); failed != nil && err == nil {
			err = failed
		}
	}
	return v, err
}
