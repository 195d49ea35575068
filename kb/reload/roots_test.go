package reload

import (
	"os"
	"path/filepath"
	"testing"
)

// In all of these only notifications can bring a change: nothing is looked at without one for an hour.

func TestRootRenamedAwayAndBack(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	first := r.Current()
	away := filepath.Join(r.parent, "away")
	r.must(os.Rename(r.root, away))
	r.staleWith("the layer house can't be read")
	if r.Current() != first {
		t.Fatal("a lost root took a ruleset's place")
	}
	r.must(os.Rename(away, r.root))
	r.becomes("a=first")
	if r.Current() != first {
		t.Error("the old bytes made another snapshot")
	}
	r.write("a.yaml", rule("a", "second"))
	r.becomes("a=second")
}

func TestRootReplaced(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	for _, says := range []string{"second", "third"} {
		r.must(os.Rename(r.root, filepath.Join(r.parent, "before-"+says)))
		r.write("a.yaml", rule("a", says))
		r.becomes("a=" + says)
	}
	r.save("a.yaml", rule("a", "fourth"))
	r.becomes("a=fourth")
}

func TestParentRenamedAwayAndBack(t *testing.T) {
	r := newRig(t)
	r.root = filepath.Join(r.parent, "upper", "lower", "house")
	r.write("a.yaml", rule("a", "first"))
	r.start(slow(), openNotifier)
	r.must(os.Rename(filepath.Join(r.parent, "upper", "lower"), filepath.Join(r.parent, "upper", "away")))
	r.staleWith("the layer house can't be read")
	r.must(os.Rename(filepath.Join(r.parent, "upper", "away"), filepath.Join(r.parent, "upper", "lower")))
	r.becomes("a=first")
	r.write("a.yaml", rule("a", "second"))
	r.becomes("a=second")
}

// link points a name at a target, over what had the name.
func (r *rig) link(target, name string) {
	r.t.Helper()
	r.must(os.Symlink(target, name+".new"))
	r.must(os.Rename(name+".new", name))
}

func TestSymlinkedRoot(t *testing.T) {
	r := newRig(t)
	one, two := filepath.Join(r.parent, "deep", "one"), filepath.Join(r.parent, "other", "two")
	r.must(os.MkdirAll(filepath.Dir(one), 0o755))
	r.must(os.MkdirAll(filepath.Dir(two), 0o755))
	r.must(os.Rename(r.root, one))
	r.link(filepath.Join("deep", "one"), r.root) // relative
	r.start(slow(), openNotifier)
	r.save("a.yaml", rule("a", "second")) // through the link
	r.becomes("a=second")

	r.must(os.CopyFS(two, os.DirFS(one)))
	r.must(os.WriteFile(filepath.Join(two, "a.yaml"), []byte(rule("a", "third")), 0o644))
	r.link(two, r.root)
	r.becomes("a=third")
	r.must(os.WriteFile(filepath.Join(two, "a.yaml"), []byte(rule("a", "fourth")), 0o644)) // behind it
	r.becomes("a=fourth")

	r.must(os.Rename(two, two+"-away")) // the link stays
	r.staleWith("the layer house can't be read")
	r.must(os.Rename(two+"-away", two))
	r.becomes("a=fourth")
}

func TestSymlinkOnTheWayToTheRoot(t *testing.T) {
	r := newRig(t)
	release := func(name string) string { return filepath.Join(r.parent, "releases", name) }
	for _, name := range []string{"1", "2"} {
		r.root = filepath.Join(release(name), "house")
		r.write("a.yaml", rule("a", "release "+name))
	}
	current := filepath.Join(r.parent, "current")
	r.link(release("1"), current)
	r.root = filepath.Join(current, "house")
	r.start(slow(), openNotifier)
	r.link(release("2"), current)
	r.becomes("a=release 2")
	r.save("a.yaml", rule("a", "edited"))
	r.becomes("a=edited")
}

// TestMountedConfiguration is how clusters mount files: names that are links into a hidden folder, by way of one link
// that is swapped. No notification names a rule file.
func TestMountedConfiguration(t *testing.T) {
	r := newRig(t)
	r.write("..1/a.yaml", rule("a", "first"))
	r.write("..2/a.yaml", rule("a", "second"))
	r.write("..3/a.yaml", broken)
	r.link("..1", r.path("..data"))
	r.link(filepath.Join("..data", "a.yaml"), r.path("a.yaml"))
	r.start(slow(), openNotifier)
	r.link("..2", r.path("..data"))
	r.becomes("a=second")
	r.link("..3", r.path("..data"))
	r.staleWith(brokenAt)
	r.link("..2", r.path("..data"))
	r.becomes("a=second")
}

func TestAFileThatIsALink(t *testing.T) {
	r := newRig(t)
	outside := filepath.Join(r.parent, "elsewhere", "rules.txt")
	r.must(os.MkdirAll(filepath.Dir(outside), 0o755))
	r.must(os.WriteFile(outside, []byte(rule("b", "first")), 0o644))
	r.link(outside, r.path("b.yaml"))
	r.start(slow(), openNotifier)
	r.must(os.WriteFile(outside, []byte(rule("b", "second")), 0o644))
	r.becomes("a=first b=second")
	r.must(os.WriteFile(outside+"~", []byte(rule("b", "third")), 0o644))
	r.must(os.Rename(outside+"~", outside))
	r.becomes("a=first b=third")
}
