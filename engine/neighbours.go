package engine

import (
	"whystone/kb"
	"whystone/kb/vocab"
)

// Two people call one stone violet and purple. Where a test's sheet lists the neighbours of its outcomes, one that
// belongs to a material counts softly for what a neighbour of it is called, and what has a neighbour that the sheet
// names is excluded by no sheet.

// called is how likely each choice is read, where p is how likely it is: part of those that are one thing are called
// each of its neighbours. What the sheet leaves unsaid is not called what it says is never seen, so that only what it
// names lifts a "never".
func called(o *vocab.Observable, p []float64, words map[string]kb.Frequency) []float64 {
	if o.Neighbour == 0 {
		return p
	}
	out := make([]float64, len(p))
	for j, is := range p {
		_, said := words[o.Outcomes[j].Name]
		near := o.Outcomes[j].Neighbours.Members()
		kept := is
		for _, k := range near {
			if said || words[o.Outcomes[k].Name] != kb.Never {
				part := is * o.Neighbour / float64(len(near))
				out[k] += part
				kept -= part
			}
		}
		out[j] += kept
	}
	return out
}

// calledFeatures is how likely each feature is told, where p is how likely it is seen, or NaN if nothing is said of it:
// it is there, or a neighbour is there and called by its name. A feature of which nothing is said is as frequent as on
// stones in general.
func calledFeatures(o *vocab.Observable, p []float64) []float64 {
	if o.Neighbour == 0 {
		return p
	}
	out := make([]float64, len(p))
	for j := range p {
		out[j] = p[j]
		not := 1 - o.Outcomes[j].Background
		if given(p[j]) {
			not = 1 - p[j]
		}
		for _, k := range o.Outcomes[j].Neighbours.Members() {
			if !given(p[k]) || p[k] == 0 {
				continue
			}
			not *= 1 - p[k]*o.Neighbour/float64(len(o.Outcomes[k].Neighbours.Members()))
			out[j] = 1 - not
		}
	}
	return out
}
