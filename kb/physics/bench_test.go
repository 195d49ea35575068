package physics

import "testing"

func BenchmarkWeighingUncertainty(b *testing.B) {
	for b.Loop() {
		if _, err := WeighingUncertainty(3.52, 1.02, 0.002); err != nil {
			b.Fatal(err)
		}
	}
}
