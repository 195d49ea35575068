package desk

import (
	"errors"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
)

// eraseRoutes erase what is held of a customer, on request.
var eraseRoutes = []route{
	{"GET", "/cases/{number}/erase", users.Erase, of((*asked).found, showErase), ""},
	{"POST", "/cases/{number}/erase", users.Erase, of((*asked).found, erase), ""},
}

// erasing is what the page shows on which something is erased.
type erasing struct {
	*kept
	Customer, Notes []string // what is held of the customer; notes, those of readings too
	Photos          []photo
	Gone            int    // how many things were erased just now
	Traces          string // what is still on the disk after that
}

func (k *kept) erasing() *erasing {
	v := &erasing{kept: k, Photos: k.photos()}
	for _, h := range k.State.Held {
		switch h.What {
		case casebook.Customer:
			v.Customer = append(v.Customer, k.Held[h.ID])
		case casebook.Note:
			v.Notes = append(v.Notes, k.Held[h.ID])
		case casebook.ReadingNote:
			v.Notes = append(v.Notes, noteText(k.Held[h.ID]))
		}
	}
	return v
}

func erasePage(v *erasing) *page {
	return &page{Template: "erase", Title: "Erase: " + v.Number, View: v}
}

func showErase(_ *asked, k *kept) (*page, error) { return erasePage(k.erasing()), nil }

// erase erases what is ticked. That it was erased, by whom and when, stands in the case's history and in the audit.
func erase(a *asked, k *kept) (*page, error) {
	var kinds []string
	ticked := func(name, says string) bool {
		if a.PostForm.Get(name) == "" {
			return false
		}
		kinds = append(kinds, says)
		return true
	}
	ids := k.HeldOf(ticked("customer", "customer"), ticked("notes", "notes"), ticked("pictures", "photographs"))
	switch {
	case len(ids) == 0:
		return nil, wrong("Nothing is held of what was ticked. Nothing was erased.")
	case a.PostForm.Get("sure") == "":
		return nil, wrong("Tick that you are sure: what is erased can't be had back.")
	}
	_, err := a.do(k, a.seen(), casebook.Forget(ids, a.because()))
	traces := errors.Is(err, casebook.ErrTraces)
	if err != nil && !traces {
		return a.finish(k, err)
	}
	if err := a.desk.Users.Enter(a.Context(), a.who.Name, "erased", k.Number+": "+
		strings.Join(kinds, ", ")); err != nil {
		return nil, err
	}
	again, err := a.found()
	if err != nil {
		return nil, err
	}
	v := again.erasing()
	v.Gone = len(ids)
	if traces {
		v.Traces = casebook.ErrTraces.Error()
	}
	return erasePage(v), nil
}
