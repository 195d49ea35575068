package load

import "testing"

// TestUnreadSays: a word stands in a text that was not read where it stands by itself, whatever bytes stand around it or
// in it.
func TestUnreadSays(t *testing.T) {
	u := unread{"rules:\n  - id: doubled-edges\xff\n", "a+b (c) near-miss knife-edge, edge"}
	for word, is := range map[string]bool{"doubled-edges": true, "edges": false, "doubled": false, "id": true, "d": false,
		"a+b": true, "(c)": true, ".": false, "near": false, "near-miss": true, "": false, "a\nb": false,
		"doubled-edges\xff": true, "edge": true, "knife": false, "e": false, "s": false} {
		if u.says(word) != is {
			t.Errorf("%q: %v", word, !is)
		}
	}
}
