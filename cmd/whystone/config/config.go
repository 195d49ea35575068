package config

import (
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"

	"whystone/kb/diag"
	"whystone/kb/english"
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
	fs.String("book", "", "`folder` of the casebook (default: whystone in your data folder)")
	fs.String("config", "", "settings `file` (default: whystone/config.yaml in your configuration folder)")
	fs.StringArray("layer", nil, "`folder` with rules of the house, above the shipped ones; may be repeated")
	fs.String("ruleset", "diamond-desk", "shipped `ruleset` to judge by: diamond-desk, or gem-desk for every stone")
	fs.Bool("no-shipped", false, "leave the shipped ruleset out")
	fs.Bool("json", false, "write JSON, an object a line")
	fs.String("colour", "auto", "`when` to use colour: auto, always or never")
	fs.Int("width", 0, "`columns` of text, 40 to 400 (default: the terminal's, at most 80; where there is none, "+
		"COLUMNS)")
}

// Load reads the settings. With an error in the list the settings are nil.
func Load(fs *pflag.FlagSet, env Env) (*Config, diag.List) {
	var out diag.List
	l := loader{flags: fs, found: &out}
	l.viper = viper.NewWithOptions(viper.WithDecoderRegistry(&l))
	for _, k := range keys {
		l.viper.SetDefault(k.Name, k.Default)
		// It fails only for a flag that is not there.
		_ = l.viper.BindFlagValue(k.Name, flagValue{fs.Lookup(strings.TrimPrefix(k.Flag, "--")), k.given})
	}
	l.readFile(env)
	if err := l.viper.MergeConfigMap(readEnv(env, &out)); err != nil {
		out.Errorf(diag.WrongKind, diag.Span{}, "the variables can't be laid over the settings file: %s", err)
	}
	l.check()
	c := &Config{File: l.path}
	if !out.HasErrors() {
		if err := l.viper.UnmarshalExact(c); err != nil {
			out.Errorf(diag.WrongKind, diag.Span{}, "the settings can't be read: %s", err)
		}
	}
	c.check(&out)
	if out.HasErrors() {
		out.Sort()
		return nil, out
	}
	if c.Book == "" {
		if dir := dataDir(env); dir != "" {
			c.Book = filepath.Join(dir, "whystone")
		}
	}
	return c, out
}

// loader is one reading of the settings.
type loader struct {
	viper *viper.Viper
	flags *pflag.FlagSet
	path  string // of the settings file, "" where there is none
	found *diag.List
}

// check sees to the values that count. What is wrong in the file was told when it was read, and is left out.
func (l *loader) check() {
	for _, k := range keys {
		from := "the variable " + k.Variable()
		if l.flags.Changed(strings.TrimPrefix(k.Flag, "--")) {
			from = k.Flag
		}
		k.check(from, l.viper.Get(k.Name), diag.Span{}, l.found)
		if f := l.flags.Lookup(strings.TrimPrefix(k.Flag, "--")); k.kind == list && f != nil {
			if given, ok := f.Value.(pflag.SliceValue); ok && slices.Contains(given.GetSlice(), "") {
				emptyLayer(l.found) // which its text would not show
			}
		}
	}
}

// emptyLayer refuses a layer without a name: the desk would judge by fewer rules than it thinks.
func emptyLayer(out *diag.List) {
	out.Errorf(diag.BadText, diag.Span{}, "a layer is the name of a folder, and one is empty").
		Detail = "Perhaps the variable that holds the name is not set."
}

// flagValue is a flag as viper sees it.
type flagValue struct {
	*pflag.Flag
	given map[string]string // what its text says as a value of the key, where it isn't the value itself
}

func (f flagValue) HasChanged() bool { return f.Changed }
func (f flagValue) Name() string     { return f.Flag.Name }

func (f flagValue) ValueType() string {
	if f.given != nil {
		return "string"
	}
	return f.Value.Type()
}

func (f flagValue) ValueString() string {
	if said, ok := f.given[f.Value.String()]; ok {
		return said
	}
	return f.Value.String()
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
	home, apple := env.Get("HOME"), runtime.GOOS == "darwin" || runtime.GOOS == "ios"
	switch dir := env.Get("XDG_CONFIG_HOME"); {
	case runtime.GOOS == "windows":
		return env.Get("AppData")
	case !apple && filepath.IsAbs(dir):
		return dir
	case home == "":
		return ""
	case apple:
		return filepath.Join(home, "Library", "Application Support")
	}
	return filepath.Join(home, ".config")
}

// dataDir is the user's folder for what programs keep: of the XDG Base Directory Specification, and its like elsewhere.
func dataDir(env Env) string {
	switch home := env.Get("HOME"); {
	case runtime.GOOS == "windows":
		return env.Get("LocalAppData")
	case home == "" || runtime.GOOS == "darwin" || runtime.GOOS == "ios":
		return userDir(env)
	case filepath.IsAbs(env.Get("XDG_DATA_HOME")):
		return env.Get("XDG_DATA_HOME")
	default:
		return filepath.Join(home, ".local", "share")
	}
}

// readEnv reads the variables that begin with our prefix. viper would look into this process's own environment, and not
// see one that nobody reads: that is an error, as a misspelt name would otherwise be passed over in silence, and the
// desk judge by other rules than it thinks.
func readEnv(env Env, out *diag.List) map[string]any {
	m := map[string]any{}
	for _, kv := range env {
		name, text, _ := strings.Cut(kv, "=")
		if !strings.HasPrefix(name, Prefix) || slices.Contains(others, name) {
			continue
		}
		k, ok := lookup(strings.ToLower(strings.TrimPrefix(name, Prefix)))
		switch {
		case !ok || name != k.Variable():
			d := out.Errorf(diag.UnknownKey, diag.Span{}, "no setting is read from the variable %s", name)
			d.Nearest = diag.Nearest(name, variables())
		case text == "":
		case k.kind == list:
			m[k.Name] = filepath.SplitList(text)
		default:
			m[k.Name] = text
		}
	}
	return m
}

// check tells whether a value is one that the key may have: a word, a number, or the text of one.
func (k Key) check(from string, value any, sp diag.Span, out *diag.List) bool {
	text := fmt.Sprint(value)
	switch k.kind {
	case truth:
		if text == "true" || text == "false" {
			return true
		}
		out.Errorf(diag.WrongKind, sp, "%s must be true or false, and is %q", from, text)
	case number:
		n, err := strconv.Atoi(text)
		switch {
		case err != nil:
			out.Errorf(diag.BadNumber, sp, "%s must be a whole number, and is %q", from, text)
		case n != 0 && (n < k.low || n > k.high):
			out.Errorf(diag.BadNumber, sp, "%s must be 0, or from %d to %d, and is %d", from, k.low, k.high, n)
		default:
			return true
		}
	case words:
		if slices.Contains(k.among, text) {
			return true
		}
		out.Errorf(diag.UnknownName, sp, "%s must be %s, and is %q", from, english.List(k.among, "or"),
			text).Nearest = diag.Nearest(text, k.among)
	case list, folder:
		return true
	}
	return false
}

// check sees to what no single source can see: that each layer is named, and none twice.
func (c *Config) check(out *diag.List) {
	seen := map[string]bool{}
	for _, dir := range c.Layers {
		full, err := filepath.Abs(dir)
		if err != nil {
			full = filepath.Clean(dir)
		}
		switch {
		case dir == "":
			emptyLayer(out)
		case seen[full]:
			out.Errorf(diag.GivenTwice, diag.Span{}, "the layer %s is given twice", dir)
		}
		seen[full] = true
	}
}
