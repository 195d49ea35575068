package reload

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
)

// patience is how long a test waits for what must come. Nothing waits for it to pass.
const patience = 20 * time.Second

const base = `format: 1
policy:
  time_zone: UTC
  currency: EUR
  wording: iso-18323
  frequency: {always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3}
  scale: [{from: 1, says: weak}]
  seen_at_counter: {common: 30}
  required: [{stake: 0, share: 0.95, doubt_limit: 0.15}]
materials:
  - group: stones
    name: stones
    nameable: false
  - material: pebble
    under: stones
    name: pebble
    origin: natural
    seen_at_counter: common
  - material: bead
    under: stones
    name: bead
    origin: imitation
    seen_at_counter: common
tests:
  - test: look
    name: a look
    procedure: Look at it.
    minutes: 1
    harm: none
    source: invented
    yields:
      finish: {kind: choice, family: look, blunder: 0.05, choices: {matt: {}, glossy: {}}}
`

// rule is a file with one rule.
func rule(id, says string) string {
	return fmt.Sprintf(`format: 1
rules:
  - rule: %s
    says: %s
    if: finish == "matt"
    supports: {materials: [pebble], strength: weak}
    source: invented
    examples: [{readings: {finish: matt}, is: holds}]
`, id, says)
}

// broken has an error in line 5 from column 19 on: the choice in the condition is misspelt.
var broken = strings.Replace(rule("a", "first"), `"matt"`, `"mat"`, 1)

const brokenAt = "house/a.yaml:5:19: error: finish has no outcome \"mat\""

// prepared is what the rig prepares: what each rule says, as id=says, sorted.
type prepared struct{ says string }

// rig is a ruleset of an embedded base and a house's folder, followed.
type rig struct {
	*Live[*prepared]
	t      *testing.T
	parent string // of the house's folder
	root   string // the house's folder

	mu       sync.Mutex
	changes  []*Snapshot[*prepared] // as OnChange was told them
	statuses []Status
	reads    int
	missing  error  // what Layers fails with
	onRead   func() // called before each reading; set before start
}

// slow are options under which nothing but a notification brings a change in a test's lifetime.
func slow() Options[*prepared] {
	return Options[*prepared]{Quiet: 20 * time.Millisecond, Longest: time.Hour, Poll: time.Hour}
}

// newRig writes a house's folder with the rule a=first in a.yaml; the rig is not started yet.
func newRig(t *testing.T) *rig {
	t.Helper()
	parent, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	r := &rig{t: t, parent: parent, root: filepath.Join(parent, "house")}
	r.write("a.yaml", rule("a", "first"))
	return r
}

// start follows the house's folder as it is reached by root.
func (r *rig) start(o Options[*prepared], open opener) *rig {
	r.t.Helper()
	return r.startIn(context.Background(), o, open)
}

func (r *rig) startIn(ctx context.Context, o Options[*prepared], open opener) *rig {
	r.t.Helper()
	o.Layers = r.layers
	o.Folders = []string{r.root}
	if o.Prepare == nil {
		o.Prepare = prepare
	}
	started := make(chan struct{})
	o.OnChange = func(old, now *Snapshot[*prepared]) {
		<-started
		r.mu.Lock()
		defer r.mu.Unlock()
		if old == nil || now.Seq != old.Seq+1 || r.Current() != now {
			r.t.Errorf("told of a change from %+v to %+v", old, now)
		}
		r.changes = append(r.changes, now)
	}
	o.OnStatus = func(s Status) {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.statuses = append(r.statuses, s)
	}
	l, out := start(ctx, o, open)
	if l == nil {
		r.t.Fatal(out)
	}
	r.Live = l
	close(started)
	r.t.Cleanup(func() { l.Close() })
	return r
}

// layers is the embedded base with the house's folder above it.
func (r *rig) layers() ([]load.Layer, error) {
	if r.onRead != nil {
		r.onRead()
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.reads++
	if r.missing != nil {
		return nil, r.missing
	}
	return []load.Layer{
		{Name: "base", FS: fstest.MapFS{"base.yaml": {Data: []byte(base)}}},
		{Name: "house", FS: os.DirFS(r.root)},
	}, nil
}

func prepare(rs *kb.Ruleset) (*prepared, diag.List) {
	out := loadtest.CheckExamples(rs, time.Unix(0, 0))
	var says []string
	for _, rule := range rs.Rules {
		says = append(says, rule.ID+"="+rule.Says)
		if rule.Says == "refuse" {
			out.Errorf("not-allowed", rule.Place.Span, "this rule is refused")
		}
		if rule.Says == "panic" {
			panic("a fault in preparing")
		}
	}
	return &prepared{strings.Join(says, " ")}, out
}

func (r *rig) path(name string) string { return filepath.Join(r.root, filepath.FromSlash(name)) }

// write saves plainly: the file is truncated, then written.
func (r *rig) write(name, text string) {
	r.t.Helper()
	r.must(os.MkdirAll(filepath.Dir(r.path(name)), 0o755))
	r.must(os.WriteFile(r.path(name), []byte(text), 0o644))
}

// save saves as careful editors do: a temporary file beside it, then a rename over it.
func (r *rig) save(name, text string) {
	r.t.Helper()
	r.write(name+"~", text)
	r.must(os.Rename(r.path(name+"~"), r.path(name)))
}

func (r *rig) must(err error) {
	r.t.Helper()
	if err != nil {
		r.t.Fatal(err)
	}
}

// readings is how often the layers were asked for.
func (r *rig) readings() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.reads
}

// loads is what OnChange was told so far, as what each snapshot says.
func (r *rig) loads() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	var out []string
	for _, s := range r.changes {
		out = append(out, s.Prepared.says)
	}
	return out
}

// wait waits until a condition holds.
func (r *rig) wait(what string, holds func() bool) {
	r.t.Helper()
	for end := time.Now().Add(patience); !holds(); {
		if time.Now().After(end) {
			stacks := make([]byte, 1<<16)
			r.t.Fatalf("never: %s\nruns %q, status %+v, readings %d\n%s", what, r.Current().Prepared.says, r.Status(),
				r.readings(), stacks[:runtime.Stack(stacks, true)])
		}
		time.Sleep(time.Millisecond)
	}
}

// becomes waits until what runs says this and nothing is stale.
func (r *rig) becomes(says string) {
	r.t.Helper()
	r.wait("runs "+says, func() bool { return r.Current().Prepared.says == says && !r.Status().Stale })
}

// staleWith waits until the status is stale and its reasons contain a text.
func (r *rig) staleWith(text string) Status {
	r.t.Helper()
	r.wait("stale with "+text, func() bool { s := r.Status(); return s.Stale && strings.Contains(s.Why.Error(), text) })
	return r.Status()
}

func (r *rig) remove(name string) { r.t.Helper(); r.must(os.RemoveAll(r.path(name))) }
