package casefile

import "testing"

// TestMemoriesShareTheirRoom: what one takes is not there for one beside it, and neither takes more than there was.
func TestMemoriesShareTheirRoom(t *testing.T) {
	one := NewMemory(10*100, 100)
	other := one.Beside(200)
	var taken [2]int
	for range 20 {
		for i, y := range []*Memory{one, other} {
			if y.room() {
				taken[i] += y.each
			}
		}
	}
	if taken != [2]int{400, 600} {
		t.Errorf("%d bytes of 1000 were taken", taken)
	}
}
