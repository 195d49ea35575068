package proofread

import (
	"fmt"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
)

var frequenciesOver = diag.New("frequencies-over",
	"A sheet gives outcomes of which one is read as seen more often than all together can be.",
	`One outcome of a choice is read at a time, so that two can't both be usual, and none beside one that is always there. Words
for what is seen sometimes may add up to more than the whole, and are reckoned in proportion; those for half of the time and more
may not.`)

func init() { Register(Check{Order: 82, Look: frequencies, Finds: []diag.Code{frequenciesOver}}) }

// half is how often an outcome is seen from which on it counts as more than sometimes.
const half = 0.5

// frequencies finds outcomes that are seen more often than all together can be: they are reckoned in proportion, which
// is not what their words say.
func frequencies(p *Pass) {
	for _, m := range p.Ruleset.Nodes {
		for _, o := range p.Ruleset.Vocabulary.Observables {
			f := m.Choices[o.Name]
			if f == nil || f.SaidBy != m {
				continue
			}
			var large, others []string
			sum, whole := 0.0, false
			for _, c := range o.Outcomes {
				w := f.Words[c.Name]
				x := p.Ruleset.Policy.Frequency[w]
				switch says := c.Name + " " + string(w); {
				case w == "" || w == kb.Never || w == kb.Rarely:
				case x >= half:
					large, sum, whole = append(large, says), sum+x, whole || w == kb.Always
				default:
					others = append(others, says)
				}
			}
			if sum <= 1+1e-9 && (!whole || len(others) == 0) {
				continue
			}
			if whole {
				large = append(large, others...)
			}
			p.warnOf(sheetOf(m), f.Span, frequenciesOver, "%s of %s can't be %s: one of them is read at a time", o.Name,
				named(m), english.List(large, "and")).Detail = fmt.Sprintf("By the policy's numbers they come to %.2g "+
				"stones of each one. Say how often each is seen among all stones of the material.", sum)
		}
	}
}
