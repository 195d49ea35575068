package sat

import "testing"

// TestBound: searches together come to an end, and what is not found by then is told as unknown, never as no.
func TestBound(t *testing.T) {
	rs := fixed(t, "  - {rule: a, says: s, source: s, if: glow > 2, cautions: x}\n")
	s := NewSpace(rs)
	hard := pigeons(s, 5)
	if _, answer := s.Satisfy(hard, AnyReading); answer != No {
		t.Fatalf("without a bound: %d", answer)
	}
	s.Bound(50, nil)
	if _, answer := s.Satisfy(hard, AnyReading); answer != Unknown {
		t.Errorf("beyond the bound: %d", answer)
	}
	if _, answer := s.Satisfy(hard, AnyReading); answer != Unknown {
		t.Errorf("a second time: %d", answer)
	}
	s.Bound(1<<30, func() bool { return true })
	if _, answer := s.Satisfy(hard, AnyReading); answer != Unknown {
		t.Errorf("stopped: %d", answer)
	}
	s.Bound(1<<30, func() bool { return false })
	if _, answer := s.Satisfy(hard, AnyReading); answer != No {
		t.Errorf("with room enough: %d", answer)
	}
}
