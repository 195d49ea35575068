// Package rulesets holds the rulesets that the program comes with, as files. Whoever judges by one loads its layers as
// the lowest of a stack; a house lays its own layers above them and never edits them.
package rulesets

import (
	"embed"
	"io/fs"
	"slices"
)

// The shipped rulesets. DiamondDesk is for a counter that sees what is offered as diamond, GemDesk for one that every
// stone crosses: it is a layer above the other.
const (
	DiamondDesk = "diamond-desk"
	GemDesk     = "gem-desk"
)

//go:embed diamond-desk gem-desk
var files embed.FS

// stacks are the layers of each ruleset, lowest first. A layer is known by its name, in messages and before a file's
// path.
var stacks = [][]string{{DiamondDesk}, {DiamondDesk, GemDesk}}

// Names lists the shipped rulesets, each by its uppermost layer.
func Names() (out []string) {
	for _, stack := range stacks {
		out = append(out, stack[len(stack)-1])
	}
	return out
}

// Layers are the names of a ruleset's layers, lowest first; none for a name that no shipped ruleset has.
func Layers(name string) []string {
	i := slices.Index(Names(), name)
	if i < 0 {
		return nil
	}
	return slices.Clone(stacks[i])
}

// FS is the files of a shipped layer: rules, materials, tests and policy in folders of their own.
func FS(layer string) fs.FS {
	sub, err := fs.Sub(files, layer)
	if err != nil {
		panic(err) // only an invalid path fails, and layers are named above
	}
	return sub
}
