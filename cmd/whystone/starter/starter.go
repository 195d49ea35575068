// Package starter holds files to begin with: a case, a rule, a table, a material, a test, and the layer of a house,
// each with comments that say what stands where. Each loads as it is over the shipped ruleset.
package starter

import (
	"bytes"
	"embed"
	"regexp"
	"slices"
	"strings"
	"text/template"
)

//go:embed files/*.yaml
var files embed.FS

var templates = template.Must(template.ParseFS(files, "files/*.yaml"))

// House is the kind of file that a layer begins with.
const House = "house"

// Kinds lists what can be begun, house aside.
var Kinds = []string{"case", "rule", "table", "material", "test"}

// id is what a sheet may be called.
var id = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// Named tells whether a name can be an id: words of a-z and 0-9 with hyphens between them. Cases may have any.
func Named(kind, name string) bool { return kind == "case" && name != "" || id.MatchString(name) }

// File is a file of a kind with what it begins called by an id.
func File(kind, id string) (string, bool) {
	if kind != House && !slices.Contains(Kinds, kind) {
		return "", false
	}
	var out bytes.Buffer
	err := templates.ExecuteTemplate(&out, kind+".yaml", map[string]string{
		"ID": id, "Name": strings.ReplaceAll(id, "-", " "), "Snake": strings.ReplaceAll(id, "-", "_")})
	return out.String(), err == nil
}
