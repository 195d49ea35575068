package phrase

// The verdict, and what stands beside its name.
var (
	_          = under("The verdict")
	Identified = verdict("identified", "Identified: {in verdicts}.", "identified as {full}")
	CommonHere = verdict("common-here",
		" It is named as what this counter sees most: the readings fit {other} {nearly}.",
		", as what this counter sees most: it may be {other}")
	TellApart     = code("tells-apart", " {Tests} would tell them apart.")
	NarrowedToOne = verdict("narrowed-to-one", "Narrowed, not identified: {in verdicts}.", "narrowed to {thing}")
	NarrowedTo    = verdict("narrowed", "Narrowed to {any node}.", "narrowed to {any node}")
	Contradictory = verdict("contradictory", "Contradictory: the readings can't all be true of one listed stone.",
		"contradictory")
	MaybeNotListed = verdict("contradictory-or-not-listed",
		"Contradictory: no listed stone fits all these readings. Either the stone is not on this list, or a reading "+
			"is wrong.", "contradictory, or not on this list")
	LikelyOffList = verdict("contradictory-not-listed",
		"Contradictory: no listed stone fits all these readings. The stone is likely not on this list.",
		"contradictory, or not on this list")
	RulesFaulty = verdict("rules-faulty", "Inconclusive: {the rules} could not be evaluated.",
		"inconclusive, as a rule can't be evaluated")
	NothingFits = verdict("nothing-listed-fits",
		"Inconclusive: no listed stone fits all these readings. The stone is likely not on this list.",
		"inconclusive, and likely not on this list")
	AllWithheld = verdict("names-withheld",
		"Inconclusive: no name that the readings fit may be given yet. {own words}",
		"inconclusive, as no name that the readings fit may be given yet")
	NothingCounts = verdict("no-reading-counts", "Inconclusive: no reading counts that tells stones apart.",
		"inconclusive")
	TooManyOpen = verdict("too-many-open", "Inconclusive: the readings leave too many materials open.",
		"inconclusive")
	UnlistedOpen = verdict("unlisted-open",
		"Inconclusive: the readings do not rule out well enough that it is a stone that is not on this list.",
		"inconclusive")
	Lift      = code("may-settle", " What may settle that: {tests}.")
	LiftAmong = code("may-settle-among", " What may settle that: {tests}, or another such test.")
)

// The answer to a claim, and what decided it.
var (
	_               = under("The answer to a claim")
	ClaimStands     = code("claim-stands", `The readings agree with the claim "{text}".`)
	ClaimStandsAs   = code("claim-stands-as", `The readings agree with the claim "{text}": {why}.`)
	ClaimUnlikely   = code("claim-unlikely", `The readings speak against the claim "{text}".`)
	ClaimFalls      = code("claim-falls", `The readings rule out the claim "{text}": {why}.`)
	ClaimOffList    = code("claim-off-the-list", `The readings rule out the claim "{text}": {within}.`)
	ClaimOpen       = code("claim-open", `The claim "{text}" stays open: {why}.`)
	GroupStands     = code("group-stands", " The readings agree with the material claimed, {node}.")
	GroupFalls      = code("group-falls", " They speak against the material claimed, {node}.")
	UnknownWord     = code("unknown-word", "nobody here knows the word")
	NothingOfOrigin = code("nothing-of-origin", "no listed stone is what it claims")
	RuleFault       = code("rule-fault", "a rule could not be evaluated")
	NotListed       = verdict("not-listed",
		"no listed stone fits all readings, and what it names is not ruled out for good",
		"two kinds of evidence rule out all that it names")
	Contradiction  = code("contradiction", "the readings can't all be true of one listed stone")
	NamedOther     = code("named-other", "the stone is {a node}")
	OtherColour    = code("other-colour", "it is {a node}, of another colour than the word demands")
	BesideWithheld = code("name-withheld", "it is not told yet from what it may be confused with")
	OwnExcluded    = code("own-excluded", "it is {a node}, and what is claimed of it is ruled out")
	OthersExcluded = code("others-excluded", "it is {a node}, and every other origin of it is ruled out")
	OriginOpen     = code("origin-open", "it is {a node}, and no more than that is determined")
	TooUnlikely    = code("too-unlikely", "the readings speak against it")
	Named          = code("named", "the readings agree with it")
	SentOn         = code("sent-on", "the readings agree with it, but this stone goes to a laboratory")
	ColourNotRead  = code("colour-not-read",
		"the readings agree with it, but the colour that the word demands was not read")
	GrownNotListed = code("grown-not-listed",
		"the readings agree with it, but a laboratory-grown stone may read the same")
	NotEnough = code("not-enough", "the readings do not decide it")
)

// What is asked on the way to a verdict, as it came out.
var (
	_               = under("What is checked on the way to a verdict")
	AllExcluded     = code("all-excluded", "every material is excluded")
	MistakenReading = code("mistaken-reading",
		"one mistaken reading explains the case better than anything left: {node}, excluded by {observables}, is "+
			"{times} likelier than {other}")
	OffList = code("off-the-list",
		"nothing on the list fits all readings: something that is not on it is likelier than all materials together")
	PerhapsOffList = code("perhaps-off-the-list",
		"no material listed here fits all readings: one of them is wrong, or the stone is not on the list")
	Consistent    = code("consistent", "the readings can be true together")
	ShareHeld     = code("share-held", "{node} has the share of the whole weight that the house requires")
	NoneHolds     = code("none-holds", "no listed stone holds the share of all that is required at this stake")
	TwoHold       = code("two-hold", "no single name holds enough: the readings fit {node}, and {other} too")
	DoubtBorne    = code("doubt-borne", "no more hangs on a single reading being right than the house allows")
	DoubtTooLarge = code("doubt-too-large",
		"too much hangs on a single reading being right: repeat it, or add a test of another kind")
	Supported = code("supported", "it is supported by {families}, and by more than one test")
	NoSupport = code("no-support", "no kind of evidence supports it; two are needed, by two tests")
	OneFamily = code("one-family",
		"only one kind of evidence supports it ({families}); two are needed, by two tests")
	OneTest     = code("one-test", "{families} support it, but by one test alone; two tests are needed")
	RivalAhead  = code("rival-ahead", "the readings fit {other} better than {node}")
	RivalAlike  = code("rival-alike", "the readings fit {other} as well as {node}")
	RivalBehind = code("rival-behind",
		"the readings are {times} likelier on {node} than on {other}; {needed} are needed")
	Withheld      = code("withheld", "{node} is not named yet: {own words}")
	WithheldAll   = code("withheld-all", "no name that the readings fit may be given yet: {own words}")
	GrowthUnknown = code("growth-unknown",
		"{species} may be grown in a laboratory too, and no sheet here says how that would show")
	GrowthOpen = code("growth-open", "{node} is not named while nothing rules out {nodes}")
	TooMany    = code("too-many", "the readings fit more than {count} materials, too many to name")
	TooLittle  = code("too-little",
		"what stays open on the list does not hold together as much as is required: the rest is what is not on it")
	NarrowEnough = code("narrow-enough",
		"what it is narrowed to holds the share that is required, at the house's priors and at equal ones")
)

// What a verdict still lacks, beside what was checked.
var (
	_            = under("What is missing")
	SoundRules   = code("sound-rules", "a ruleset whose rules can all be evaluated on this case")
	TakeAgain    = code("take-again", "repeat {observables}")
	NoneToRepeat = code("none-to-repeat",
		"no reading that could be repeated resolves it: look for a material that is not listed")
	AnyReading    = code("any-reading", "a reading that tells materials apart: none of those given counts")
	SecondReading = code("second-reading", "a second reading, by another test: one alone never decides")
)

// How strongly the readings speak for a name.
var (
	_              = under("How strongly the readings speak for a name")
	NoLikelier     = code("no-likelier", "these readings are no likelier on {node} than on the next best, {other}")
	SoLikely       = code("so-likely", "these readings are {about} likelier on {node} than on the next best, {other}")
	InWordsOfScale = code("in-words-of-scale", ": {text} support (policy of this house, ENFSI 2015 bands)")
	InWordsOfOwn   = code("in-own-words", ": {text} support (policy of this house, bands of its own)")
)
