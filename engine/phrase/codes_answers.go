package phrase

// How much likelier something is on one of two.
var (
	_          = under("One beside another")
	AsLikely   = code("as-likely", "as likely under {node} as under {other}")
	Likelier   = code("likelier", "{times} likelier under {node} than under {other}")
	NotTold    = code("not-told-apart", "the readings do not tell {node} from {other}")
	SupportFor = code("support-for", "{text} support for {node} over {other}, in the words of the house's scale of "+
		"support ({times} likelier)")
	SeenAlike  = code("seen-alike", "before any reading: the house sees {node} and {other} equally often")
	SeenMore   = code("seen-more", "before any reading: the house sees {node} {times} as often as {other}")
	OnReadings = code("on-readings", "{readings}")
	OnFeature  = code("on-feature", "{observables}")
	OnDerived  = code("on-derived", "{observables} from {readings}")
	OnRule     = code("on-rule", "the rule {rule}")
	OnRuleRead = code("on-rule-and-readings", "the rule {rule} on {readings}")
	Says       = code("says", "{why}: {clauses}")
	NoFurther  = code("counts-no-further", "counts no further, as something that rests on the same readings says more")
)

// Why a stone was not called something.
var (
	_          = under("Why not something else")
	ItIsNamed  = code("it-is-named", "The stone is {within}.")
	Not        = code("not", "Not {node}: {why}.")
	NotBesides = code("not-besides", " Besides, {evidence} would exclude it as well.")
	NotSure    = code("not-sure", " All that excludes it rests on one test or one kind of physics, so it keeps a "+
		"small weight: {why}.")
	SeenLess     = code("seen-less", "the readings do not speak against it; the house sees it less often than {other}")
	NotAlone     = code("not-alone", "Not {node} alone: the stone is {within}.")
	NotYet       = code("not-yet", "Not yet {node}. {sentences}")
	Unresolved   = code("unresolved", "the readings contradict each other, and nothing is named before that is resolved")
	OffListFirst = code("likely-off-the-list",
		"no listed stone fits all readings, so that it is likely not on this list")
	MendFirst    = code("mend-first", "a rule can't be evaluated, and nothing is named before it is mended")
	NeverNamed   = code("never-named", "{node} is a group that no verdict names")
	ShareOutside = code("share-outside", "too much of what is not excluded lies outside it: {nodes} foremost")
	NotListedIs  = code("share-off-the-list", "too much of what is not excluded lies outside it: what is not listed")
	RivalsAlike  = code("rivals-alike", "the readings do not speak for it over {few nodes}")
	RivalsNear   = code("rivals-near", "they speak for it over {few nodes}, but not {needed} likelier as is needed")
)

// What a verdict is based on, and what would change it.
var (
	_            = under("What a verdict is based on, and what would change it")
	StoneIs      = code("stone-is", "The stone is {within}")
	VerdictIs    = code("verdict-is", "The verdict is {within}")
	MoreTogether = code("more-together", ". No {count} readings alone give that: it needs more of them together.")
	NoneIsNeeded = code("none-needed", ". No reading is needed for that: without any it would be the same.")
	OnOneReading = code("on-one-reading", ". It rests on a single reading, which alone would give it.")
	OnOneSet     = code("on-one-set", ". It rests on {count} readings, which alone would give it; with fewer it is "+
		"another.")
	OnEach        = code("on-each", ". Each of {count} readings alone would give it.")
	OnSets        = code("on-sets", ". Each of {count} sets of {of} readings alone would give it; fewer readings don't.")
	AloneBy       = code("alone-by", "Alone it would be given by {readings}.")
	ByNone        = code("by-none", "No reading is needed for it.")
	OnNoReading   = code("on-no-reading", "no reading: what is common at this counter gives it by itself")
	OnAllReadings = code("on-all-readings", "all readings that count, together: no {count} of them alone give it")
	OrOtherSets   = code("or-other-sets", "or one of {count} other sets of as many readings")
	DoesNotSuit   = code("does-not-suit", "the stone does not suit {test}")
	WithCaution   = code("with-caution", "with a caution")
	NoneCanChange = code("none-can-change",
		"No reading can turn out otherwise without harm to the stone, so nothing that the house can do again changes "+
			"the verdict.")
	NoChange   = code("no-change", "No change of up to {count} {reading|readings} changes the verdict.")
	OneChanges = code("one-changes", "A single reading, had it come out otherwise, would change the verdict.")
	SomeChange = code("some-change", "No single reading would change the verdict; {count} readings together would.")
	IfChanged  = code("if-changed", "If {joined}, it would be {within}.")
	Instead    = code("instead", "{observables} were {text} instead of {read}")
)

// What to take again, and what rules wait for.
var (
	_          = under("What to take again, and what rules wait for")
	NotAllTrue = code("not-all-true", "the readings can't all be true of one listed stone")
	EitherOr   = code("either-or", "no listed stone fits all these readings; either this stone is not on the "+
		"list, or a reading is wrong")
	LikelyNot = code("likely-not-listed",
		"no listed stone fits all these readings, and this stone is likely not on the list")
	Likeliest  = code("likeliest-mistake", "the likeliest mistake is {observables}")
	NoThree    = code("no-three", "no three of the readings, left out, would resolve it")
	IfMistaken = code("if-mistaken", "Take {readings} again. If that was mistaken, the other readings make it "+
		"{within}.")
	NoneWaits = code("none-waits", "No undecided rule would change anything.")
	RulesWait = code("rules-wait", "{count} {rule waits|rules wait} for readings and would change something: "+
		"{few rules}.")
	RuleUndecided = code("rule-undecided", "The rule {rule} is undecided: {all causes}.")
	VerdictThen   = code("verdict-then", " If it held, the verdict would be: {within}.")
	FallsThen     = code("falls-then", " The claim would be ruled out.")
	StandsThen    = code("stands-then", " The readings would agree with the claim.")
	OpenThen      = code("open-then", " The claim would be open.")
	SentThen      = code("sent-then", " If it held, the stone would go to a laboratory.")
	WeightsThen   = code("weights-then", " If it held, the verdict would stay, but not how near other materials come.")
)

// What mattered.
var (
	_            = under("What mattered")
	ForemostBy   = code("foremost-by", ", foremost by {observables}")
	LeftOpen     = code("left-open", "the readings leave these open, and nothing else that is likely enough")
	ForemostOpen = code("foremost-open", "foremost among what stays open is {node}; it can't be named")
	Did          = code("did", "{readings}: {reasons}")
	OpensWithout = code("opens-without", "without it {count} more {material|materials} would stay open")
	SameWithout  = code("same-without", "the verdict would be the same without it")
	ElseWithout  = code("else-without", "without it the verdict would be: {within}")
)
