package judging

import (
	"slices"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/catalog"
	"whystone/kb"
)

// Query reads what is looked for in the casebook. A material is found by any of its names, when there are rules to know
// it by.
func Query(parts []string, rules func() (*kb.Ruleset, error)) (*casebook.Query, error) {
	parts = slices.Clone(parts)
	for i, part := range parts {
		key, name, ok := strings.Cut(part, "=")
		if !ok || key != "material" && key != "truth" {
			continue
		}
		rs, err := rules()
		if err != nil {
			continue // it can only be an id then
		}
		if m, err := catalog.FindMaterial(rs, name); err == nil {
			parts[i] = key + "=" + m.ID
		}
	}
	return casebook.ParseQuery(parts)
}
