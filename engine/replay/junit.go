package replay

import (
	"encoding/xml"
	"io"

	"whystone/kb/english"
)

type suite struct {
	XMLName  xml.Name `xml:"testsuite"`
	Name     string   `xml:"name,attr"`
	Tests    int      `xml:"tests,attr"`
	Failures int      `xml:"failures,attr"`
	Cases    []test   `xml:"testcase"`
}

type test struct {
	Class   string   `xml:"classname,attr"`
	Name    string   `xml:"name,attr"`
	Failure *failure `xml:"failure,omitempty"`
}

type failure struct {
	Message string `xml:"message,attr"`
}

// JUnit writes the gate's conditions and the pinned cases as the tests of a suite. A pinned case fails that changed, or
// that no archive has.
func JUnit(w io.Writer, gate []Verdict, t *Tally) error {
	s := suite{Name: "replay", Cases: english.Each(gate, func(v Verdict) test {
		x := test{Class: "gate", Name: v.Text}
		if !v.OK {
			x.Failure = &failure{Message: v.Says}
		}
		return x
	})}
	for _, id := range Sorted(t.Pinned) {
		x := test{Class: "pinned", Name: id}
		switch p := t.Pinned[id]; {
		case p.Changed > 0:
			x.Failure = &failure{Message: p.Says}
		case p.Seen == 0:
			x.Failure = &failure{Message: "the case was not found; pinned: " + p.Why}
		}
		s.Cases = append(s.Cases, x)
	}
	for _, c := range s.Cases {
		s.Tests++
		if c.Failure != nil {
			s.Failures++
		}
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	enc := xml.NewEncoder(w)
	enc.Indent("", "  ")
	if err := enc.Encode(s); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}
