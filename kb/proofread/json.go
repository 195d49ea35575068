package proofread

import (
	"time"

	"whystone/kb/diag"
)

type witnessJSON struct {
	Case string   `json:"case"` // in YAML
	Says []string `json:"says"`
}

type acceptedJSON struct {
	Because string `json:"because"`
	Until   string `json:"until"`
}

// MarshalJSON writes the finding as a diagnostic with its sheets, witness and acceptance, the last two null where there
// is none.
func (f Finding) MarshalJSON() ([]byte, error) {
	out := struct {
		diag.Object
		Sheets   []Sheet       `json:"sheets"`
		Witness  *witnessJSON  `json:"witness"`
		Accepted *acceptedJSON `json:"accepted"`
	}{Object: f.Object(), Sheets: f.Sheets}
	if f.Witness != nil {
		out.Witness = &witnessJSON{f.Witness.Text, f.Witness.Says}
	}
	if a := f.Accepted; a != nil {
		out.Accepted = &acceptedJSON{a.Because, a.Until.Format(time.DateOnly)}
	}
	return diag.Marshal(out)
}

// Counts is how many findings there are, those accepted aside.
type Counts struct {
	Errors   int `json:"errors"`
	Warnings int `json:"warnings"`
	Notes    int `json:"notes"`
	Accepted int `json:"accepted"`
}

// Counts counts the findings.
func (r *Report) Counts() (c Counts) {
	for _, f := range r.Findings {
		switch {
		case f.Accepted != nil:
			c.Accepted++
		case f.Severity == diag.Error:
			c.Errors++
		case f.Severity == diag.Warning:
			c.Warnings++
		default:
			c.Notes++
		}
	}
	return c
}

// JSON is the report as an object.
type JSON struct {
	Format   int       `json:"format"`
	Ruleset  string    `json:"ruleset"`
	AsOf     time.Time `json:"as_of"`
	Rules    int       `json:"rules"`
	Counts   Counts    `json:"counts"`
	Findings []Finding `json:"findings"`
}

// JSON makes the object of the report on a ruleset with this digest.
func (r *Report) JSON(digest string) JSON {
	return JSON{1, digest, r.On, r.Rules, r.Counts(), append([]Finding{}, r.Findings...)}
}
