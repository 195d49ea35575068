package condition

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/quantity"
)

const hostileVariable = "WHYSTONE_HOSTILE_CONDITIONS"

// hostileMemory bounds what one hostile text takes, compiling it and running it on a few cases. Nothing that runs on
// stays below it for long; what merely hangs is ended with the process.
const hostileMemory = 64 << 20

type hostileText struct{ name, text string }

// hostileCorpus is what brings an unguarded parser or machine down: most of these kill a process or fill its memory
// when they are handed to the library as they are.
func hostileCorpus() []hostileText {
	rep := strings.Repeat
	corpus := []hostileText{
		{"600,000 open parentheses", rep("(", 600_000)},
		{"600,000 pairs of parentheses", rep("(", 600_000) + "true" + rep(")", 600_000)},
		{"600,000 brackets", rep("[", 600_000)},
		{"600,000 braces", rep("{", 600_000)},
		{"200,000 times not", rep("not ", 200_000) + "true"},
		{"600,000 exclamation marks", rep("!", 600_000) + "true"},
		{"600,000 signs", rep("-", 600_000) + "1 > 0"},
		{"signs parted by comments", rep("-/**/", 500) + "1 > 0"},
		{"not parted by line ends", rep("not\n", 900) + "true"},
		{"brackets hidden behind a text", `"` + rep(")", 1900) + `" == ` + rep("(", 1900)},
		{"brackets hidden behind a comment", "/*" + rep(")", 1900) + "*/" + rep("(", 1900)},
		{"64 parentheses", rep("(", 64) + "true" + rep(")", 64)},
		{"reduce that doubles a text", `reduce(1..40, #acc + #acc, "ab") == "a"`},
		{"let that doubles a text", rep(`let a = "x"; `, 1) + rep("let a = a + a; ", 200) + `a == "x"`},
		{"nested count", rep("count(inclusions, ", 60) + "true" + rep(")", 60) + " > 1"},
		{"nested any over ranges", "any(1..1000000, any(1..1000000, any(1..1000000, # > 0)))"},
		{"repeat of a text", `repeat("x", 1000000000) == "x"`},
		{"a long range", "ri in 1..1000000000000"},
		{"a map of maps", rep(`{"a":`, 60) + "1" + rep("}", 60) + " == 1"},
		{"choices within choices", rep("true ? ", 500) + "true" + rep(" : false", 500)},
		{"choices after choices", rep("ri > 1 ? false : ", 240) + "true"},
		{"a power of powers", "ri > " + rep("9 ** ", 200) + "9"},
		{"a huge number", "ri > 1" + rep("0", 4000)},
		{"a long fraction", "ri > 0." + rep("9", 4000)},
		{"a huge exponent", "ri > 1e999999999999"},
		{"a tiny number", "ri > 1e-999999999"},
		{"a chain of or", "ri > 1" + rep(" or ri > 1", 400)},
		{"a chain of and as long as is allowed", "ri > 1" + rep(" and ri > 2", 90)},
		{"a chain of comparisons", "1" + rep(" < ri", 800)},
		{"a chain of sums", "ri" + rep(" + ri", 180) + " > 1"},
		{"a chain of members", "stone" + rep(".a", 2000)},
		{"a chain of optional members", "stone" + rep("?.a", 1300)},
		{"a chain of calls", "near" + rep("()", 2000)},
		{"a chain of indexes", "claim" + rep("[0]", 1300)},
		{"a chain of pipes", "inclusions" + rep(" | any(# == 1)", 280)},
		{"a chain of coalescing", "ri" + rep(" ?? ri", 600) + " > 1"},
		{"a list of words", `facet_doubling in [` + rep(`"none",`, 390) + `"none"]`},
		{"if within if", rep("if true {", 60) + "true" + rep("} else {false}", 60)},
		{"sequences", rep("true;", 800)},
		{"invalid UTF-8", "ri > 1\xff"},
		{"a cut letter", "claim == \"\xe4\xb8"},
		{"a surrogate", "claim == \"\xed\xa0\x80\""},
		{"NUL", "ri > 1\x00"},
		{"nothing but NUL", rep("\x00", 4000)},
		{"blanks", rep(" ", 4000)},
		{"exactly 4 KiB", "ri > 1" + rep(" ", MaxBytes-6)},
		{"one byte more", "ri > 1" + rep(" ", MaxBytes-5)},
		{"four MiB", rep("ri > 1 or ", 400_000) + "true"},
		{"a repetition of a repetition", `claim matches "(a{1000}){1000}"`},
		{"many repetitions", "claim matches `" + rep("(a{1000})", 440) + "`"},
		{"repetitions that are short", "claim matches `" + rep(`\pL{1000}`, 22) + "`"},
		{"stars on stars", "claim matches `" + rep("(a*)*", 39) + "$`"},
		{"deep groups", "claim matches '" + rep("(", 2000) + rep(")", 2000) + "'"},
		{"alternatives", "claim matches `" + rep("(a|aa)+", 28) + "$`"},
		{"an endless text", `claim == "` + rep("a", 4000)},
		{"an endless comment", "true /*" + rep("*", 4000)},
		{"escapes", `claim == "` + rep(`\u{10FFFF}`, 400) + `"`},
		{"bad escapes", `claim == "\u{110000}\x4` + `"`},
		{"marks that join", "claim == \"" + rep("e\u0301\u0302", 800) + "\""},
		{"right to left", "claim == \"\u202e\u2066 diamond\" or \u202eri > 1"},
		{"names that are long", rep("r", 4000) + " > 1"},
		{"names with dollars", "$env == $env"},
		{"bytes", "b'" + rep(`\xff`, 900) + "' == claim"},
		{"pointers outside", rep("#", 4000)},
		{"dots", rep(".", 4000)},
		{"division by what cancels", "specific_gravity / (ri - ri) > 1"},
		{"a root below zero", "sqrt(ri - 1000) > 1"},
		{"powers that overflow", "ri ** 1e308 > 1 or specific_gravity ** -1e308 > 1"},
		{"quantifiers side by side", "true" + rep(" and all(inclusions, # contains 's')", 60)},
	}
	return corpus
}

// hostileChild goes through the corpus in a process of its own and tells how far it came.
func hostileChild(out io.Writer) int {
	debug.SetMaxStack(64 << 20)
	debug.SetMemoryLimit(512 << 20)
	scope := deskScope()
	corpus := hostileCorpus()
	for _, h := range corpus {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		how := tryHostile(scope, h.text)
		runtime.ReadMemStats(&after)
		if used := after.TotalAlloc - before.TotalAlloc; used > hostileMemory {
			fmt.Fprintf(out, "%s: %s with %d MiB\n", h.name, how, used>>20)
			return 1
		}
		if how == "" {
			fmt.Fprintf(out, "%s: neither accepted nor refused\n", h.name)
			return 1
		}
	}
	fmt.Fprintf(out, "all %d\n", len(corpus))
	return 0
}

// tryHostile compiles a text, and runs it where it is accepted: on a case of which nothing is known and on one with
// long texts and infinite bounds.
func tryHostile(scope *Scope, text string) string {
	c, list := compileFor(scope, text)
	if c == nil {
		if len(list) == 0 || diag.WriteText(io.Discard, list, diag.TextOptions{}) != nil {
			return ""
		}
		return "refused"
	}
	empty := &State{Slots: make([]Slot, scope.Len())}
	full := &State{Slots: make([]Slot, scope.Len())}
	for i := range full.Slots {
		full.Slots[i] = Slot{Status: Ready, Truth: logic.Holds, Set: 3, Text: strings.Repeat("a", 500)}
		full.Slots[i].SetQuantities(&full.Context, quantity.Above(1), quantity.Exact(-1), quantity.Exact(0))
	}
	for _, s := range []*State{empty, full} {
		if v, causes, err := Evaluate(c, s); err == nil && v == logic.Undecided && len(causes) == 0 {
			return ""
		}
	}
	return "accepted"
}

// TestHostileCorpus runs the corpus in a child process, so that a crash that no Go code can recover from (a stack or a
// memory that is used up) is a failing test and not the end of the run.
func TestHostileCorpus(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	child := exec.CommandContext(ctx, os.Args[0])
	child.Env = append(os.Environ(), hostileVariable+"=1")
	var out, crash bytes.Buffer
	child.Stdout, child.Stderr = &out, &crash
	err := child.Run()
	want := fmt.Sprintf("all %d\n", len(hostileCorpus()))
	if err != nil || !strings.HasSuffix(out.String(), want) {
		text := crash.String()
		t.Fatalf("the child ended with %v and says:\n%s%s", err, out.String(), text[:min(len(text), 2000)])
	}
}
