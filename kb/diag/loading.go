package diag

// The codes of what is found while files are read and rulesets are loaded, and of what any package may find. Packages
// that find more have their own beside what finds it.
var (
	AliasRefused = New("alias-refused", "An anchor, alias or merge key stands where only plain values are read.",
		`What an anchor, alias or merge key brings in stands somewhere else than where it counts, and an error in it could not
be shown in its place. Write the values out.`)
	BadDate = New("bad-date", "A date or time is not written in the form that is expected, or does not exist.",
		`A day is written 2031-04-12, a time 2031-04-12T10:20:00+02:00; one without a zone is taken in the policy's. In YAML a
time goes in quotes. A rule's since comes before its until.`)
	BadEncoding = New("bad-encoding", "The text is not valid UTF-8, or holds a character that text must not hold.",
		`Files are UTF-8. A file saved by a spreadsheet or an old editor is often in another encoding: save it anew as UTF-8,
and look at the letters with accents.`)
	BadID = New("bad-id", "An id has characters that ids must not have.",
		`Ids of materials, tests and rules are lower-case letters, digits and single hyphens (doubled-edges); observables and
facts are lower-case words joined by _ (facet_doubling), and none of the words of the rule language.`)
	BadNumber = New("bad-number",
		"A number is not written as a plain decimal number, or is too large or too small to hold.",
		`Numbers are written with a point and no separators: 3.52, not 3,52 and not 3 500. Infinite values and such as are not
a number are not read.`)
	BadPolicy = New("bad-policy", "A setting of the house's policy lies outside what makes sense.",
		`A rate lies between 0 and 1, a weight is above zero, a scale rises. The message names the key and what it may be.`)
	BadSyntax = New("bad-syntax", "The text breaks the grammar of its kind of file or of a condition.",
		`The text can't be read on from this place. The mistake is often just before it: a bracket or quote that is not closed,
a colon or comma too many, a line that stands too far in or out.`)
	BadText = New("bad-text", "A piece of text is empty or has characters that don't belong in it.",
		`A text has at least a letter in it, and no control characters.`)
	BeyondLimit = New("beyond-limit", "A value lies beyond what the instrument or the test can read.",
		`Each test reads a quantity between limits that its sheet gives. A refractometer that ends at 1.81 can't have read 2.4:
if nothing was seen up to the end, write {above: 1.81}; if another test gave the value, name it with test:.`)
	CircleOfDefinitions = New("circle-of-definitions", "Definitions name each other in a circle.",
		`What a definition says is put in the place of its name, so that one which names itself, however far round, would never come to an
end. The detail goes round the circle; break it at one place, by writing out what is meant.`)
	CircleOfFacts = New("circle-of-facts", "Facts depend on each other in a circle.",
		`A rule comes after all rules that establish what it reads, or that may set it aside. Here each of several would have
to come after the next. The detail goes round the circle; break it at one place, by letting a rule read the reading
itself instead of the fact.`)
	DuplicateID = New("duplicate-id", "Two things of one kind have the same id.",
		`An id stands for one thing in all layers, for ever. To stand in for a sheet of a lower layer write replaces: and
because:; for something new, choose another id.`)
	DuplicateKey = New("duplicate-key", "A key is given twice in one mapping.",
		`One of the two would be lost. Join them, or take one out. In the policy each key is given by one file of a layer.`)
	DuplicateName = New("duplicate-name",
		"Two materials bear one name, so that nobody knows which of them a claim of it means.",
		`A claim or truth may be any name of a material. If two bear the same one, say in the policy's claims: what the word
means, or take it from one of them.`)
	EqualsOnQuantity = New("equals-on-quantity",
		"A measured quantity is compared for equality, which its uncertainty makes meaningless.",
		`A reading has an uncertainty, so it never equals a number. Say how near it must be: near(ri, 1.77, 0.005), or give
bounds: 1.76 < ri < 1.78.`)
	ExampleFails = New("example-fails", "An example of a rule does not come out as it says.",
		`An example of a rule says what the condition is on a small case: holds, fails or undecided. It was run, and comes out
otherwise. Either the condition or the example is wrong; under the finding stand the values that decided.`)
	FamilyNeeded = New("family-needed",
		"A rule rests on several families or none and must say which one its evidence belongs to.",
		`Evidence counts within a family of observables that rest on the same physics. A condition that names readings of
several, or of none, leaves open which; say it with family:.`)
	FileUnreadable = New("file-unreadable", "A file could not be read.",
		`The file or folder is not there, may not be read, or is too long. Nothing was read in its place.`)
	FoldedCondition = New("folded-condition", "A condition is written as a folded block, in which positions are lost.",
		`After > line breaks become blanks, and with them the places of errors are lost. Write the condition on one line, in
quotes, or after |.`)
	GivenTwice = New("given-twice", "The same thing is given in two places.",
		`Each of the two would do, and nobody can know which is meant. Take one out.`)
	EmptyFile = New("empty-file", "A file of a layer holds nothing.",
		`A file without sheets says nothing, and what it said before, if anything, is gone. Take the file away if it is not wanted;
else look whether it was saved whole.`)
	GoneFile = New("gone-file", "A file that was read before is gone, with sheets that stand nowhere else.",
		`A live ruleset follows its folders: what a file said is no longer in force when the file is gone. If it was moved out by mistake
put it back; nothing else is needed.`)
	IdlePrior = New("idle-prior", "A prior is given to a group of which no material takes it.",
		`The policy's priors: of a group stands for those of its materials that don't say by themselves how common they are. Where
each does, it changes nothing. Name the materials.`)
	NearFamily = New("near-family", "An observable begins a family whose name is a slip away from another.",
		`A family is declared by being named, so that a misspelt one is a new one: its readings then count as if they rested on
physics of their own. Correct the name; if a new family is meant, give it a name that is not taken for the other.`)
	Inactive = New("inactive", "Something is named that is a draft, retired, or out of its dates.",
		`It can be named, and does nothing: a rule that is a draft or retired, or a condition over materials that none
satisfies.`)
	MissingKey = New("missing-key", "A key that is needed is absent.",
		`The message names the key. Every file begins with format: 1; a rule has says:, something that follows, and where it
comes from.`)
	NoDraft = New("no-draft", "A rule is to be made active that is no draft, or not there.",
		`Only a rule with status: draft can be tried as if it were active.`)
	NotAllowed = New("not-allowed", "Something is written that this kind of file or condition does not allow.",
		`The language of rules is a part of a larger one: what could run without end, give another result each time, or has no
meaning for readings that may be missing is left out. Nor does a rule ask for a test that marks or destroys a stone; and what replaces a
sheet under the same id, or a table, is neither a draft nor dated. The detail says what to write instead.`)
	NotReviewed = New("not-reviewed", "An active rule was read by nobody but its author, in a house that demands more.",
		`With review: required in its policy a house wants reviewed_by: on each active rule of its own, and another name than
author: there. A draft needs none: it is tried beside each verdict and by replay --drafts until somebody has read it.`)
	OutOfSpan = New("out-of-span", "A value lies outside the span that its observable can have.",
		`The sheet of the test gives the span of values that can occur at all. A value outside is a slip of the pen or in
another unit.`)
	QuoteIt = New("quote-it",
		"An unquoted value would be read as a number, date, truth or nothing; text must be in quotes.",
		`YAML readers take yes, 010, 1.10 or 2031-04-12 without quotes for a truth, a number or a date. If the text is meant,
put it in quotes.`)
	ReplacesNothing = New("replaces-nothing", "A layer replaces, amends or retires something that no lower layer has.",
		`What is replaced or retired must be a sheet of a lower layer, by its id. It may have been renamed or retired already.
A rule is replaced by one rule only; a layer above replaces that one, and so stands in for both.`)
	StillNamed = New("still-named", "A layer retires or replaces something that is still named elsewhere.",
		`A layer retires or replaces a rule, test or material, and others name what went with it: a fact that no other rule
establishes, an observable that no other test gives, the material itself. All of these places are told as one, as most of them may be in
files of a lower layer. Retire or replace what names it, too, or give what is missing in a sheet of the same layer.`)
	TidyFailed = New("tidy-failed",
		"Tidying a file would have changed what it says, which is a mistake in the program.",
		`The file was left as it is. Please report it with the file.`)
	TooDeep = New("too-deep", "The text is nested too deeply.",
		`Nothing that a person writes is nested like this. Split the condition: let smaller rules establish facts, and name
those.`)
	TooLong = New("too-long", "The text, or a part of it, is longer than is read.",
		`A limit keeps one file or one condition from taking all the memory. The message says how much is read.`)
	TooStrong = New("too-strong", "Evidence is stronger than a single contribution may be.",
		`One piece of evidence may weigh 10,000 to 1 at most, unless backed_by: names the data behind it: a bold figure should
not decide a case by itself.`)
	TreeBroken = New("tree-broken",
		"The tree of materials has a gap, a circle, or more than one place for the same node.",
		`Every material and group but the root stands under a group that exists, and no group stands below itself.`)
	UnknownChoice = New("unknown-choice", "A choice is not one that its observable has.",
		`Choices are words of the test sheet that declares the observable, in lower case; other spellings stand there under
also:. A misspelt one would never hold.`)
	UnknownFeature = New("unknown-feature", "A feature is not one that its observable has.",
		`Features are words of the test sheet that declares the observable, in lower case; other spellings stand there under
also:.`)
	UnknownFile = New("unknown-file", "A ruleset names a file that its layer doesn't have.",
		`rows_from: names a CSV file from the folder of the file that it stands in, in the same layer.`)
	UnknownKey = New("unknown-key", "A key is not one that is read here.",
		`Every key is checked, because a misspelt one would be passed over in silence. The detail lists those that are read
here.`)
	UnknownMaterial = New("unknown-material", "A material or group is not in the tree.",
		`Materials and groups are named by their ids; 'whystone material' lists them.`)
	UnknownName = New("unknown-name", "A name in a condition is not known.",
		`A condition may name observables, properties of the stone (stone.mounted), claim, stake, facts that rules establish,
and the functions of the language. 'whystone procedure' lists what the tests give.`)
	UnknownTest = New("unknown-test", "A test has no sheet.",
		`Tests are named by their ids; 'whystone procedure' lists them.`)
	UnlikeTypes = New("unlike-types", "Things of different kinds are compared or combined.",
		`A quantity is compared with numbers, a choice with its words, a feature is asked for with in, a truth stands by
itself. The detail says how to write it for the name that is there.`)
	UnlikeValues = New("unlike-values", "The same thing is given with different values.",
		`The same thing is said in two places, and not alike. Correct one, or leave it out.`)
	UnsupportedFormat = New("unsupported-format", "The format number of a file is not one that is read.",
		`The number under format: tells the shape of a file. A newer program may have written it.`)
	UnusedFile = New("unused-file", "A file of a layer is named by nothing, so nothing of it is read.",
		`A CSV file counts through a table that names it under rows_from:. Without one it does nothing.`)
	WrongKind = New("wrong-kind",
		"A value is of another kind than is expected: a list, a mapping, text, a number or a truth.",
		`Something else is expected in this place, as the message says: text, a number, true or false, a list, or a mapping of
keys to values.`)
)
