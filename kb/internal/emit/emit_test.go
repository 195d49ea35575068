package emit

import (
	"testing"

	"whystone/kb/diag"
	"whystone/kb/doc"
)

// TestText: what is written is read back as the same, and can be told from what looks like it.
func TestText(t *testing.T) {
	text := `{a: 1.50, "b": "1.50", c: [true, "true", null, ~, no way, "é\"\\\n\U0001F48E"], "yes": diamond range}`
	plain := func() bool { return true }
	tests := map[string]struct {
		e    Emitter
		want string
	}{
		"JSON":   {Emitter{}, `{"a": 1.50, "b": "1.50", "c": [true, "true", null, null, "no way", "é\"\\\u000A💎"], "yes": "diamond range"}`},
		"YAML":   {Emitter{YAML: true, Plain: plain}, `{a: 1.50, b: "1.50", c: [true, "true", null, null, no way, "\U000000E9\"\\\u000A\U0001F48E"], "yes": diamond range}`},
		"turned": {Emitter{Keys: func(e []doc.Entry) []doc.Entry { return []doc.Entry{e[1]} }}, `{"b": "1.50"}`},
	}
	for name, tt := range tests {
		var out diag.List
		n := doc.ParseYAML(diag.NewSource("f", []byte(text)), &out)[0]
		if got := tt.e.Text(n); got != tt.want || len(out) > 0 {
			t.Errorf("%s: %s\nwant %s\n%v", name, got, tt.want, out)
		}
		again := doc.ParseYAML(diag.NewSource("f", []byte(tt.want)), &out)
		if len(again) != 1 || len(out) > 0 || name != "turned" && (Emitter{}).Text(again[0]) != (Emitter{}).Text(n) {
			t.Errorf("%s is read back as something else: %v", name, out)
		}
	}
}
