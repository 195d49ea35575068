// Package rulesets holds the ruleset that the program comes with, as files. Whoever judges by it loads it as the lowest
// layer of a stack; a house lays its own layers above it and never edits it.
package rulesets

import (
	"embed"
	"io/fs"
)

//go:embed diamond-desk
var files embed.FS

// Name is that of the shipped layer, as messages and verdicts show it before a file's path.
const Name = "diamond-desk"

// FS is the shipped ruleset: rules, materials, tests and policy in folders of their own.
func FS() fs.FS {
	sub, err := fs.Sub(files, Name)
	if err != nil {
		panic(err) // only an invalid path fails, and Name is a constant
	}
	return sub
}
