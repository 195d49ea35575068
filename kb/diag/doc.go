// Package diag holds what every stage reports: a diagnostic, which is a value until the edge, and the texts it points
// into. It is a leaf: it imports nothing else of this module, so that the rule language, the loader, the command line
// and the desk can all share one form of error.
//
// A [Source] is a text with a name. A [Span] is a range of its bytes. A [Diagnostic] says what is wrong, where, why and
// what may have been meant; a [List] gathers many, so that whoever edits ten rules gets ten messages. Two writers turn
// a list into something to read: [WriteText] for people and [WriteJSON] for programs.
//
// Offsets are bytes everywhere inside the program. [Source.Position] is the one place that turns them into lines,
// runes and UTF-16 units.
package diag
