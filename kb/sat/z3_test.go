package sat

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"testing"

	"pgregory.net/rapid"
)

// solver is z3, a general-purpose solver for formulas that has nothing to do with this one, as a process that is asked
// one question after another.
type solver struct {
	in  io.WriteCloser
	out *bufio.Scanner
}

// newSolver starts it. Without it the test is skipped, unless WHYSTONE_REQUIRE_ALL=1 asks for all of them.
func newSolver(t *testing.T) *solver {
	t.Helper()
	path, err := exec.LookPath("z3")
	if err != nil {
		if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
			t.Fatal("z3 is not installed, and WHYSTONE_REQUIRE_ALL=1 asks for it")
		}
		t.Skip("z3 is not installed: what conditions can be true of is not compared with a solver's answers")
	}
	cmd := exec.Command(path, "-in", "-smt2")
	in, err1 := cmd.StdinPipe()
	out, err2 := cmd.StdoutPipe()
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	s := &solver{in, bufio.NewScanner(out)}
	t.Cleanup(func() {
		_ = in.Close() // it ends when there is no more to read
		if err := cmd.Wait(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func (s *solver) tell(text string) error {
	_, err := io.WriteString(s.in, text)
	return err
}

// can tells whether some case satisfies all of the formulas.
func (s *solver) can(formulas ...string) (answer string, err error) {
	text := "(push)\n"
	for _, f := range formulas {
		text += "(assert " + f + ")\n"
	}
	if err := s.tell(text + "(check-sat)\n(pop)\n"); err != nil {
		return "", err
	}
	if !s.out.Scan() {
		return "", io.ErrUnexpectedEOF
	}
	return s.out.Text(), nil
}

// TestAgainstSolver asks z3 and kb/sat the same of random rule bases over the whole vocabulary. The solver's text is
// written from the drawn conditions; it shares nothing with kb/sat.
func TestAgainstSolver(t *testing.T) {
	z3 := newSolver(t)
	asked := tally{}
	questions := 0
	rapid.Check(t, func(t *rapid.T) {
		for range 3 {
			questions += z3.compare(t, drawBase(t, true), asked)
		}
	})
	t.Logf("%d questions", questions)
	if testing.Short() { // -short draws few
		return
	}
	asked.atLeast(t, 100)
	if questions < 2000 {
		t.Errorf("only %d questions", questions)
	}
}

// compare asks all questions of a base, and counts them.
func (s *solver) compare(t *rapid.T, b *base, asked tally) (questions int) {
	t.Helper()
	rs := loaded(t, b.files())
	if err := s.tell("(push)\n" + b.smt()); err != nil {
		t.Fatalf("%s", err)
	}
	defer func() {
		if err := s.tell("(pop)\n"); err != nil {
			t.Errorf("%s", err)
		}
	}()
	space := NewSpace(rs)
	for _, q := range b.questions(rs, space) {
		for _, mode := range []Mode{AnyReading, Sharp} {
			formulas := []string{q.smt}
			if mode == Sharp {
				formulas = append(formulas, "sharp")
			}
			want, err := s.can(formulas...)
			if err != nil {
				t.Fatalf("%s", err)
			}
			_, answer := space.Satisfy(q.formula, mode)
			if got := [...]string{No: "unsat", Yes: "sat", Unknown: "given up"}[answer]; got != want {
				t.Fatalf("%s (%s, sharp %v): %s, the solver says %s\n%s\n%s", q.kind, q.name, mode, got, want,
					b.files()["rules.yaml"].Data, b.smt())
			}
			asked.count(q.kind, mode, answer == Yes)
			questions++
		}
	}
	return questions
}
