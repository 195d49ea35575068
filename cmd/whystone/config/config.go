package config

import (
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"

	"whystone/kb/diag"
)

// Env is an environment, as os.Environ gives it.
type Env []string

// Get is the value of a variable, "" when there is none. Of one given twice the last counts.
func (e Env) Get(name string) string {
	value := ""
	for _, kv := range e {
		if k, v, ok := strings.Cut(kv, "="); ok && k == name {
			value = v
		}
	}
	return value
}

// AddFlags adds the flags that Load reads.
func AddFlags(fs *pflag.FlagSet) {
	fs.String("config", "", "settings `file` (default: whystone/config.yaml in your configuration folder)")
	fs.StringArray("layer", nil, "`folder` with rules of the house, above the shipped ones; may be repeated")
	fs.Bool("no-shipped", false, "leave the shipped ruleset out")
	fs.Bool("json", false, "write JSON, an object a line")
	fs.String("colour", "auto", "`when` to use colour: auto, always or never")
	fs.Int("width", 0, "`columns` of text, 40 to 400 (default: the terminal's, at most 80)")
}

// Load reads the settings. With an error in the list the settings are nil.
func Load(fs *pflag.FlagSet, env Env) (*Config, diag.List) {
	var out diag.List
	file, must := filePath(fs, env)
	fromFile, file := readFile(file, must, &out)
	fromEnv := readEnv(env, &out)
	fromFlags := readFlags(fs, &out)
	if out.HasErrors() {
		out.Sort()
		return nil, out
	}
	v := viper.New()
	for _, k := range keys {
		v.SetDefault(k.Name, k.Default)
	}
	for _, m := range []map[string]any{fromFile, fromEnv} {
		if err := v.MergeConfigMap(m); err != nil {
			out.Errorf("wrong-kind", diag.Span{}, "the settings can't be joined: %s", err)
		}
	}
	for name, value := range fromFlags {
		v.Set(name, value)
	}
	c := &Config{File: file}
	if err := v.UnmarshalExact(c); err != nil {
		out.Errorf("wrong-kind", diag.Span{}, "the settings can't be read: %s", err)
	}
	c.check(&out)
	if out.HasErrors() {
		return nil, out
	}
	return c, out
}

// filePath is where the settings file is, and whether it must be there.
func filePath(fs *pflag.FlagSet, env Env) (path string, must bool) {
	if f := fs.Lookup("config"); f != nil && f.Changed {
		return f.Value.String(), true
	}
	if path := env.Get("WHYSTONE_CONFIG"); path != "" {
		return path, true
	}
	if dir := userDir(env); dir != "" {
		return filepath.Join(dir, "whystone", "config.yaml"), false
	}
	return "", false
}

// userDir is the user's folder for settings: what os.UserConfigDir gives, of an environment that is handed in.
func userDir(env Env) string {
	switch runtime.GOOS {
	case "windows":
		return env.Get("AppData")
	case "darwin", "ios":
		if home := env.Get("HOME"); home != "" {
			return filepath.Join(home, "Library", "Application Support")
		}
		return ""
	}
	if dir := env.Get("XDG_CONFIG_HOME"); filepath.IsAbs(dir) {
		return dir
	}
	if home := env.Get("HOME"); home != "" {
		return filepath.Join(home, ".config")
	}
	return ""
}

// readEnv reads the variables that begin with our prefix. One that nobody reads is an error: a misspelt name would
// otherwise be passed over in silence, and the desk judge by other rules than it thinks.
func readEnv(env Env, out *diag.List) map[string]any {
	m := map[string]any{}
	for _, kv := range env {
		name, text, _ := strings.Cut(kv, "=")
		if !strings.HasPrefix(name, Prefix) || slices.Contains(others, name) {
			continue
		}
		k, ok := lookup(strings.ToLower(strings.TrimPrefix(name, Prefix)))
		if !ok || name != k.Variable() {
			out.Errorf("unknown-key", diag.Span{}, "no setting is read from the variable %s", name).Nearest = diag.Nearest(name, variables())
			continue
		}
		if text == "" {
			continue
		}
		if value, ok := k.parse("the variable "+name, text, out); ok {
			m[k.Name] = value
		}
	}
	return m
}

// parse reads a value that is given as a text.
func (k Key) parse(from, text string, out *diag.List) (any, bool) {
	switch k.kind {
	case truth:
		if text != "true" && text != "false" {
			out.Errorf("wrong-kind", diag.Span{}, "%s must be true or false, and is %q", from, text)
			return nil, false
		}
		return text == "true", true
	case number:
		n, err := strconv.Atoi(text)
		if err != nil {
			out.Errorf("bad-number", diag.Span{}, "%s must be a whole number, and is %q", from, text)
			return nil, false
		}
		return n, k.within(from, n, diag.Span{}, out)
	case list:
		return filepath.SplitList(text), true
	default:
		return text, k.oneOf(from, text, diag.Span{}, out)
	}
}

func (k Key) oneOf(from, text string, sp diag.Span, out *diag.List) bool {
	if slices.Contains(k.among, text) {
		return true
	}
	d := out.Errorf("unknown-name", sp, "%s must be %s, and is %q", from, oneOf(k.among), text)
	d.Nearest = diag.Nearest(text, k.among)
	return false
}

func (k Key) within(from string, n int, sp diag.Span, out *diag.List) bool {
	if n == 0 || n >= k.low && n <= k.high {
		return true
	}
	out.Errorf("bad-number", sp, "%s must be 0, or from %d to %d, and is %d", from, k.low, k.high, n)
	return false
}

func oneOf(words []string) string {
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// readFlags reads the flags that were given.
func readFlags(fs *pflag.FlagSet, out *diag.List) map[string]any {
	m := map[string]any{}
	fs.Visit(func(f *pflag.Flag) {
		switch f.Name {
		case "layer":
			m["layers"], _ = fs.GetStringArray("layer")
		case "no-shipped":
			m["shipped"] = f.Value.String() != "true"
		case "json":
			m["output"] = map[bool]string{true: "json", false: "text"}[f.Value.String() == "true"]
		case "colour", "width":
			k, _ := lookup(f.Name)
			if value, ok := k.parse("--"+f.Name, f.Value.String(), out); ok {
				m[k.Name] = value
			}
		}
	})
	return m
}

// check sees to what no single source can see: that no layer is there twice.
func (c *Config) check(out *diag.List) {
	seen := map[string]bool{}
	for _, dir := range c.Layers {
		full, err := filepath.Abs(dir)
		if err != nil {
			full = filepath.Clean(dir)
		}
		if seen[full] {
			out.Errorf("given-twice", diag.Span{}, "the layer %s is given twice", dir)
		}
		seen[full] = true
	}
}

// open reads a file; ok is false when it is not there and need not be.
func open(path string, must bool, out *diag.List) (text []byte, ok bool) {
	if path == "" {
		return nil, false
	}
	text, err := os.ReadFile(path)
	switch {
	case err == nil:
		return text, true
	case os.IsNotExist(err) && !must:
	default:
		out.Errorf("file-unreadable", diag.Span{}, "the settings file can't be read: %s", err)
	}
	return nil, false
}
