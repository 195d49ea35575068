package casebook

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// released are the events of the released schemas: every kind of event.
func released(t *testing.T) (out []string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("sqlite", "testdata", "schema-*.jsonl"))
	if err != nil || len(files) == 0 {
		t.Fatal("no released schemas", err)
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for l := range bytes.Lines(text) {
			var x line
			if err := json.Unmarshal(l, &x); err != nil {
				t.Fatal(err)
			}
			if x.Event != nil {
				out = append(out, string(x.Event))
			}
		}
	}
	return out
}

// TestPlainIsWhatTheGeneralReaderReads: the released events are read plainly, and whatever is changed in their text,
// what is read plainly is what encoding/json reads.
func TestPlainIsWhatTheGeneralReaderReads(t *testing.T) {
	all := released(t)
	same := func(text string) (plainly bool, says string) {
		got, ok := plainEvent(text)
		if !ok {
			return false, ""
		}
		want := &Event{}
		if err := json.Unmarshal([]byte(text), want); err != nil || !reflect.DeepEqual(got, want) {
			return true, fmt.Sprintf("%s\nis read as\n%+v\nand is\n%+v, %v", text, got, want, err)
		}
		return true, ""
	}
	for _, text := range all {
		if plainly, says := same(text); !plainly || says != "" {
			t.Errorf("%s: read plainly: %v %s", text, plainly, says)
		}
	}
	pieces := []string{`"`, `\`, "{", "}", "[", "]", ",", ":", "0", "7", "-", ".", "e", "1234567890", "null", "true",
		" ", "\n", "\x00", "\x7f", "\xff", "é", "\u2028", `\u0041`, `"by":"x",`, `"By":"x",`, `"data":{},`, "{}", "[]",
		`""`, "Z", "+01:00", "24", "T", "t"}
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.SampledFrom(all).Draw(rt, "event")
		for range rapid.IntRange(1, 2).Draw(rt, "changes") {
			at := rapid.IntRange(0, len(text)).Draw(rt, "at")
			to := min(len(text), at+rapid.SampledFrom([]int{0, 1, 2, 9, 20}).Draw(rt, "taken out"))
			text = text[:at] + rapid.SampledFrom(pieces).Draw(rt, "put in") + text[to:]
		}
		if _, says := same(text); says != "" {
			rt.Fatal(says)
		}
	})
	kinds := map[Kind]bool{}
	for _, text := range all { // one event of each kind, changed at each place
		e, _ := plainEvent(text)
		if kinds[e.Kind] {
			continue
		}
		kinds[e.Kind] = true
		for i := range text {
			for _, piece := range pieces {
				for _, x := range []string{text[:i] + piece + text[i:], text[:i] + piece + text[i+1:]} {
					if _, says := same(x); says != "" {
						t.Fatal(says)
					}
				}
			}
		}
	}
}
