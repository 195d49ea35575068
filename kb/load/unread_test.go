package load

import "testing"

// TestUnreadSays: a word stands in a text that was not read where it stands by itself, whatever its letters mean in a
// pattern, and whatever bytes stand around it or in it.
func TestUnreadSays(t *testing.T) {
	u := unread{"rules:\n  - id: doubled-edges\xff\n", "a+b (c) near-miss"}
	for word, is := range map[string]bool{"doubled-edges": true, "edges": false, "doubled": false, "id": true, "d": false,
		"a+b": true, "(c)": true, ".": false, "near": false, "near-miss": true, "": false, "a\nb": false,
		"doubled-edges\xff": false, "\xff": false} {
		if u.says(word) != is {
			t.Errorf("%q: %v", word, !is)
		}
	}
}
