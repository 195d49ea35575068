package engine

import (
	"fmt"

	"whystone/kb/casefile"
)

var groundCodes = [...]string{NoGround: "", UnknownWord: "unknown-word", NothingOfOrigin: "nothing-of-origin", RuleFault: "rule-fault",
	NothingListed: "not-listed", Contradiction: "contradiction", NamedOther: "named-other", OtherColour: "other-colour",
	BesideWithheld: "name-withheld", OwnExcluded: "own-excluded", OthersExcluded: "others-excluded", OriginOpen: "origin-open",
	TooUnlikely: "too-unlikely", Named: "named", SentOn: "sent-on", ColourNotRead: "colour-not-read", GrownNotListed: "grown-not-listed",
	NotEnough: "not-enough"}

// String is the word for programs.
func (g Ground) String() string { return groundCodes[g] }

// ground says what decided an answer.
func (j *Judge) ground(d *Decision, g Ground, a Answer) Reason {
	return Reason{Code: groundCodes[g], Says: j.groundSays(d, g, a)}
}

// GroundSays is why the claim of the case decided last has its answer, as a part of a sentence.
func (j *Judge) GroundSays(d *Decision) string { return j.groundSays(d, d.Claim.Why, d.Claim.Answer) }

func (j *Judge) groundSays(d *Decision, g Ground, a Answer) string {
	switch g {
	case UnknownWord:
		return "nobody here knows the word"
	case NothingOfOrigin:
		return "no listed stone is what it claims"
	case RuleFault:
		return "a rule could not be evaluated"
	case NothingListed:
		if a == Falls {
			return "two kinds of evidence rule out all that it names"
		}
		return "no listed stone fits all readings, and what it names is not ruled out for good"
	case Contradiction:
		return "the readings can't all be true of one listed stone"
	case NamedOther:
		return "the stone is " + j.nameOf(d.Named)
	case OtherColour:
		return fmt.Sprintf("it is %s, of another colour than the word demands", j.nameOf(d.Named))
	case BesideWithheld:
		return "it is not told yet from what it may be confused with"
	case OwnExcluded:
		return fmt.Sprintf("it is %s, and what is claimed of it is ruled out", j.nameOf(d.Named))
	case OthersExcluded:
		return fmt.Sprintf("it is %s, and all else that it may be is ruled out", j.nameOf(d.Named))
	case OriginOpen:
		return fmt.Sprintf("it is %s, but whether natural or laboratory-grown is not determined", j.nameOf(d.Named))
	case TooUnlikely:
		return "the readings speak against it"
	case Named:
		return "the readings agree with it"
	case SentOn:
		return "the readings agree with it, but this stone goes to a laboratory"
	case ColourNotRead:
		return "the readings agree with it, but the colour that the word demands was not read"
	case GrownNotListed:
		return "the readings agree with it, but a laboratory-grown stone may read the same"
	case NotEnough:
		return "the readings do not decide it"
	}
	return ""
}

// claimSays answers the claim in words, with the reason.
func (j *Judge) claimSays(c *casefile.Case, d *Decision) string {
	a := &d.Claim
	why := j.groundSays(d, a.Why, a.Answer)
	switch {
	case a.Answer == Stands:
		return fmt.Sprintf("The readings agree with the claim %q%s.", c.ClaimSays, map[bool]string{true: ": " + why}[a.Why != Named])
	case a.Answer == Falls && a.Why == TooUnlikely:
		return fmt.Sprintf("The readings speak against the claim %q.", c.ClaimSays)
	case a.Answer == Falls:
		return fmt.Sprintf("The readings rule out the claim %q: %s.", c.ClaimSays, why)
	}
	says := fmt.Sprintf("The claim %q stays open: %s.", c.ClaimSays, why)
	switch {
	case a.Group == nil || a.GroupAnswer == a.Answer:
	case a.GroupAnswer == Stands && a.Why != OriginOpen: // there it is told by the reason
		says += fmt.Sprintf(" The readings agree with the material claimed, %s.", j.nameOf(a.Group))
	case a.GroupAnswer == Falls:
		says += fmt.Sprintf(" They speak against the material claimed, %s.", j.nameOf(a.Group))
	}
	return says
}
