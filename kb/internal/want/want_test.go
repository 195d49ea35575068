package want

import (
	"strings"
	"testing"

	"whystone/kb/diag"
)

func TestCheck(t *testing.T) {
	src := diag.NewSource("rules.yaml", []byte("a: 1\nb: riz # want: unknown-name \"riz\" near \"ri\"\nc: {\n  d: 1}\n"))
	at := func(start, end int) diag.Span { return diag.Span{Source: src, Start: start, End: end} }
	riz := diag.Diagnostic{Code: "unknown-name", Nearest: "ri", Span: at(8, 11)}
	tests := []struct {
		name  string
		found diag.List
		says  string
	}{
		{"as wanted", diag.List{riz}, ""},
		{"missing", nil, `missing:    rules.yaml:2: unknown-name "riz" near "ri"`},
		{"twice", diag.List{riz, riz}, `unexpected: rules.yaml:2: unknown-name "riz" near "ri"`},
		{"another code", diag.List{{Code: "bad-id", Nearest: "ri", Span: at(8, 11)}}, "missing"},
		{"another line", diag.List{riz, {Code: "bad-id", Span: at(0, 1)}}, `unexpected: rules.yaml:1: bad-id "a"`},
		{"over lines", diag.List{riz, {Code: "bad-id", Span: at(len(src.Text)-10, len(src.Text)-1)}},
			`unexpected: rules.yaml:3: bad-id "{"`},
		{"no place", diag.List{riz, {Code: "bad-id"}}, `unexpected: no place: bad-id ""`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := strings.Join(Check([]*diag.Source{src}, tt.found), "\n")
			if (tt.says == "") != (got == "") || !strings.Contains(got, tt.says) {
				t.Errorf("it says %q", got)
			}
		})
	}
	if got := Check([]*diag.Source{diag.NewSource("f", []byte("x # want: nonsense"))}, nil); len(got) != 2 {
		t.Errorf("an expectation that can't be read: %q", got)
	}
}
