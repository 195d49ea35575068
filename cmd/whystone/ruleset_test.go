package main

import (
	"testing"

	"github.com/spf13/pflag"

	"whystone/cmd/whystone/config"
	"whystone/rulesets"
)

// TestRulesetsOfTheSetting: the setting knows each shipped ruleset, and begins with one.
func TestRulesetsOfTheSetting(t *testing.T) {
	for _, name := range append(rulesets.Names(), "") {
		fs := pflag.NewFlagSet("test", pflag.ContinueOnError)
		config.AddFlags(fs)
		if name != "" {
			if err := fs.Set("ruleset", name); err != nil {
				t.Fatal(err)
			}
		}
		c, found := config.Load(fs, config.Env{"HOME=" + t.TempDir()})
		if c == nil || name != "" && c.Ruleset != name || len(rulesets.Layers(c.Ruleset)) == 0 {
			t.Errorf("%q: %v %v", name, c, found)
		}
	}
}
