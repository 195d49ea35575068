package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"whystone/cmd/whystone/config"
	"whystone/cmd/whystone/terminal"
)

// followed is a case on disk that was judged once, and what was said of it since.
func followed(t *testing.T, text string) (f *following, said *bytes.Buffer) {
	t.Helper()
	said = &bytes.Buffer{}
	a := &app{stdout: &output{to: said}, stderr: said, now: noon}
	c := &config.Config{Layers: []string{filepath.Join("testdata", "desk")}, Output: "text"}
	s := &session{app: a, config: c, out: terminal.New(a.stdout, 200, false), err: terminal.New(said, 200, false)}
	rs, err := s.ruleset(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	f = &following{session: s, file: filepath.Join(t.TempDir(), "case.yaml"), rs: rs}
	put(t, f, text)
	if err := f.first(); err != nil {
		t.Fatal(err)
	}
	said.Reset()
	return f, said
}

func put(t *testing.T, f *following, text string) {
	t.Helper()
	if err := os.WriteFile(f.file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestLook goes through what a save can do to a file, look by look.
func TestLook(t *testing.T) {
	const before, after = "{case: A, readings: {thermal_probe: unsteady}}",
		"{case: A, readings: {thermal_probe: diamond range}}"
	const changed, broken = "The case changed.", "The case can't be read; its last verdict stays."
	gone := func(t *testing.T, f *following) {
		t.Helper()
		if err := os.Remove(f.file); err != nil {
			t.Fatal(err)
		}
	}
	type look struct {
		at   time.Duration
		do   func(t *testing.T, f *following)
		says string // "" nothing
	}
	write := func(text string) func(*testing.T, *following) {
		return func(t *testing.T, f *following) { t.Helper(); put(t, f, text) }
	}
	for _, c := range []struct {
		says  string
		looks []look
	}{
		{"nothing changes", []look{{0, nil, ""}, {time.Second, nil, ""}, {time.Hour, nil, ""}}},
		{"a change counts when it has come to rest, and once", []look{{0, write(after), ""}, {rest - 1, nil, ""},
			{rest, nil, changed}, {time.Hour, nil, ""}}},
		{"a file that is written bit by bit", []look{{0, write(""), ""}, {rest, write(after[:20]), ""},
			{2*rest - 1, write(after), ""},
			{3*rest - 2, nil, ""}, {3*rest - 1, nil, changed}}},
		{"a change taken back in time", []look{{0, write(after), ""}, {rest - 1, write(before), ""},
			{time.Hour, nil, ""}}},
		{"empty on the way", []look{{0, write(""), ""}, {1900 * time.Millisecond, nil, ""},
			{emptyRest, write(before), ""}, {time.Hour, nil, ""}}},
		{"empty for good", []look{{0, write(""), ""}, {emptyRest, nil, broken}, {time.Hour, nil, ""},
			{2 * time.Hour, write(before), ""}, {3 * time.Hour, nil, changed}}},
		{"gone on the way", []look{{0, gone, ""}, {1900 * time.Millisecond, nil, ""}, {emptyRest, write(before), ""},
			{time.Hour, nil, ""}}},
		{"gone for good", []look{{0, gone, ""}, {emptyRest, nil, broken}, {time.Hour, nil, ""},
			{2 * time.Hour, write(before), ""}, {3 * time.Hour, nil, ""}}},
		{"gone for good, twice", []look{{0, gone, ""}, {emptyRest, nil, broken}, {time.Hour, write(before), ""},
			{2 * time.Hour, gone, ""}, {3 * time.Hour, nil, broken}}},
		{"broken, and told once", []look{{0, write("{case: ["), ""}, {rest, nil, broken}, {time.Hour, nil, ""},
			{2 * time.Hour, write(after), ""}, {3 * time.Hour, nil, changed}}},
	} {
		f, said := followed(t, before)
		for i, l := range c.looks {
			if l.do != nil {
				l.do(t, f)
			}
			said.Reset()
			if err := f.look(noon().Add(l.at)); err != nil {
				t.Fatal(err)
			}
			if got := said.String(); got == "" != (l.says == "") || !strings.Contains(got, l.says) {
				t.Errorf("%s: look %d said %q, want %q", c.says, i+1, got, l.says)
			}
		}
	}
}
