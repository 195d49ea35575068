package tidy

import "testing"

// FuzzFile tries on any text what [check] lists: only white space changes, the YAML library reads the same, a tidy text
// stays as it is, the edits make the result.
func FuzzFile(f *testing.F) {
	for _, s := range []string{"", "\uFEFF# c\r\nx:\r\n- é\r\n", "a: |\n  x", "a: |+\n  x\n  ", "a: |+\n\n  ",
		"a: |\n  x\n    \n", "a: >2+\n   x\n \n\n# c\nb: 1", "- |\n      \n  # c\n- x", "{a:, b: }",
		"a: [\n\tb, # c\n {d: e}]", " --- a: 1\n# c\n", " --- a", "a: \"x\\ \n\n  y\\\n z\"",
		"rules:\n- rule: |+\n    a\n- rule: b", "rules:\n- rule: |+ #c\n- rule: b",
		"--- # c\n- - a\n  - \n-\n # x\n-  b: c\n...\n---\n#!d", "a:\n  # c\n # d\nb:\n- c\n# e", "|2\n   a\n",
		"[a: b, {c: d\n}, 'e\n f']", "a:\n  b\n  c # d\n\n\n\n   # e\n", "a: |  # c\n   b\n  # d\n # e\ne: f"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) { check(t, text) })
}
