package rulesets_test

import "regexp"

// What a place in the files holds. A place is the path of keys to it: [] is an item of a list, * a key that the author
// chose. A place beginning with "key " is about the keys that stand there. Classes in brackets are left out, for the
// reason in the bracket.
const (
	defines   = "(defines the word itself)"
	freeText  = "(free text)"
	quantity  = "(number or date)"
	condition = "condition"
	answer    = "answer" // a choice, feature or number, as the observable has it
)

var places = []struct{ pattern, class string }{
	{`key `, "top key"},
	{`key (rules|materials|tests)\[\]`, "key"},
	{`key rules\[\]\.(excludes|supports(\[\])?|weakens(\[\])?)`, "key"},
	{`key rules\[\]\.withholds`, "key"},
	{`key rules\[\]\.establishes`, "fact established"},
	{`key rules\[\]\.establishes\.\*`, "key"},
	{`key rules\[\]\.examples\[\](\.stone)?`, "key"},
	{`key rules\[\]\.examples\[\]\.readings`, "observable"},
	{`key rules\[\]\.examples\[\]\.readings\.\*`, "key"},
	{`key materials\[\]\.properties`, "property"},
	{`key materials\[\]\.(outcomes|features)`, "observable"},
	{`key materials\[\]\.(properties|outcomes|features)\.\*`, "key"},
	{`key materials\[\]\.(outcomes|features)\.\*\.seen`, answer},
	{`key materials\[\]\.features\.\*\.strength`, answer},
	{`key materials\[\]\.features\.\*\.strength\.\*`, "strength of a feature"},
	{`key materials\[\]\.relations\[\]`, "key"},
	{`key tests\[\]\.yields`, "observable of a test"},
	{`key tests\[\]\.yields\.\*`, "key"},
	{`key tests\[\]\.yields\.\*\.(choices|features)`, defines},
	{`key tests\[\]\.yields\.\*\.(choices|features)\.\*`, "key"},
	{`key tests\[\]\.(needs\[\]|yields\.\*\.derived\[\])`, "key"},
	{`key policy`, "key"},
	{`key policy\.(scale\[\]|required\[\]|claims\.\*)`, "key"},
	{`key (rules|materials)\[\]\.accepts\[\]`, "key"},
	{`key materials\[\]\.(in_verdicts|others)\[\]`, "key"},
	{`key tests\[\]\.yields\.\*\.figures`, defines},
	{`key policy\.(priors|costs)`, "material"},
	{`key policy\.frequency`, "frequency"},
	{`key policy\.(strength|seen_at_counter|claims)`, defines},
	{`format`, quantity},
	{`rules\[\]\.rule|materials\[\]\.(group|material)|tests\[\]\.test`, defines},
	{`rules\[\]\.(says|source|cautions(\[\])?|sends_on|backed_by|author|note)`, freeText},
	{`rules\[\]\.(if|unless|withholds\.until|(excludes|supports|weakens)(\[\])?\.where|establishes\.\*\.is)`,
		condition},
	{`rules\[\]\.(excludes\[\]|(supports|weakens)(\[\])?\.materials\[\]|withholds\.(names|beside)\[\])`, "material"},
	{`rules\[\]\.(supports|weakens)(\[\])?\.strength`, "strength"},
	{`rules\[\]\.(supports|weakens)(\[\])?\.ratio`, quantity},
	{`rules\[\]\.sets_aside\[\]`, "observable"},
	{`rules\[\]\.(calls_for|forbids)\[\]`, "test"},
	{`rules\[\]\.family`, "family"},
	{`rules\[\]\.status`, "status"},
	{`rules\[\]\.(since|until)`, quantity},
	{`rules\[\]\.establishes\.\*`, defines}, // true, or a fact's word
	{`rules\[\]\.examples\[\]\.is`, "truth"},
	{`rules\[\]\.examples\[\]\.(claim|stone\.(cut|setting))`, freeText},
	{`rules\[\]\.examples\[\]\.stone\.(mounted|warm|wet|coated)`, "true or false"},
	{`rules\[\]\.examples\[\]\.(stake|taken|stone\..*)`, quantity},
	{`rules\[\]\.examples\[\]\.readings\.\*(\[\])?(\.(value|choice|features|looked_for)(\[\])?)?`, answer},
	{`rules\[\]\.examples\[\]\.readings\.\*(\[\])?\.(above|below|between\[\]|uncertainty)`, quantity},
	{`rules\[\]\.examples\[\]\.readings\.\*(\[\])?\.(inconclusive|where|note)`, freeText},
	{`rules\[\]\.examples\[\]\.readings\.\*(\[\])?\.test`, "test"},
	{`(rules|materials)\[\]\.accepts\[\]\.finding`, accepted},
	{`(rules|materials)\[\]\.accepts\[\]\.because`, freeText},
	{`(rules|materials)\[\]\.accepts\[\]\.until`, quantity},
	{`materials\[\]\.under`, "material"},
	{`materials\[\]\.(name|also\[\]|in_verdicts|formula|treatments\[\]|harmed_by\[\]|note|source)`, freeText},
	{`materials\[\]\.(in_verdicts\[\]\.says|others\[\]\.note)`, freeText},
	{`materials\[\]\.in_verdicts\[\]\.colour\[\]`, answer},
	{`(materials|rules)\[\]\.was\[\]`, defines},
	{`materials\[\]\.nameable`, "true or false"},
	{`materials\[\]\.grown`, "what is said of growth"},
	{`materials\[\](\.others\[\])?\.origin`, "origin"},
	{`materials\[\](\.others\[\])?\.seen_at_counter`, "word of the policy"},
	{`materials\[\]\.properties\.\*\.(range\[\]|typical\[\]|tolerance)`, quantity},
	{`materials\[\]\.(properties|outcomes|features)\.\*\.(source|note)`, freeText},
	{`materials\[\]\.relations\[\]\.(of|by)`, "observable or property"},
	{`materials\[\]\.relations\[\]\.ray`, "ray"},
	{`materials\[\]\.relations\[\]\.(through\[\]\[\]|within)`, quantity},
	{`materials\[\]\.relations\[\]\.(source|note)`, freeText},
	{`materials\[\]\.(outcomes|features)\.\*\.seen`, answer},
	{`materials\[\]\.(outcomes|features)\.\*\.seen\.\*`, "frequency"},
	{`materials\[\]\.features\.\*\.strength\.\*\.\*`, "frequency"},
	{`tests\[\]\.(name|also\[\]|procedure|worth|cautions\[\]|source|needs\[\]\.says|note|yields\.\*\.(also\[\]|label))`,
		freeText},
	{`tests\[\]\.minutes`, quantity},
	{`tests\[\]\.harm`, "harm"},
	{`tests\[\]\.needs\[\]\.spoils`, "true or false"},
	{`tests\[\]\.by_eye`, "true or false"},
	{`tests\[\]\.yields\.\*\.(otherwise|figures\.\*)`, quantity},
	{`policy\.every_sheet_says\[\]`, "observable or property"},
	{`tests\[\]\.needs\[\]\.if|tests\[\]\.yields\.\*\.derived\[\]\.(if|is)`, condition},
	{`tests\[\]\.yields\.\*\.derived\[\]\.(relative|says|source)`, freeText},
	{`tests\[\]\.yields\.\*\.kind`, "kind"},
	{`tests\[\]\.yields\.\*\.(family|property|unit|note|strengths\[\])`, defines},
	{`tests\[\]\.yields\.\*\.(span\[\]|limits\[\]|uncertainty|resolution|blunder|neighbour|within|(choices|features)\.\*\.(blunder|background|within|at(\[\])?))`, quantity},
	{`tests\[\]\.yields\.\*\.(choices\.\*\.covers|(choices|features)\.\*\.neighbours)\[\]`, answer},
	{`tests\[\]\.yields\.\*\.(choices|features)\.\*(\.also\[\])?`, defines},
	{`policy\.time_zone|policy\.currency|policy\.scale\[\]\.says`, freeText},
	{`policy\.wording`, "wording"},
	{`policy\.claims\.\*\.node`, "material"},
	{`policy\.claims\.\*\.origin`, "origin"},
	{`policy\.claims\.\*\.colour\[\]`, answer},
	{`policy\.(unlisted|misfit|rival|further_weight|missed_turn|(frequency|strength|seen_at_counter)\.\*|scale\[\]\.from|required\[\]\..*)`, quantity},
}

// chosen are the maps whose keys the author chose.
var chosen = regexp.MustCompile(`^(rules\[\]\.(establishes|examples\[\]\.readings)|materials\[\]\.(properties|outcomes|features|(outcomes|features)\.\*\.seen|features\.\*\.strength(\.\*)?)` +
	`|tests\[\]\.yields(\.\*\.(choices|features|figures))?|policy\.(frequency|strength|seen_at_counter|claims))$`)
