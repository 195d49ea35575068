package syntax

import (
	"testing"

	"pgregory.net/rapid"
)

// TestVerbatim: what is taken to stand between its quotes just as it reads is what walking it by YAML's rules finds.
func TestVerbatim(t *testing.T) {
	words := rapid.StringOfN(rapid.SampledFrom([]rune("a '\"\\\n\r")), 0, 5, -1)
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		quote := rapid.SampledFrom([]byte(`'"`)).Draw(t, "quote")
		want := words.Draw(t, "want")
		text := []byte(string(quote) + want + string(quote) + words.Draw(t, "behind"))
		if !verbatim(text, want, quote) {
			return
		}
		found++
		m := &mapper{src: text, want: want}
		if !m.quoted(quote) || !m.done() || m.at+1 != len(want)+2 {
			t.Fatalf("%s is taken to be %q", text, want)
		}
	})
	if found == 0 {
		t.Error("nothing was taken so")
	}
}
