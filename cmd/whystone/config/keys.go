// Package config reads the program's settings: a file, then variables of the environment, then flags, each over the one
// before. It is the only package that knows viper.
//
// Nothing here can change a verdict by itself, except which layers of rules are read: whatever weighs in a verdict is
// policy, stands in a layer, and so in the digest of the ruleset.
package config

import (
	"slices"
	"strings"

	"whystone/kb/english"
)

// Config is the settings, checked.
type Config struct {
	Book    string   `mapstructure:"book"`    // the folder of the casebook
	Layers  []string `mapstructure:"layers"`  // folders above the shipped ruleset, lowest first
	Ruleset string   `mapstructure:"ruleset"` // which shipped ruleset
	Shipped bool     `mapstructure:"shipped"` // whether the shipped ruleset is the lowest layer
	Output  string   `mapstructure:"output"`  // text or json
	Colour  string   `mapstructure:"colour"`  // auto, always or never
	Width   int      `mapstructure:"width"`   // columns; 0: the terminal's, at most 80
	File    string   `mapstructure:"-"`       // the file that was read, or ""
}

// Prefix begins the name of every variable that is read: WHYSTONE_WIDTH.
const Prefix = "WHYSTONE_"

// kind is what a setting's value is.
type kind int

const (
	words  kind = iota // one of a few words
	truth              // true or false
	number             // a whole number
	list               // folders
	folder             // one folder
)

// Key is a setting.
type Key struct {
	Name    string
	Default any
	Says    string
	Flag    string // the flag that sets it, as it is written
	kind    kind
	among   []string
	low     int
	high    int
	given   map[string]string // what the flag's text says of the key, where it says something else
}

// The widths that are laid out for.
const (
	narrowest = 40
	widest    = 400
)

// Within is the width nearest to so many columns that is laid out for.
func Within(columns int) int { return min(max(columns, narrowest), widest) }

// keys is the one table of settings, sorted by name.
var keys = []Key{
	{Name: "book", Default: "", kind: folder, Flag: "--book",
		Says: "the folder that holds the casebook; in a file relative to it"},
	{Name: "colour", Default: "auto", kind: words, among: []string{"auto", "always", "never"}, Flag: "--colour",
		//nolint:misspell // it is spelt so
		Says: "auto, always or never; auto is colour on a terminal, unless NO_COLOR is set"},
	{Name: "layers", Default: []string{}, kind: list, Flag: "--layer",
		Says: "folders with the house's own rules, laid above the shipped ones in this order; in a file relative to it"},
	{Name: "output", Default: "text", kind: words, among: []string{"text", "json"}, Flag: "--json",
		given: map[string]string{"true": "json", "false": "text"}, Says: "text or json"},
	{Name: "ruleset", Default: "diamond-desk", kind: words, among: []string{"diamond-desk", "gem-desk"},
		Flag: "--ruleset", Says: "which shipped ruleset: diamond-desk, or gem-desk, which lies above it and has " +
			"every stone of the counter"},
	{Name: "shipped", Default: true, kind: truth, Flag: "--no-shipped",
		given: map[string]string{"true": "false", "false": "true"},
		Says:  "whether the shipped ruleset is the lowest layer"},
	{Name: "width", Default: 0, kind: number, low: narrowest, high: widest, Flag: "--width",
		Says: "columns of text, 40 to 400; 0 takes the terminal's, at most 80, or what COLUMNS says where there is none"},
}

// Keys lists the settings, sorted by name.
func Keys() []Key { return slices.Clone(keys) }

// Variable is the name of the variable that sets a key.
func (k Key) Variable() string { return Prefix + strings.ToUpper(k.Name) }

func lookup(name string) (Key, bool) {
	i := slices.IndexFunc(keys, func(k Key) bool { return k.Name == name })
	if i < 0 {
		return Key{}, false
	}
	return keys[i], true
}

func names() []string {
	return english.Each(keys, func(k Key) string { return k.Name })
}

// others are variables with our prefix that are no settings: where the file is, the details of a fault, and what the
// test suite reads.
var others = []string{"WHYSTONE_CONFIG", "WHYSTONE_DEBUG", "WHYSTONE_REQUIRE_ALL", "WHYSTONE_UPDATE"}

func variables() []string {
	return slices.Concat(others, english.Each(keys, Key.Variable))
}
