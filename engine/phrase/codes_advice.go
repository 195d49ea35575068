package phrase

// What to do next.
var (
	_        = under("What to do next")
	StopMend = code("stop-mend", "Stop: a rule can't be evaluated on this case, and no test changes that. The "+
		"ruleset has to be mended first.")
	StopSettled  = code("stop-settled", "Stop: the stone is {within}, and no further test is needed.")
	StopNameless = code("stop-nameless",
		"Stop: the claim is ruled out, and no test in the house can name the stone. If it must be named, send it to "+
			"a laboratory.")
	Surer          = code("test-for-surer", "The stone is {within}. At this stake a further test still makes it surer:")
	NextTest       = code("next-test", "Next:")
	AgainFirst     = code("again-first", "Take {observables} again first: {why}, and that is the likeliest mistake.")
	ElseLaboratory = code("else-laboratory", " If it stays, send the stone to a laboratory.")
	LabByRule      = code("laboratory-by-rule", "Send it to a laboratory: a rule of the house sends this stone on.")
	LabNoRepeat    = code("laboratory-no-repeat",
		"Send it to a laboratory: {why}. No reading whose repetition would help explains that.")
	LabSure = code("laboratory-to-be-sure",
		"Send it to a laboratory if the name must be sure: the readings fit {other} as well or nearly so, and no "+
			"test in the house tells them apart on this stone.")
	LabCloser = code("laboratory-for-closer-name",
		"Send it to a laboratory if it must be named more closely: the stone is {within}, and nothing that the house "+
			"can do lets a closer name be given.")
	LabClaim = code("laboratory-for-claim",
		"Send it to a laboratory if the claim must be settled: the stone is {within}, and no test in the house "+
			"decides the rest.")
	LabOneOf = code("laboratory-for-one-name",
		"Send it to a laboratory if one of them must be named: the stone is {within}, and no test in the house tells "+
			"these apart on this stone.")
	LabWithheld = code("laboratory-withheld",
		"Send it to a laboratory: no name that the readings fit may be given, and nothing that the house can do on "+
			"this stone changes that.")
	LabUndecided = code("laboratory-undecided",
		"Send it to a laboratory: no test that the house can do on this stone, nor all of them together, would "+
			"settle between {nodes}.")
	LabUnlisted = code("laboratory-unlisted",
		"Send it to a laboratory: no test that the house can do on this stone, nor all of them together, would "+
			"settle what it is.")
	Infeasible    = code("tests-infeasible", "{count} of the house's tests can't be done on this stone as it is.")
	NoLongerFight = code("without-no-contradiction",
		"Without {observables} the readings no longer contradict each other.")
	FitsListed = code("without-fits-listed",
		"Without {observables} the other readings fit something that is listed.")
)

// What a test is for.
var (
	_             = under("What a test is for")
	TestAlone     = code("test", "{Test}.")
	TestMinute    = code("test-a-minute", "{Test}, about a minute.")
	TestMinutes   = code("test-minutes", "{Test}, about {text} minutes.")
	LookFor       = code("look-for", "Look for {text}.")
	AgainNothing  = code("again-tells-nothing", "It was done before, and doing it again tells nothing.")
	TellsNothing  = code("tells-nothing", "It tells nothing here.")
	TellsFrom     = code("tells-from", "It tells {few nodes} {joined}.")
	FromNodes     = code("from-nodes", "from {few nodes}")
	FromOthers    = code("from-others", "from others")
	AgainSharper  = code("again-sharper", "It was done before; a repeat makes the reading sharper.")
	HelpsLittle   = code("helps-little", "It helps little.")
	MostLikely    = code("most-likely-further", "It will most likely bring the verdict further.")
	MayWell       = code("may-well-further", "It may well bring the verdict further.")
	FollowedBy    = code("followed-by", "Alone it settles nothing; followed by {test} it may.")
	ClaimAgrees   = code("outcome-claim-agrees", "; it agrees with the claim")
	ClaimRuledOut = code("outcome-claim-ruled-out", "; the claim is ruled out")
	ClaimOpens    = code("outcome-claim-opens", "; the claim is open again")
	ToLaboratory  = code("outcome-to-laboratory", "; it goes to a laboratory")
	AskFirst      = code("ask-first", "The case does not say whether it can be done. It needs: {text}")
	DoesMark      = code("marks", "The test {in quotes} is not done here: it marks the stone. Its sheet only tells "+
		"how to read an outcome that somebody already has.")
	DoesDestroy = code("destroys", "The test {in quotes} is not done here: it can destroy the stone. Its sheet "+
		"only tells how to read an outcome that somebody already has.")
	HouseBars  = code("house-bars", "A rule of the house forbids {test} on this stone: {own words}")
	StoneLacks = code("stone-lacks", "{Test} can't be done on this stone. It needs: {text}")
	HouseLacks = code("house-lacks", "{Test} can't be done here: the house has no instrument for it.")
)

// What no test tells apart.
var (
	_            = under("What no test tells apart")
	PairAlike    = code("pair-alike", "no harmless test of the house tells {node} from {other} by itself")
	GroupAlike   = code("group-alike", "no harmless test of the house tells any two of these apart by itself: {nodes}")
	NameTogether = code("name-together", "a verdict may name them together: {full}")
	NearestNone  = code("nearest-none", "what a test usually gives favours none of them")
	NearestPair  = code("nearest", "{test} comes nearest: what it usually reads on {node} is {times} likelier there "+
		"than on {other}; {needed} are needed")
	NearestOfTwo = code("nearest-of-two",
		"{test} comes nearest to telling two of them apart: what it usually reads on {node} is {times} likelier "+
			"there than on {other}; {needed} are needed")
	Sometimes = code("sometimes", "sometimes a test tells {them|some of them} apart: {text}")
)
