package casebook_test

import (
	"os"
	"path/filepath"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/load"
)

// loadDesk loads the commands' small ruleset.
func loadDesk(t testing.TB) *kb.Ruleset {
	t.Helper()
	rs, found := load.Load(ctx, []load.Layer{{Name: "desk", FS: os.DirFS(filepath.Join("..", "testdata", "desk"))}})
	if rs == nil {
		t.Fatal(found)
	}
	return rs
}

func outputOf(rs *kb.Ruleset) *engine.Output {
	return &engine.Output{Ruleset: rs.Digest, Method: rs.Method, Verdict: "inconclusive"}
}
