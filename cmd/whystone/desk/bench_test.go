package desk

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/users"
)

// BenchmarkAfterAnOutcome compares what an outcome costs with judging the same case with its chain. It is sent as the
// script sends it, and the page looked at that it leads to, by somebody who looked at the page before. The two are done
// in turn, so that whatever else the machine does meets them alike. Each outcome is that of a case of its own, for
// cases grow with their history.
func BenchmarkAfterAnOutcome(b *testing.B) {
	h := newHouse(b)
	staff := h.as(users.Staff)
	at, err := url.Parse(h.srv.URL)
	h.ok(err)
	cookies := staff.client.Jar.Cookies(at)
	ask := func(method, path, form, seen string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, strings.NewReader(form))
		r.Host = "localhost"
		r.Header.Set(partHeader, "1")
		r.Header.Set(seenHeader, seen)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for _, c := range cookies {
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	judge := h.now().Prepared.first.Another()
	var judged, sent, shown, both times
	for b.Loop() {
		fields := map[string]string{"claim": `"diamond"`, "stone.carat": "0.88", "stone.mounted": "false",
			"stake": "2600"}
		opened, err := h.Book.Open(ctx, "staff", []casebook.Deed{{Kind: casebook.Opened,
			Data: casebook.Data{Fields: fields}}})
		h.ok(err)
		number := opened[0].Number
		_, err = h.Book.Do(ctx, "staff", &casebook.State{Number: number}, 0, nil, casebook.Add("thermal_probe", `"diamond range"`),
			casebook.Add("facet_doubling", `"strong"`), casebook.Add("ri", "{above: 1.81}"))
		h.ok(err)
		seen := fmt.Sprintf("%d.4", h.now().Seq)
		ask(http.MethodGet, "/cases/"+number, "", seen)
		begun := time.Now()
		w := ask(http.MethodPost, "/cases/"+number+"/readings",
			"test=hydrostatic-weighing&observable=specific_gravity&value=3.22", seen)
		sent = append(sent, time.Since(begun))
		if w.Code != http.StatusSeeOther {
			b.Fatal(w.Code, w.Body)
		}
		begun = time.Now()
		w = ask(http.MethodGet, w.Header().Get("Location"), "", seen)
		shown = append(shown, time.Since(begun))
		both = append(both, sent[len(sent)-1]+shown[len(shown)-1])
		if w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
		it := judging.Read(h.now().Ruleset, h.state(number))
		begun = time.Now()
		judge.Of(it.Case)
		judged = append(judged, time.Since(begun))
	}
	for name, t := range map[string]times{"sending": sent, "page": shown, "both": both} {
		b.ReportMetric(float64(t.quick())/float64(judged.quick()), name+"/judging")
	}
	b.ReportMetric(float64(judged.quick().Microseconds()), "µs/judging")
}

// times are how long something took, again and again. On a machine that does other work beside, the quick ones say what
// it costs.
type times []time.Duration

func (t times) quick() time.Duration {
	slices.Sort(t)
	return t[len(t)/10]
}
