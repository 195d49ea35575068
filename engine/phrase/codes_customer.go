package phrase

// What may be said to whoever brought the stone: what it is, why, and what comes next, a sentence each.
var (
	_              = under("What to say to the customer")
	CustomerIs     = code("customer-is", "It is {a thing}{joined}.")
	CustomerLikely = code("customer-likely",
		"It is most likely {a thing}, as that is what we see most; our readings fit {other} too{joined}.")
	CustomerOneOf   = code("customer-one-of", "It is {one node}, and we can't say yet which{joined}.")
	CustomerPerhaps = code("customer-perhaps",
		"Our readings point to {a thing}, and not yet firmly enough for a name{joined}.")
	CustomerOpen     = code("customer-open", "We can't say yet what it is{joined}.")
	CustomerUnlisted = code("customer-not-listed", "It is likely a stone that is not on our list{joined}.")
	CustomerUnsure   = code("customer-unsure", "Our readings do not fit together, so that we name nothing yet{joined}.")
	CustomerAgrees   = code("customer-agrees", `; our readings agree with "{text}"`)
	CustomerNot      = code("customer-not", `; it is not "{text}"`)
	CustomerAgainst  = code("customer-against", `; our readings speak against "{text}"`)
	CustomerGoesBy   = code("customer-goes-by", "We go by what we read: {readings}.")
	CustomerTogether = code("customer-together", "We go by all that we read, as none of it decides alone.")
	CustomerNothing  = code("customer-nothing-tells", "Nothing that was read so far tells one stone from another.")
	CustomerFits     = code("customer-fits", "What we read fits {few nodes}.")
	CustomerFitsNone = code("customer-fits-none", "No stone on our list fits all that we read.")
	CustomerWaits    = code("customer-name-waits", "We give no name yet, for this reason: {own words}")
	CustomerMend     = code("customer-mend", "One of our own rules has to be mended before we can judge it.")
	CustomerSend     = code("customer-send", "We would send it on: {text}")
	CustomerGrowth   = code("customer-growth",
		"Whether it grew in the earth or in a laboratory our tests do not tell; a laboratory can.")
	CustomerAgain = code("customer-again", "Before we say more we would like to take {observables} again.")
	CustomerTests = code("customer-tests", "Before we say more we would like to do this as well: {each test}.")
	CustomerSurer = code("customer-surer", "To be surer we would like to do this as well: {each test}.")
	CustomerClaim = code("customer-claim",
		`Whether it is "{text}" stays open; more tests, or a laboratory, can say.`)
	CustomerMore = code("customer-more", "More tests, or a laboratory, can say more.")
	CustomerDone = code("customer-done", "For that no further test is needed here.")
)
