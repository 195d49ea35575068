package condition

import (
	"slices"
	"strings"
	"testing"

	"github.com/expr-lang/expr/builtin"

	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// TestLimits: what lies at a limit is accepted, what lies one beyond it is refused, with its code and place.
func TestLimits(t *testing.T) {
	scope := deskScope()
	rep := strings.Repeat
	words := func(n int) string { return `claim in ["a"` + rep(`, "a"`, n-1) + "]" }
	tests := []struct{ name, text, code, span string }{
		{"length", "ri > 1" + rep(" ", MaxBytes-6), "", ""},
		{"length + 1", "ri > 1" + rep(" ", MaxBytes-5), "too-long", "ri > 1"},
		{"depth", rep("(", MaxDepth) + "ri > 1" + rep(")", MaxDepth), "", ""},
		{"depth + 1", rep("(", MaxDepth+1) + "ri > 1" + rep(")", MaxDepth+1), "too-deep", "("},
		{"brackets in a text", `claim == "` + rep("([{", 100) + `"`, "", ""},
		{"brackets in a raw text", "claim == `" + rep("(", 100) + "`", "", ""},
		{"brackets in a comment", "ri > 1 // " + rep("(", 100), "", ""},
		{"brackets behind a closed comment", "/*)))*/" + rep("(", MaxDepth+1), "too-deep", "("},
		{"brackets behind an escaped quote", `claim == "\"` + rep(")", 70) + `" and ` + rep("(", MaxDepth+1),
			"too-deep", "("},
		{"unary operators", rep("not ", MaxUnary) + "high_index", "", ""},
		{"unary operators + 1", rep("not ", MaxUnary+1) + "high_index", "too-deep", "t"},
		{"signs + 1", "1 < " + rep("-", MaxUnary+1) + "ri", "too-deep", "-"},
		{"marks and words mixed", rep("! not\n", MaxUnary/2) + "!high_index", "too-deep", "!"},
		{"signs parted by comments", "1 < " + rep("-/* x */", MaxUnary+1) + "ri", "too-deep", "-"},
		{"dashes in a text", `claim == "` + rep("-", 40) + `"`, "", ""},
		{"names that begin with not", "seen(" + rep("not", 9) + ")", "unknown-name", rep("not", 9)},
		{"parts", words(MaxNodes - 3), "", ""},
		{"parts + 1", words(MaxNodes - 2), "too-long", "]"},
		{"pattern", "claim matches `" + rep("a", MaxPattern) + "`", "", ""},
		{"pattern + 1", "claim matches `" + rep("a", MaxPattern+1) + "`", "too-long", "`" + rep("a", 20)},
		{"steps", "claim matches `(a{900})`", "", ""},
		{"steps + 1", "claim matches `a{1000}b{1000}`", "too-long", "`a{1000}b{1000}`"},
		{"empty", "", "bad-syntax", ""},
		{"blank", " \n\t ", "bad-syntax", " \n\t "},
		{"NUL", "ri > 1\x00", "bad-encoding", "ri"},
		{"half a letter", "claim == \"\xc3\"", "bad-encoding", "claim"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, out := compileFor(scope, tt.text)
			if (tt.code == "") != (c != nil) || (tt.code == "") != (len(out) == 0) {
				t.Fatalf("compiled %t, refusals %v", c != nil, out)
			}
			if tt.code == "" {
				return
			}
			if string(out[0].Code) != tt.code || !strings.HasPrefix(out[0].Span.Text(), tt.span) {
				t.Errorf("refused as %s at %q", out[0].Code, out[0].Span.Text())
			}
		})
	}
}

// TestSignificant: what stands in quotes or comments is blotted out, and nothing moves.
func TestSignificant(t *testing.T) {
	for text, want := range map[string]string{
		`a == "(b)" and (c)`:  `a == xxxxx and (c)`,
		`a == '\'(' or b`:     `a == xxxxx or b`,
		"a == `\\` or (b)":    "a == xxx or (b)",
		"a // (b\n and (c)":   "a        and (c)",
		"a /* ( \" */ and b":  "a           and b",
		`a == "b`:             `a == xx`,
		`a == "/*" and (b)`:   `a == xxxx and (b)`,
		"a /* b":              "a     ",
		`a / b`:               `a / b`,
		`a == "é(" or ("ö")`:  `a == xxxxx or (xxxx)`,
		`a == "x" // "y" (`:   `a == xxx         `,
		"a == 'x\\\\' or (b)": "a == xxxxx or (b)",
	} {
		if got := significant(text); got != want || len(got) != len(text) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// TestReserved: no name that an observable may bear is read by expr as anything but a name. Those words that it does
// read otherwise are the reserved ones.
func TestReserved(t *testing.T) {
	if !slices.IsSorted(reserved) {
		t.Error("the words are not sorted")
	}
	names := []string{"len", "map", "acc", "index", "date", "type", "string", "float", "one", "first", "env", "if_dry",
		"not_read", "in_water"}
	for _, f := range builtin.Builtins {
		if strings.ToLower(f.Name) == f.Name {
			names = append(names, f.Name)
		}
	}
	for _, name := range names {
		if Reserved(name) {
			continue
		}
		scope := NewScope([]Symbol{{Name: name, Kind: vocab.Quantity, Observable: &vocab.Observable{Name: name}},
			{Name: name + "_too", Kind: vocab.Truth}})
		for _, text := range []string{name + " > 1", "seen(" + name + ")",
			"not unclear(" + name + ") and " + name + "_too", "abs(" + name + ") + 1 < min(" + name + ", 2)"} {
			if c, out := compileFor(scope, text); c == nil {
				t.Errorf("%s: %v", text, out)
			}
		}
	}
}

// TestCodes: every refusal bears a code of the table.
func TestCodes(t *testing.T) {
	for _, c := range readConformance(t) {
		for _, r := range c.refusals {
			if code, _, _ := strings.Cut(r, " @"); !diag.Known(diag.Code(code)) {
				t.Errorf("line %d: %s is not in the table of codes", c.line, code)
			}
		}
	}
}
