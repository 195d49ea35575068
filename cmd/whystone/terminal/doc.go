// Package terminal writes verdicts, chains of reasoning and sheets as plain text for a person at a counter.
//
// A [Printer] knows the width of the terminal and whether it shows colour. Everything it writes is wrapped to the
// width, and whatever could command a terminal is taken out. Colour only repeats what the words and the layout say
// already: bold for what matters first, dim for what is there to be looked up, one accent for the verdict. Nothing is
// red or green, because a verdict is no lamp.
//
// A share of the weight depends on what a house sees at its counter and is no probability that the stone is this or
// that; no text here tells one. What is told is support: how many times likelier the readings are under one material
// than under another, in the words of the policy's scale.
package terminal
