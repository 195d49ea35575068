package desk

import (
	"strings"
	"testing"
)

// parts are what stands in the place of a part of a pattern that is not fixed.
var parts = map[string]string{"{$}": "", "/materials/{id}": "/materials/diamond", "/tests/{id}": "/tests/refractometer",
	"/rules/{id}": "/rules/doubled-edges-two-rays", "{name}": "nobody", "{replay}": "1", "{seq}": "1", "{place}": "1"}

// pathOf is a path of a route; number is that of a case.
func pathOf(t *testing.T, rt route, number string) string {
	t.Helper()
	path := strings.ReplaceAll(rt.Pattern, "{number}", number)
	for part, with := range parts {
		path = strings.ReplaceAll(path, part, with)
	}
	if strings.Contains(path, "{") {
		t.Fatalf("there is no example of %s", rt.Pattern)
	}
	return path
}
