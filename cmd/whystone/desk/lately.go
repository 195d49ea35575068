package desk

import (
	"slices"
	"sync"
)

// lately is the last of what there was, the oldest first.
type lately[T any] struct {
	mu   sync.Mutex
	list []*T
}

// add adds one, and keeps no more than most; unless it is barred by the last, which is nil where there is none: that
// one comes back then.
func (l *lately[T]) add(x *T, most int, bars func(last *T) bool) (by *T) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var last *T
	if len(l.list) > 0 {
		last = l.list[len(l.list)-1]
	}
	if bars(last) {
		return last
	}
	if l.list = append(l.list, x); len(l.list) > most {
		l.list = l.list[1:]
	}
	return nil
}

// all are those that are kept.
func (l *lately[T]) all() []*T {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.list)
}

// find finds one, or nil.
func (l *lately[T]) find(is func(*T) bool) *T {
	all := l.all()
	if i := slices.IndexFunc(all, is); i >= 0 {
		return all[i]
	}
	return nil
}
