package quantity

import "sync"

// What a function is asked for is handed to it as a slice, which therefore lives on the heap: the memory of it is used
// again.

var rooms = sync.Pool{New: func() any { return new([32]float64) }}

// room is memory for n numbers, all 0, until its owner is left.
func room(n int) (x []float64, owner *[32]float64) {
	if n > len(owner) {
		return make([]float64, n), nil
	}
	owner, _ = rooms.Get().(*[32]float64)
	clear(owner[:n])
	return owner[:n:n], owner
}

func leave(owner *[32]float64) {
	if owner != nil {
		rooms.Put(owner)
	}
}
