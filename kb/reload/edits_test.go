package reload

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"whystone/kb/load"
)

// The ways in which files are saved are those of common editors and deployment tools: common practice.

func TestPlainWrite(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	first := r.Current()
	if first.Seq != 1 || first.Prepared.says != "a=first" || first.Loaded.IsZero() {
		t.Fatalf("first snapshot %+v", first)
	}
	r.write("a.yaml", rule("a", "second"))
	r.becomes("a=second")
	now, s := r.Current(), r.Status()
	if now.Seq != 2 || s.Seq != 2 || s.Digest != now.Ruleset.Digest || s.Digest == first.Ruleset.Digest ||
		!s.Loaded.Equal(now.Loaded) {
		t.Errorf("snapshot %+v, status %+v", now, s)
	}
	if first.Prepared.says != "a=first" {
		t.Error("a snapshot changed")
	}
}

func TestSavesByRename(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	for _, says := range []string{"second", "third", "fourth"} { // a watch on the file would end with the first
		r.save("a.yaml", rule("a", says))
		r.becomes("a=" + says)
	}
}

// TestSaveByBackup is an editor that moves the old file aside and writes a new one under the name.
func TestSaveByBackup(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	r.must(os.Rename(r.path("a.yaml"), r.path("a.yaml~")))
	r.write("a.yaml", rule("a", "second"))
	r.becomes("a=second")
}

func TestWriteThroughAnEmptyFile(t *testing.T) {
	r := newRig(t)
	r.write("b.yaml", rule("b", "stays"))
	r.start(slow(), openNotifier)
	first, before := r.Current(), r.readings()
	r.write("b.yaml", "")
	r.wait("the empty file was read three times", func() bool { return r.readings() >= before+3 })
	if r.Current() != first || r.Status().Stale {
		t.Fatal("an empty file on the way to being written was loaded")
	}
	r.write("b.yaml", rule("b", "changed"))
	r.becomes("a=first b=changed")
	if got := r.loads(); len(got) != 1 {
		t.Errorf("loads %q", got)
	}
}

// TestAFileLeftEmpty: nobody empties a file to take its rules away, so that the last good ruleset goes on and it is
// told. A file that is taken away takes its rules with it, and that is told, too.
func TestAFileLeftEmpty(t *testing.T) {
	r := newRig(t)
	r.write("b.yaml", rule("b", "goes"))
	o := slow()
	o.Longest = 100 * time.Millisecond
	r.start(o, openNotifier)
	r.write("b.yaml", " \n")
	r.staleWith("house/b.yaml:1:1: error: the file holds nothing, and held sheets until now")
	if r.Current().Seq != 1 {
		t.Error("what it held is gone")
	}
	r.write("b.yaml", rule("b", "back"))
	r.becomes("a=first b=back")
	if found := r.Current().Findings; len(found) > 0 {
		t.Error(found)
	}
	r.must(os.Rename(r.path("b.yaml"), r.path("c.yaml"))) // what it said stands elsewhere
	r.wait("the new name", func() bool { return r.Current().Seq == 3 })
	if found := r.Current().Findings; len(found) > 0 {
		t.Error(found)
	}
	r.must(os.Remove(r.path("c.yaml")))
	r.becomes("a=first")
	if found := r.Current().Findings; len(found) != 1 || !strings.Contains(found[0].Summary,
		"the file house/c.yaml is gone, and with it rule b") {
		t.Errorf("it is not told: %v", found)
	}
}

// TestAnotherThingInTheNameOfAFile: a folder in the place of a file keeps the last good ruleset.
func TestAnotherThingInTheNameOfAFile(t *testing.T) {
	r := newRig(t)
	r.write("b.yaml", rule("b", "stays"))
	r.start(slow(), openNotifier)
	r.must(os.Remove(r.path("b.yaml")))
	r.must(os.Mkdir(r.path("b.yaml"), 0o777))
	r.staleWith("house/b.yaml is a folder")
	r.must(os.Remove(r.path("b.yaml")))
	r.write("b.yaml", rule("b", "back"))
	r.becomes("a=first b=back")
}

func TestBrokenSaveAndItsMending(t *testing.T) {
	r := newRig(t)
	clock := time.Date(2031, 4, 12, 10, 20, 0, 0, time.UTC)
	o := slow()
	o.Now = func() time.Time { clock = clock.Add(time.Minute); return clock } // one goroutine after the other asks
	r.start(o, openNotifier)
	first := r.Current()
	r.save("a.yaml", broken)
	s := r.staleWith(brokenAt)
	if r.Current() != first || s.Seq != 1 || s.Digest != first.Ruleset.Digest || !s.Loaded.Equal(first.Loaded) ||
		!s.Since.After(s.Loaded) {
		t.Errorf("status %+v", s)
	}
	r.save("a.yaml", "format: 7\n")
	again := r.staleWith("house/a.yaml:1:9: error: format 7")
	if !again.Since.Equal(s.Since) || strings.Contains(again.Why.Error(), "outcome") || r.Current() != first {
		t.Errorf("a second failure: status %+v, first since %v", again, s.Since)
	}
	r.save("a.yaml", rule("a", "mended"))
	r.becomes("a=mended")
	if s := r.Status(); s.Seq != 2 || !s.Since.IsZero() || s.Why != nil {
		t.Errorf("status after mending %+v", s)
	}
	r.Close()
	if len(r.statuses) != 3 || !r.statuses[0].Stale || !r.statuses[1].Stale || r.statuses[2].Stale {
		t.Errorf("statuses told %+v", r.statuses)
	}
}

func TestMendingByTheOldBytes(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	first := r.Current()
	for range 2 { // the same breakage a second time is told again
		r.save("a.yaml", broken)
		r.staleWith(brokenAt)
		r.save("a.yaml", rule("a", "first"))
		r.becomes("a=first")
	}
	if r.Current() != first || r.Status().Seq != 1 || !r.Status().Since.IsZero() {
		t.Errorf("status %+v", r.Status())
	}
	r.Close()
	if len(r.changes) != 0 || len(r.statuses) != 4 {
		t.Errorf("changes %v, statuses %+v", r.changes, r.statuses)
	}
}

func TestACommentMakesASnapshotOfTheSameDigest(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	first := r.Current()
	r.save("a.yaml", "# seen by two\n"+rule("a", "first"))
	r.wait("a second snapshot", func() bool { return r.Current() != first })
	now := r.Current()
	line := func(s *Snapshot[*prepared]) int { return s.Ruleset.Rule("a").Place.Span.Position().Line }
	if now.Ruleset.Digest != first.Ruleset.Digest || line(now) != line(first)+1 || now.Seq != 2 {
		t.Errorf("digests %s and %s, lines %d and %d", first.Ruleset.Digest, now.Ruleset.Digest, line(first), line(now))
	}
}

func TestTheSameBytesLoadNothing(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	for i := range 3 {
		before := r.readings()
		r.save("a.yaml", rule("a", "first"))
		r.write(fmt.Sprintf(".#a%d.yaml", i), "an editor's leftover") // and files that are not read
		r.wait("the files were read", func() bool { return r.readings() > before })
	}
	r.save("a.yaml", rule("a", "second"))
	r.becomes("a=second")
	if got := r.loads(); len(got) != 1 || len(r.statuses) != 1 {
		t.Errorf("loads %q", got)
	}
}

func TestNewSubfolders(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	r.write("rules/more/deep/b.yaml", rule("b", "first"))
	r.becomes("a=first b=first")
	r.save("rules/more/deep/b.yaml", rule("b", "second"))
	r.becomes("a=first b=second")
	before := r.readings()
	r.must(os.Rename(r.path("rules/more"), r.path("rules/other")))
	r.wait("the renamed folder was seen", func() bool { return r.readings() > before })
	r.write("rules/other/deep/b.yaml", rule("b", "third"))
	r.becomes("a=first b=third")
	r.write("rules/more/deep/c.yaml", rule("c", "first")) // the old name is given out anew
	r.becomes("a=first b=third c=first")
	r.write("rules/other/deep/b.yaml", rule("b", "fourth"))
	r.becomes("a=first b=fourth c=first")
	r.remove("rules")
	r.becomes("a=first")
}

func TestDeleteAllThenRestore(t *testing.T) {
	r := newRig(t)
	r.write("rules/b.yaml", rule("b", "first"))
	r.start(slow(), openNotifier)
	first := r.Current()
	r.remove("a.yaml")
	r.remove("rules")
	r.staleWith("the layer house holds no YAML file")
	if r.Current() != first {
		t.Fatal("nothing at all took a ruleset's place")
	}
	r.write("rules/b.yaml", rule("b", "back"))
	r.becomes("b=back")
}

func TestABurstOfSavesGivesFewLoads(t *testing.T) {
	const saves = 200
	o := slow()
	o.Quiet = 200 * time.Millisecond
	r := newRig(t).start(o, openNotifier)
	for i := range saves {
		how := r.save
		if i%2 == 1 {
			how = r.write
		}
		how("a.yaml", rule("a", fmt.Sprint("save ", i)))
	}
	r.becomes(fmt.Sprint("a=save ", saves-1))
	if got := r.loads(); len(got) > saves/20 {
		t.Errorf("%d saves gave %d loads", saves, len(got))
	}
	if n := r.readings(); n > saves/4 {
		t.Errorf("%d saves gave %d readings", saves, n)
	}
}

func TestSavesWithoutEndAreLoadedAllTheSame(t *testing.T) {
	o := slow()
	o.Quiet, o.Longest = 500*time.Millisecond, 600*time.Millisecond
	r := newRig(t).start(o, openNotifier)
	for i, end := 0, time.Now().Add(patience); r.Current().Seq == 1; i++ {
		r.save("a.yaml", rule("a", fmt.Sprint("save ", i)))
		time.Sleep(5 * time.Millisecond) // the pace of the saves, well within Quiet
		if time.Now().After(end) {
			t.Fatal("no load while saves go on")
		}
	}
}

func TestAnErrorOfPrepareKeepsTheOld(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	first := r.Current()
	for says, why := range map[string]string{"refuse": "house/a.yaml:3:11: error: this rule is refused",
		"panic": "a fault in preparing"} {
		r.write("a.yaml", rule("a", says))
		r.staleWith(why)
		if r.Current() != first {
			t.Fatalf("%s: another snapshot runs", says)
		}
	}
	r.write("a.yaml", strings.Replace(rule("a", "second"), "is: holds", "is: fails", 1))
	r.staleWith("example-fails")
	r.write("a.yaml", rule("a", "second"))
	r.becomes("a=second")
	if r.Current().Seq != 2 {
		t.Errorf("seq %d", r.Current().Seq)
	}
}

func TestLayersThatCannotBeFound(t *testing.T) {
	o := slow()
	o.Longest = 30 * time.Millisecond // no notification tells that they are there again
	r := newRig(t).start(o, openNotifier)
	set := func(err error) { r.mu.Lock(); defer r.mu.Unlock(); r.missing = err }
	set(errors.New("the house has moved"))
	r.write("a.yaml", rule("a", "second"))
	r.staleWith("the house has moved")
	set(nil)
	r.becomes("a=second")
}

func TestTwoEditorsAtOnce(t *testing.T) {
	r := newRig(t).start(slow(), openNotifier)
	var editors, readers sync.WaitGroup
	stop := make(chan struct{})
	for range 2 {
		readers.Go(func() { // whoever judges meanwhile sees whole rulesets, in order
			for seq := 0; ; {
				select {
				case <-stop:
					return
				default:
				}
				s := r.Current()
				if s.Seq < seq || s.Ruleset == nil || r.Status().Seq < s.Seq ||
					!strings.HasPrefix(s.Prepared.says, "a=") {
					t.Errorf("after %d: snapshot %+v", seq, s)
					return
				}
				seq = s.Seq
				time.Sleep(100 * time.Microsecond) // leave the processor to the editors
			}
		})
	}
	for _, id := range []string{"a", "b"} {
		editors.Go(func() {
			for i := range 40 {
				tmp := r.path("." + id)
				if err := errors.Join(os.WriteFile(tmp, []byte(rule(id, fmt.Sprint("save ", i))), 0o644),
					os.Rename(tmp, r.path(id+".yaml"))); err != nil {
					t.Error(err)
				}
				time.Sleep(time.Millisecond)
			}
		})
	}
	editors.Wait()
	r.becomes("a=save 39 b=save 39")
	close(stop)
	readers.Wait()
}

// TestLiveAmongManyRules: each save is live under the default options, with 300 rules; the log says how soon, which is
// less than a second on an idle machine.
func TestLiveAmongManyRules(t *testing.T) {
	r := newRig(t)
	for i := range 300 {
		r.write(fmt.Sprintf("rules/r%03d.yaml", i), rule(fmt.Sprintf("r%03d", i), "one of many"))
	}
	r.start(Options[*prepared]{}, openNotifier)
	for i := range 3 {
		says := fmt.Sprint("edit ", i)
		began := time.Now()
		r.save("a.yaml", rule("a", says))
		r.wait(says, func() bool { return strings.HasPrefix(r.Current().Prepared.says, "a="+says) })
		t.Logf("an edit is live after %v", time.Since(began))
	}
}

func TestAFirstLoadThatFails(t *testing.T) {
	r := newRig(t)
	r.write("a.yaml", broken)
	before := goroutines()
	for want, layers := range map[string]func() ([]load.Layer, error){
		brokenAt:         r.layers,
		"no layers here": func() ([]load.Layer, error) { return nil, errors.New("no layers here") },
	} {
		l, out := Start(context.Background(), Options[*prepared]{Folders: []string{r.root}, Layers: layers})
		if l != nil || !strings.Contains(out.Error(), want) {
			t.Errorf("%v, %v; want %s", l, out, want)
		}
	}
	fewerThan(t, before+1)
}
