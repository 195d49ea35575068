// Package syntax reads YAML and JSON into one tree of nodes in which every node knows its place in the text, and gives
// strict readers that report several errors at once instead of stopping at the first.
//
// Well-formedness is the libraries' business: go.yaml.in/yaml/v4 parses YAML, encoding/json checks JSON. What this
// package adds is places (a start and an end for every node, and for every byte of a scalar's text through [Node.At]),
// and refusals: text is read for what its author saw, so whatever reads differently from how it looks is an error.
//
// Refused in both: invalid UTF-8, NUL, text over [MaxBytes], nesting over [MaxDepth], more values than
// [MaxValues], and a key given twice in one mapping. Refused in JSON besides: half a surrogate pair. Refused in YAML
// besides: anchors, aliases, merge keys, tags, directives, "? " keys, control characters and Unicode line separators,
// and a byte order mark anywhere but at the start.
//
// A node that has been reported as bad is silent: its readers return false and add nothing. So is a nil node.
package syntax
