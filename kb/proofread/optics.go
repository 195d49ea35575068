package proofread

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/vocab"
)

var opticsDisagree = diag.New("optics-disagree", "What a material's sheet says of its optics can't all be true.",
	`A singly refractive material has one index, so no birefringence and no optic sign; a doubly refractive one has some. The
difference of two rays is no larger than the range of the index, within which both lie. Such a sheet excludes stones that are the
material, on one of the two readings.`)

func init() { Register(Check{Order: 81, Look: optics, Finds: []diag.Code{opticsDisagree}}) }

// The words of the observables that optics look at, as every ruleset has them.
const (
	opticCharacter = "optic_character"
	opticSign      = "optic_sign"
	isotropic      = "isotropic"
)

// optics finds sheets whose index, birefringence, optic character and sign contradict each other. It is told of the
// node that says the last of it: what it inherits was sound without.
func optics(p *Pass) {
	for _, m := range p.Ruleset.Nodes {
		for _, c := range contradictions(p.Ruleset.Vocabulary, m) {
			if c.by != m && c.beside != m {
				continue
			}
			f := p.warnOf(sheetOf(m), c.at, opticsDisagree, "the sheet of %s %s", named(m), c.says)
			f.Detail, f.Related = c.detail, []diag.Related{{Span: c.other, Says: "beside this"}}
		}
	}
}

type contradiction struct {
	by, beside   *kb.Material // whose sheets say the two things
	at, other    diag.Span
	says, detail string
}

// contradictions are the pairs of statements of a sheet, its groups' included, that can't both be true.
func contradictions(v *vocab.Vocabulary, m *kb.Material) (out []contradiction) {
	ri, split, character, sign := m.Ranges[vocab.RefractiveIndex], m.Ranges[vocab.Birefringence],
		m.Choices[opticCharacter], m.Choices[opticSign]
	single := character != nil && only(v.Observable(opticCharacter), character, isotropic)
	double := character != nil && character.Single != isotropic && frequency(character, isotropic) == kb.Never
	switch {
	case split == nil:
	case single && split.High > 0:
		out = append(out, contradiction{split.SaidBy, character.SaidBy, split.Span, character.Span,
			fmt.Sprintf("gives a birefringence of up to %g to what is singly refractive", split.High),
			"Light goes through such a material at one speed: its birefringence is 0. What strain shows between " +
				"crossed filters is no birefringence of the material."})
	case double && split.High == 0:
		out = append(out, contradiction{split.SaidBy, character.SaidBy, split.Span, character.Span,
			"says that it is doubly refractive and has no birefringence",
			"What is never isotropic parts two rays, if little: its birefringence is above 0 somewhere."})
	}
	if ri != nil && split != nil && split.High > (ri.High-ri.Low)*(1+1e-9)+1e-9 {
		out = append(out, contradiction{split.SaidBy, ri.SaidBy, split.Span, ri.Span,
			fmt.Sprintf("gives a birefringence of up to %g, and an index from %g to %g", split.High, ri.Low, ri.High),
			"Both rays lie within the range of the index, so that they are no further apart than its ends. Widen the " +
				"one or correct the other."})
	}
	if single && sign != nil && slices.ContainsFunc([]string{"positive", "negative"},
		func(w string) bool { return spoken(sign, w) }) {
		out = append(out, contradiction{sign.SaidBy, character.SaidBy, sign.Span, character.Span,
			"gives an optic sign to what is singly refractive",
			"Only what has two rays has an optic sign. Take it out, or correct the optic character."})
	}
	return out
}

// only tells whether a sheet has one outcome alone, all others never or not at all.
func only(o *vocab.Observable, f *kb.Frequencies, outcome string) bool {
	if o == nil || !spoken(f, outcome) {
		return false
	}
	return !slices.ContainsFunc(o.Outcomes, func(c vocab.Outcome) bool {
		w := frequency(f, c.Name)
		return c.Name != outcome && c.Covers == 0 && w != "" && w != kb.Never && w != kb.Rarely
	})
}

// spoken tells whether a sheet gives an outcome as one that is seen.
func spoken(f *kb.Frequencies, outcome string) bool {
	w := frequency(f, outcome)
	return w != "" && w != kb.Never
}
