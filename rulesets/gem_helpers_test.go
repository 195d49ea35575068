package rulesets_test

import (
	"context"
	"errors"
	"os"
	"sync"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/load"
	"whystone/rulesets"
)

// gemLayers are the layers of the gem desk, from their files.
func gemLayers() (out []load.Layer) {
	for _, name := range rulesets.Layers(rulesets.GemDesk) {
		out = append(out, load.Layer{Name: name, FS: os.DirFS(name)})
	}
	return out
}

var gemShipped = sync.OnceValues(func() (*kb.Ruleset, error) {
	rs, found := load.Load(context.Background(), gemLayers())
	if rs == nil {
		return nil, errors.New(found.Error())
	}
	return rs, nil
})

// gemDesk is the gem desk with the diamond desk below it, loaded once.
func gemDesk(t testing.TB) *kb.Ruleset {
	t.Helper()
	rs, err := gemShipped()
	if err != nil {
		t.Fatal(err)
	}
	return rs
}

var gemPrepared = sync.OnceValue(func() *engine.Engine {
	rs, _ := gemShipped()
	return engine.Prepare(rs)
})

func gemJudge(t testing.TB) *engine.Judge {
	t.Helper()
	gemDesk(t)
	return gemPrepared().NewJudge()
}
