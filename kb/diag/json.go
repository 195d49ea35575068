package diag

import (
	"bytes"
	"encoding/json"
	"io"
)

// maxJSON is how many diagnostics [WriteJSON] writes; the rest are counted under "more".
const maxJSON = 1000

// place is a span as it is written: lines and columns from 1, offsets from 0, lengths in the unit of their name.
type place struct {
	File        string `json:"file"`
	Line        int    `json:"line"`
	Column      int    `json:"column"`
	Length      int    `json:"length"`
	ByteOffset  int    `json:"byte_offset"`
	ByteLength  int    `json:"byte_length"`
	UTF16Column int    `json:"utf16_column"`
	UTF16Length int    `json:"utf16_length"`
}

type relatedJSON struct {
	*place
	Says string `json:"says"`
}

type valueJSON struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Object is a diagnostic as it is written in JSON. An object that says more than a diagnostic embeds it.
type Object struct {
	Code     Code     `json:"code,omitempty"`
	Severity Severity `json:"severity"`
	Summary  string   `json:"summary"`
	Detail   string   `json:"detail,omitempty"`
	*place
	Nearest string        `json:"nearest,omitempty"`
	Related []relatedJSON `json:"related,omitempty"`
	Values  []valueJSON   `json:"values,omitempty"`
}

func placeOf(sp Span) *place {
	if sp.IsZero() {
		return nil
	}
	start := min(max(sp.Start, 0), len(sp.Source.Text))
	end := min(max(sp.End, start), len(sp.Source.Text))
	p := sp.Source.Position(start)
	runes, units := sp.Source.between(start, end)
	return &place{sp.Source.Name, p.Line, p.Column, runes, start, end - start, p.UTF16Column, units}
}

// between counts the runes and UTF-16 units from one offset to another.
func (s *Source) between(start, end int) (runes, units int) {
	s.index()
	a, b := s.count(start), s.count(end)
	return b.runes - a.runes, b.units - a.units
}

// Object is the diagnostic as an object; what is empty is left out, the whole position included.
func (d Diagnostic) Object() Object {
	out := Object{d.Code, d.Severity, d.Summary, d.Advice(), placeOf(d.Span), d.Nearest, nil, nil}
	for _, r := range d.Related {
		out.Related = append(out.Related, relatedJSON{placeOf(r.Span), r.Says})
	}
	for _, v := range d.Values {
		out.Values = append(out.Values, valueJSON(v))
	}
	return out
}

// MarshalJSON writes the diagnostic as its object.
func (d Diagnostic) MarshalJSON() ([]byte, error) { return Marshal(d.Object()) }

// Marshal is json.Marshal that leaves <, > and & as they are: what is written is read as JSON, not as a page.
func Marshal(object any) ([]byte, error) {
	var b bytes.Buffer
	err := encoder(&b).Encode(object)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}

func encoder(w io.Writer) *json.Encoder {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc
}

// WriteJSON writes the list as one JSON object on one line: {"format": 1, "diagnostics": [...], "more": N}, N being
// how many were left out because there were too many. The order of the list is kept.
func WriteJSON(w io.Writer, l List) error {
	shown := l[:min(len(l), maxJSON)]
	out := struct {
		Format      int          `json:"format"`
		Diagnostics []Diagnostic `json:"diagnostics"`
		More        int          `json:"more"`
	}{1, append([]Diagnostic{}, shown...), len(l) - len(shown)}
	return encoder(w).Encode(out)
}
