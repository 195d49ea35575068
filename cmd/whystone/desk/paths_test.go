package desk

import (
	"strings"
	"testing"
)

// examples are paths for the patterns whose parts are not fixed.
var examples = map[string]string{}

// pathOf is a path of a route.
func pathOf(t *testing.T, rt route) string {
	t.Helper()
	path, ok := examples[rt.Pattern]
	if !ok {
		path = rt.Pattern
	}
	if path = strings.TrimSuffix(path, "{$}"); strings.Contains(path, "{") {
		t.Fatalf("there is no example of %s", rt.Pattern)
	}
	return path
}
