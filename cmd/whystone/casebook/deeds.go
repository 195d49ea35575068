package casebook

import (
	"encoding/json"
	"fmt"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// Opening is what opens a case that stands in a case file: what it says of stone, claim and stake, then each reading,
// then what is known to be true, then its note.
func Opening(n *syntax.Node, customer string) []Deed {
	opened := Deed{Kind: Opened, Data: Data{Fields: map[string]string{}}}
	var after, last []Deed
	for _, e := range n.Entries {
		if e.Value.IsNull() {
			continue
		}
		switch key := e.Key.Text; key {
		case "format":
		case "case":
			opened.Data.Called = e.Value.Text
		case "stone":
			for _, f := range e.Value.Entries {
				if !f.Value.IsNull() {
					opened.Data.Fields["stone."+f.Key.Text] = Typed(f.Value)
				}
			}
		case "readings":
			for _, r := range e.Value.Entries {
				after = append(after, Add(r.Key.Text, Typed(r.Value)))
			}
		case "truth":
			last = append(last, Know(Finding{Material: e.Value.Text}))
		case "note":
			opened.Hold = append(opened.Hold, Hold{What: Note, Content: []byte(e.Value.Text)})
		default:
			opened.Data.Fields[key] = Typed(e.Value)
		}
	}
	if customer != "" {
		opened.Hold = append(opened.Hold, Hold{What: Customer, Content: []byte(customer)})
	}
	return append(append([]Deed{opened}, after...), last...)
}

// Add adds a reading, as it was typed.
func Add(observable, text string) Deed {
	cut, notes := withoutNotes(text)
	return Deed{Kind: Added, Data: Data{Observable: observable, Text: cut}, Hold: held(notes)}
}

// Correct puts another reading in the place of one.
func Correct(reading int, text, because string) Deed {
	cut, notes := withoutNotes(text)
	return Deed{Kind: Corrected, Data: Data{Reading: reading, Text: cut, Because: because}, Hold: held(notes)}
}

func held(notes []note) []Hold {
	return english.Each(notes, func(n note) Hold { return Hold{What: ReadingNote, Content: []byte(n.text), At: n.at} })
}

// Withdraw takes a reading back.
func Withdraw(reading int, because string) Deed {
	return Deed{Kind: Withdrawn, Data: Data{Reading: reading, Because: because}}
}

// Amend corrects what is said of stone, claim or stake; an empty text takes a field away.
func Amend(fields map[string]string, because string) Deed {
	return Deed{Kind: Changed, Data: Data{Fields: fields, Because: because}}
}

// Know records what the stone turned out to be.
func Know(f Finding) Deed { return Deed{Kind: Truth, Data: Data{Truth: &f}} }

// Write records a note, or particulars of the customer.
func Write(what What, text string) Deed {
	return Deed{Kind: Noted, Hold: []Hold{{What: what, Content: []byte(text)}}}
}

// Show records a picture.
func Show(media string, content []byte) Deed {
	return Deed{Kind: Pictured, Hold: []Hold{{What: Picture, Type: media, Content: content}}}
}

// ShowAs records a picture with what it shows, for those who can't see it.
func ShowAs(media string, content []byte, shows string) Deed {
	d := Show(media, content)
	d.Hold = append([]Hold{{What: Caption, Content: []byte(shows)}}, d.Hold...)
	return d
}

// Close closes a case; Reopen opens it again.
func Close(because string) Deed { return Deed{Kind: Closed, Data: Data{Because: because}} }

// Reopen opens a closed case again.
func Reopen(because string) Deed { return Deed{Kind: Reopened, Data: Data{Because: because}} }

// Forget erases what is held apart.
func Forget(ids []string, because string) Deed {
	return Deed{Kind: Erased, Data: Data{Erase: ids, Because: because}}
}

// Telling is a verdict as it is told.
type Telling struct {
	Told, Why []byte // the texts
	Chain     []byte // the verdict with its chain, as JSON
	Output    *engine.Output
	Ruleset   *kb.Ruleset
	Program   string
}

// file is one file of a ruleset: its place in the stack of layers, and the hash of its bytes.
type file struct {
	Layer string `json:"layer"`
	Path  string `json:"path"`
	Hash  string `json:"hash"`
}

// Issue records a verdict as it is told: the texts, the chain, and all files of the ruleset.
func Issue(t Telling) (Deed, error) {
	d := Deed{Kind: Issued}
	keep := func(b []byte) string {
		d.Blobs = append(d.Blobs, b)
		return Hash(b)
	}
	list, err := json.Marshal(english.Each(t.Ruleset.Files, func(f kb.File) file {
		return file{f.Layer, f.Path, keep(f.Source.Text)}
	}))
	if err != nil {
		return Deed{}, err
	}
	o := t.Output
	v := &Verdict{Told: keep(t.Told), Why: keep(t.Why), Chain: keep(t.Chain), Ruleset: o.Ruleset, Files: keep(list),
		Method: o.Method, Program: t.Program, Verdict: o.Verdict, Path: o.Path, Nodes: o.Nodes}
	if o.Named != nil {
		v.Named = *o.Named
	}
	if o.Claim != nil {
		v.Claim = o.Claim.Answer
	}
	d.Data.Verdict = v
	return d, nil
}

// Files are the files of the ruleset by which a verdict was reached, as they were then.
func Files(v View, verdict *Verdict) ([]kb.File, error) {
	list, err := Need(v, verdict.Files)
	if err != nil {
		return nil, err
	}
	var files []file
	if err := json.Unmarshal(list, &files); err != nil {
		return nil, err
	}
	var out []kb.File
	for _, f := range files {
		text, err := Need(v, f.Hash)
		if err != nil {
			return nil, err
		}
		out = append(out, kb.File{Layer: f.Layer, Path: f.Path, Source: diag.NewSource(f.Layer+"/"+f.Path, text)})
	}
	return out, nil
}

// Need gives the bytes of a hash that an event names.
func Need(v View, hash string) ([]byte, error) {
	b, err := v.Blob(hash)
	if err == nil && (b == nil || Hash(b) != hash) {
		err = fmt.Errorf("%w: what has the hash %s is gone or changed", ErrDamaged, hash)
	}
	return b, err
}
