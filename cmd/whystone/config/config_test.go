package config

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/pflag"

	"whystone/kb/diag"
)

// load parses flags and loads with an environment in which HOME is an empty folder.
func load(t *testing.T, args []string, env ...string) (*Config, diag.List) {
	t.Helper()
	fs := pflag.NewFlagSet("test", pflag.ContinueOnError)
	AddFlags(fs)
	if err := fs.Parse(args); err != nil {
		t.Fatal(err)
	}
	return Load(fs, append([]string{"HOME=" + t.TempDir(), "PATH=/bin"}, env...))
}

func file(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "settings.conf")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestDefaults(t *testing.T) {
	home := t.TempDir()
	got, found := load(t, nil, "HOME="+home, "LocalAppData="+home)
	want := &Config{Book: filepath.Join(dataDir(Env{"HOME=" + home, "LocalAppData=" + home}), "whystone"),
		Layers: []string{}, Ruleset: "diamond-desk", Shipped: true, Output: "text", Colour: "auto"}
	if diff := cmp.Diff(want, got); diff != "" || len(found) > 0 {
		t.Errorf("defaults: %s%v", diff, found)
	}
}

// TestPrecedence sets each key in the file, the environment and a flag, and takes them away from the top.
func TestPrecedence(t *testing.T) {
	path := file(t, "output: json\ncolour: never\nwidth: 50\nshipped: false\nlayers: [a, /b]\nbook: kept\nruleset: "+
		"gem-desk\n")
	dir := filepath.Dir(path)
	env := []string{"WHYSTONE_CONFIG=" + path, "WHYSTONE_OUTPUT=text", "WHYSTONE_COLOUR=always", "WHYSTONE_WIDTH=60",
		"WHYSTONE_SHIPPED=true", "WHYSTONE_BOOK=var", "WHYSTONE_RULESET=diamond-desk",
		"WHYSTONE_LAYERS=c" + string(filepath.ListSeparator) + "d"}
	flags := []string{"--book", "flag", "--json", "--colour", "auto", "--width=70", "--no-shipped", "--layer", "e",
		"--layer", "f", "--ruleset", "gem-desk"}
	for _, c := range []struct {
		says  string
		flags []string
		env   []string
		want  Config
	}{
		{"the file alone", nil, env[:1], Config{Book: filepath.Join(dir, "kept"),
			Layers: []string{filepath.Join(dir, "a"), "/b"}, Ruleset: "gem-desk", Output: "json", Colour: "never",
			Width: 50}},
		{"variables over the file", nil, env, Config{Book: "var", Layers: []string{"c", "d"}, Ruleset: "diamond-desk",
			Shipped: true, Output: "text", Colour: "always", Width: 60}},
		{"flags over both", flags, env, Config{Book: "flag", Layers: []string{"e", "f"}, Ruleset: "gem-desk",
			Output: "json", Colour: "auto", Width: 70}},
	} {
		c.want.File = path
		got, found := load(t, c.flags, c.env...)
		if diff := cmp.Diff(&c.want, got); diff != "" || len(found) > 0 {
			t.Errorf("%s: %s%v", c.says, diff, found)
		}
	}
}

func TestConfigFlagOverVariable(t *testing.T) {
	got, found := load(t, []string{"--config", file(t, "width: 50\n")}, "WHYSTONE_CONFIG="+file(t, "width: 60\n"))
	if got == nil || got.Width != 50 {
		t.Errorf("--config should be read instead of WHYSTONE_CONFIG: %v %v", got, found)
	}
}

// TestDataFolder: the casebook's folder by default is the XDG Base Directory Specification's for data, where there is
// such; without a home there is none.
func TestDataFolder(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("the specification is about other systems")
	}
	for _, c := range []struct {
		env  []string
		want string
	}{
		{[]string{"HOME=/h"}, "/h/.local/share/whystone"}, {[]string{"HOME=/h", "XDG_DATA_HOME=/data"},
			"/data/whystone"},
		{[]string{"HOME=/h", "XDG_DATA_HOME=relative"}, "/h/.local/share/whystone"}, {[]string{"HOME="}, ""},
	} {
		if got, _ := load(t, nil, c.env...); got == nil || got.Book != c.want {
			t.Errorf("%v: %+v", c.env, got)
		}
	}
}

func TestUserFolder(t *testing.T) {
	home := t.TempDir()
	dir := filepath.Join(userDir(Env{"HOME=" + home, "AppData=" + home}), "whystone")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "config.yaml"), []byte("width: 44\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	got, found := load(t, nil, "HOME="+home, "AppData="+home)
	if got == nil || got.Width != 44 || got.File == "" {
		t.Errorf("the user's file was not read: %v %v", got, found)
	}
}

// TestRefused gives settings that can't be meant. Each says what is wrong, and where a name is near, which.
func TestRefused(t *testing.T) {
	for _, c := range []struct {
		says, file string
		flags, env []string
		code       string
		nearest    string
		line       int
	}{
		{says: "unknown key", file: "width: 80\nlayer: [x]\n", code: "unknown-key", nearest: "layers", line: 2},
		{says: "key in capitals", file: "Output: json\n", code: "unknown-key", nearest: "output", line: 1},
		{says: "a list for a word", file: "output: [json]\n", code: "wrong-kind", line: 1},
		{says: "a word for a number", file: "width: wide\n", code: "bad-number", line: 1},
		{says: "not true or false", file: "shipped: yes\n", code: "wrong-kind", line: 1},
		{says: "too narrow", file: "width: 20\n", code: "bad-number", line: 1},
		{says: "misspelt word", file: "colour: alway\n", code: "unknown-name", nearest: "always", line: 1},
		{says: "broken YAML", file: "layers: [\n", code: "bad-syntax", line: 2},
		{says: "a second document", file: "width: 80\n---\nwidth: 90\n", code: "not-allowed", line: 3},
		{says: "no file where one is named", flags: []string{"--config", "/nowhere/at/all.yaml"},
			code: "file-unreadable"},
		{says: "unknown variable", code: "unknown-key", nearest: "WHYSTONE_COLOUR",
			env: []string{"WHYSTONE_COLOR=never"}}, //nolint:misspell // that is the point
		{says: "variable in small letters", env: []string{"WHYSTONE_width=80"}, code: "unknown-key",
			nearest: "WHYSTONE_WIDTH"},
		{says: "variable with a bad value", env: []string{"WHYSTONE_SHIPPED=1"}, code: "wrong-kind"},
		{says: "flag with a bad value", flags: []string{"--width", "5"}, code: "bad-number"},
		{says: "a layer without a name", env: []string{"WHYSTONE_LAYERS=a" + string(filepath.ListSeparator)},
			code: "bad-text"},
		{says: "a bad value of the file below a good flag", file: "width: 20\n", flags: []string{"--width", "50"},
			code: "bad-number", line: 1},
		{says: "a layer twice", flags: []string{"--layer", "a", "--layer", "./b/../a"}, code: "given-twice"},
	} {
		if c.file != "" {
			c.flags = append(c.flags, "--config", file(t, c.file))
		}
		got, found := load(t, c.flags, c.env...)
		if got != nil || len(found) == 0 {
			t.Errorf("%s: accepted: %+v", c.says, got)
			continue
		}
		d := found[0]
		if string(d.Code) != c.code || d.Nearest != c.nearest || d.Span.Position().Line != c.line ||
			!diag.Known(d.Code) {
			t.Errorf("%s: got %s, nearest %q, line %d; want %s, %q, %d", c.says, d.Error(), d.Nearest,
				d.Span.Position().Line, c.code, c.nearest, c.line)
		}
	}
}

// TestEveryKeyIsOffered sees to it that the table, the struct and the flags name the same settings.
func TestEveryKeyIsOffered(t *testing.T) {
	fs := pflag.NewFlagSet("test", pflag.ContinueOnError)
	AddFlags(fs)
	for _, k := range Keys() {
		if fs.Lookup(strings.TrimPrefix(k.Flag, "--")) == nil {
			t.Errorf("the key %s names the flag %s, which is not there", k.Name, k.Flag)
		}
		if k.Says == "" || k.Name != strings.ToLower(k.Name) || strings.Contains(k.Name, ".") {
			t.Errorf("the key %q needs an explanation and a lower-case name without a point", k.Name)
		}
	}
	for _, name := range []string{"WHYSTONE_DEBUG=1", "WHYSTONE_UPDATE=1", "WHYSTONE_REQUIRE_ALL=1"} {
		if _, found := load(t, nil, name); len(found) > 0 {
			t.Errorf("%s is no setting, and was refused: %v", name, found)
		}
	}
}
