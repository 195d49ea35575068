// Package casebook is what a house keeps of its cases: an append-only log of events, of which everything else follows.
//
// An [Event] says what was done to one case, by whom and when. Nothing is ever changed or taken out of the log: a
// reading that was wrong is corrected or withdrawn by another event. What a case is now is a [State], folded from its
// events; it can be thrown away and made again.
//
// Each event is kept as canonical JSON (RFC 8785) with its SHA-256, and holds the hash of the event before it. The hash
// of the last event, the [Head], stands on every report that is printed, so that a log that was rewritten or cut since
// then no longer fits the report.
//
// Customers' particulars, notes and pictures are held apart from the events, each with a random salt. The event holds
// only the SHA-256 of salt and content. Once both are erased the hash says nothing, and the chain is whole all the
// same.
//
// A [Store] keeps records and knows nothing of what they mean. A [Book] is the one way to write: it makes the events,
// checks them against the state that they meet, and hands the store all of a write at once.
package casebook
