package phrase

// The steps of a chain, from the readings to what is excluded.
var (
	_           = under("The steps of a chain")
	Read        = code("read", "{readings}")
	Unclear     = code("unclear", "{readings}")
	ByTests     = code("by-tests", ", by {each test}")
	Noted       = code("noted", " ({text})")
	Repeated    = code("repeated", ", {count} readings")
	NotCounted  = code("not-counted", "; it does not count here: {why}")
	TestWants   = code("test-wants", "{test} asks for this: {text}")
	RuleHolds   = code("rule-holds", "{own words}")
	DraftHolds  = code("draft-holds", "A draft, without effect: {own words}")
	SetAside    = code("set-aside", "{observables} does not count here: {own words}")
	Evidence    = code("evidence", "{observables}: {clauses}")
	EvidenceBy  = code("evidence-beside", "{observables}, beside {readings}: {clauses}")
	Excludes    = code("excludes", "excludes {count} of {of} materials")
	MostFor     = code("most-for", "speaks most for {node} ({times})")
	MostAgainst = code("most-against", "most against {node} ({times})")
	Nothing     = code("nothing", "tells nothing apart")
	Out         = code("out", "{node} is out: {why}")
	ByRule      = code("by-rule", "{own words}")
	OutOfRange  = code("out-of-range", "{observables} was read as {text}, and its sheet gives {range}")
	OutOfBand   = code("out-of-band", "{observables} was read as {text}, and beside {readings} its sheet leaves "+
		"{range}")
	NeverSeen    = code("never-seen", "{text} was seen, and never is in it")
	NeverShown   = code("never-shown", "{observables} is never {text} for it")
	CountsInFull = code("counts-in-full", "{families}: {observables} counts in full")
	FurtherLess  = code("further-less", ", what else it says at {text}, as it rests on the same physics")
	StillOpen    = code("still-open", "with what is common at the counter, {count} {material|materials} of {of} may "+
		"still be it")
	NoneOpen = code("none-open", "no material stays open")
)

// What is told beside a verdict.
var (
	_             = under("Beside a verdict")
	HouseCaution  = code("house-caution", "{text}")
	HouseSendsOn  = code("house-sends-on", "{text}")
	HouseCalls    = code("house-calls", "{own words}")
	HouseForbids  = code("house-forbids", "{own words}")
	HouseAside    = code("house-sets-aside", "{own words}")
	HouseDraft    = code("house-draft", "{own words}")
	RuleBroken    = code("rule-broken", "The rule {rules} could not be evaluated: {text}")
	ClaimUnknown  = code("claim-unknown", `Nobody here knows what the claim "{text}" means, so it stays open.`)
	ClaimMeant    = code("claim-meant", ` Is "{text}" meant?`)
	ExceptionOpen = code("exception-open", "The rule {rules} would apply, but its exception is undecided: {causes}")
	StayedUnclear = code("stayed-unclear", "{observables} stayed inconclusive: {text}")
	StoneUnsuited = code("stone-unsuited",
		"{observables} was read though the stone does not suit {test}, which asks for this: {text}")
	Disagree    = code("disagree", "{readings} disagree about one property: each counts by itself")
	SizesUnlike = code("weight-and-size-unlike", "Weight and measurements do not go together: they come to a "+
		"{observables} of {text}, and that of any stone is {range}. Check both, and their units: the weight is in ct, "+
		"the measurements are in mm.")
)
