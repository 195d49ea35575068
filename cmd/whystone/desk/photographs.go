package desk

import (
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"
	"unicode/utf8"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/photograph"
	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/kb/english"
)

// photographRoutes keep and show photographs of a stone.
var photographRoutes = []route{
	{"POST", "/cases/{number}/photographs", users.Enter, of((*asked).found, addPhotograph), ""},
	{"GET", "/cases/{number}/photographs/{seq}/{place}", users.Look, showPhotograph, ""},
}

// photo is a photograph as a page shows it.
type photo struct{ Path, Shows, By, When string }

// photos are those of the case that are not erased.
func (k *kept) photos() []photo {
	return english.Only(k.State.Held, func(h casebook.Held) (photo, bool) {
		p := photo{caseAt(k.Number) + "/photographs/" + h.ID, "A photograph of the stone, not described", h.Event.By,
			terminal.Moment(h.Event.At)}
		for _, ref := range h.Event.Data.Particulars {
			if text, ok := k.Held[ref.ID]; ok && ref.What == casebook.Caption {
				p.Shows = text
			}
		}
		return p, h.What == casebook.Picture
	})
}

// mostShows is how many bytes may say what a photograph shows.
const mostShows = 2000

// addPhotograph keeps a photograph, and nothing of it but what is to be seen.
func addPhotograph(a *asked, k *kept) (*page, error) {
	shows := strings.Join(strings.Fields(a.PostFormValue("shows")), " ")
	if shows == "" || len(shows) > mostShows || !utf8.ValidString(shows) {
		return nil, wrong("Say in a few words what the photograph shows.")
	}
	file, _, err := a.FormFile("photograph")
	if errors.Is(err, http.ErrMissingFile) || errors.Is(err, http.ErrNotMultipart) {
		return nil, wrong("No photograph was chosen.")
	}
	if err != nil {
		return nil, err
	}
	defer func() { _ = file.Close() }() // only read from
	sent, err := io.ReadAll(io.LimitReader(file, photograph.MostBytes+1))
	if err != nil {
		return nil, err
	}
	a.desk.cleaning.Lock()
	media, clean, err := photograph.Clean(sent)
	a.desk.cleaning.Unlock()
	if err != nil {
		return nil, wrong("The photograph is not kept: %s.", err)
	}
	return a.record(k, casebook.ShowAs(media, clean, shows))
}

// shownKinds are the kinds of picture that are shown; other programs may have kept others.
var shownKinds = []string{"image/jpeg", "image/png", "image/gif", "image/webp"}

func showPhotograph(a *asked) (*page, error) {
	id := a.PathValue("seq") + "/" + a.PathValue("place")
	err := a.desk.Book.Read(a.Context(), func(v casebook.View) error {
		s, err := casebook.Find(v, a.PathValue("number"))
		if err != nil {
			return notFound(err)
		}
		i := slices.IndexFunc(s.Held, func(h casebook.Held) bool { return h.ID == id && h.What == casebook.Picture })
		if i < 0 {
			return &problem{Status: http.StatusNotFound, Says: "There is no such photograph; perhaps it was erased."}
		}
		if !slices.Contains(shownKinds, s.Held[i].Type) {
			return wrong("What is kept is %s, which the desk does not show; whystone casebook picture --to writes it "+
				"to a file.",
				s.Held[i].Type)
		}
		p, err := v.Particular(id)
		if err != nil || p == nil {
			return errors.Join(err, casebook.ErrDamaged)
		}
		a.header.Set("Content-Type", s.Held[i].Type)
		_, _ = a.w.Write(p.Content) // who asked may be gone
		return nil
	})
	return nil, err
}
