package sqlite

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
)

func init() {
	children["fill"], children["may-not-write"] = fillUp, mayNotWrite
}

// skip skips a test that this machine can't do, unless all are asked for.
func skip(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
		t.Fatal(why + ", and WHYSTONE_REQUIRE_ALL=1 asks for it")
	}
	t.Skip(why)
}

// fillUp writes until its files may not grow any more, then makes room and writes once more. It tells what was
// acknowledged, and last how it ended.
func fillUp(folder string) error {
	signal.Ignore(syscall.SIGXFSZ) // so that the write fails, as on a full disk
	s, err := Open(ctx, folder, true)
	if err != nil {
		return err
	}
	b := storetest.Book(s)
	var room syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &room); err != nil {
		return err
	}
	small := room
	small.Cur = 600 << 10
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &small); err != nil {
		return err
	}
	err = fill(b)
	if !errors.Is(err, casebook.ErrFull) && !errors.Is(err, casebook.ErrUnwritten) {
		return fmt.Errorf("it ended with %w", err)
	}
	fmt.Println("full:", err)
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &room); err != nil {
		return err
	}
	var once sync.Mutex
	return writeSome(b, "later", &once, os.Stdout)
}

// fill writes until it can't.
func fill(b *casebook.Book) error {
	var mu sync.Mutex
	for range 100000 {
		if err := writeSome(b, "anna", &mu, os.Stdout); err != nil {
			return err
		}
	}
	return errors.New("there is no end to it")
}

// TestFilesMayNotGrow: the limit of a process for its files stands in for a full disk where nobody may mount one.
func TestFilesMayNotGrow(t *testing.T) {
	folder := t.TempDir()
	out, err := child("fill", folder).Output()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	checkFilled(t, folder, string(out))
}

// checkFilled looks at what a program left that came to the end of the room.
func checkFilled(t *testing.T, folder, out string) {
	t.Helper()
	before, after, ok := strings.Cut(out, "full: ")
	says, later, _ := strings.Cut(after, "\n")
	if !ok || !strings.Contains(says, "nothing was written") || strings.Count(before, "\n") < 20 ||
		strings.Count(later, "\n") < 3 {
		t.Fatalf("it told\n%s", out)
	}
	t.Logf("%d writes, then: %s", strings.Count(before, "\n"), says)
	afterwards(t, folder, strings.SplitAfter(strings.TrimSpace(before+later), "\n"))
}

// TestDiskFull fills a disk of 2 MiB.
func TestDiskFull(t *testing.T) {
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=2m"); err != nil {
		skip(t, "nobody may mount a small disk here: "+err.Error())
	}
	defer func() { _ = syscall.Unmount(disk, syscall.MNT_DETACH) }()
	ballast := filepath.Join(disk, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); err != nil {
		t.Fatal(err)
	}
	b := storetest.Book(open(t, filepath.Join(disk, "book")))
	var told strings.Builder
	var mu sync.Mutex
	var err error
	for err == nil {
		err = writeSome(b, "anna", &mu, &told)
	}
	if !errors.Is(err, casebook.ErrFull) {
		t.Errorf("a full disk gives %v", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	var later strings.Builder
	if err := writeSome(b, "later", &mu, &later); err != nil {
		t.Errorf("there is room again: %s", err)
	}
	checkFilled(t, filepath.Join(disk, "book"), told.String()+"full: "+err.Error()+"\n"+later.String())
}

// mayNotWrite reads a book that it may not write to, as far as it can, and tries to.
func mayNotWrite(folder string) error {
	s, err := Open(ctx, folder, false)
	if err == nil {
		defer func() { _ = s.Close() }()
		b := storetest.Book(s)
		if _, e := b.Verify(ctx); e == nil {
			fmt.Println("read")
		}
		_, err = b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened}})
	}
	if !errors.Is(err, casebook.ErrReadOnly) {
		return fmt.Errorf("it ended with %w", err)
	}
	fmt.Println(err)
	return nil
}

// TestReadOnly: who may read a file and not write to it, or who may not write in its folder, is told so, and nothing is
// changed. As root nothing is forbidden, so the program is then another user's.
func TestReadOnly(t *testing.T) {
	root, err := os.MkdirTemp("", "casebook")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = os.RemoveAll(root) }()
	folder := filepath.Join(root, "book")
	s := open(t, folder)
	if _, err := storetest.Book(s).Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened}}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(filepath.Join(folder, Name))
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(root, "program")
	if err := Copy(os.Args[0], program); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct{ folder, file os.FileMode }{{0o555, 0o444}, {0o777, 0o444}, {0o555, 0o666},
		{0o755, 0o000}} {
		for path, mode := range map[string]os.FileMode{root: 0o755, program: 0o755, folder: x.folder,
			filepath.Join(folder, Name): x.file} {
			if err := os.Chmod(path, mode); err != nil {
				t.Fatal(err)
			}
		}
		cmd := exec.Command(program, folder)
		cmd.Dir, cmd.Env = root, append(os.Environ(), childVar+"=may-not-write")
		if os.Getuid() == 0 {
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		out, err := cmd.CombinedOutput()
		if err != nil || !strings.Contains(string(out), "can't be opened for writing") {
			t.Errorf("folder %o, file %o: %v: %s", x.folder, x.file, err, out)
		}
		if after, err := os.ReadFile(filepath.Join(folder, Name)); os.Getuid() == 0 &&
			(err != nil || string(after) != string(before)) {
			t.Errorf("folder %o, file %o: the file was changed", x.folder, x.file)
		}
		t.Logf("folder %o, file %o: %s", x.folder, x.file, out)
	}
}
