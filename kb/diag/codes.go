package diag

import (
	"slices"
	"strings"
)

// Code is the name of a kind of diagnostic. It stays the same for ever, as sheets accept findings and other programs
// sort them by it.
type Code string

// Explanation is what is known of a code: one line, and what stands behind it and what to do.
type Explanation struct {
	Code Code   `json:"code"`
	Says string `json:"says"`
	Help string `json:"help"`
}

// known is every explanation, sorted by code. Packages put theirs in while the program starts, so that nothing is
// written once it runs.
var known []Explanation

// New makes a code known, with its line and what stands behind it. Packages make those of what they find while the
// program starts. A code that is there already is a mistake in the program.
func New(code Code, says, help string) Code {
	i, taken := find(code)
	if taken {
		panic("the code " + string(code) + " is registered twice")
	}
	known = slices.Insert(known, i, Explanation{code, says, help})
	return code
}

func find(code Code) (int, bool) {
	return slices.BinarySearchFunc(known, code,
		func(e Explanation, code Code) int { return strings.Compare(string(e.Code), string(code)) })
}

// Explain finds the explanation of a code.
func Explain(code Code) (Explanation, bool) {
	i, ok := find(code)
	if !ok {
		return Explanation{}, false
	}
	return known[i], true
}

// Known tells whether a code is registered.
func Known(code Code) bool {
	_, ok := find(code)
	return ok
}

// CodeInfo explains a code in one line.
type CodeInfo struct {
	Code Code   `json:"code"`
	Says string `json:"says"`
}

// Codes returns every code with its line, sorted.
func Codes() []CodeInfo {
	out := make([]CodeInfo, len(known))
	for i, e := range known {
		out[i] = CodeInfo{e.Code, e.Says}
	}
	return out
}

// Words lists the codes, sorted.
func Words() []string {
	out := make([]string, len(known))
	for i, e := range known {
		out[i] = string(e.Code)
	}
	return out
}
