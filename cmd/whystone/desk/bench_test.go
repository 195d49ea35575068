package desk

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"
	"time"

	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/users"
)

// BenchmarkAfterAnOutcome compares what the page shows after an outcome, asked for as the script does, with judging the case:
// the two in turn, so that whatever else the machine does meets them alike.
func BenchmarkAfterAnOutcome(b *testing.B) {
	h := newHouse(b)
	number := h.diamond()
	staff := h.as(users.Staff)
	staff.enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	staff.enter(number, "refractometer", "ri", "bound", "above", "above", "1.81")
	staff.enter(number, "hydrostatic-weighing", "specific_gravity", "value", "3.22")
	at, err := url.Parse(h.srv.URL)
	h.ok(err)
	cookies := staff.client.Jar.Cookies(at)
	it := judging.Read(h.now().Ruleset, h.state(number))
	judge := h.now().Prepared.first.Another()
	var judged, shown time.Duration
	for b.Loop() {
		begun := time.Now()
		judge.Of(it.Case)
		judged += time.Since(begun)
		r := httptest.NewRequest(http.MethodGet, "/cases/"+number, http.NoBody)
		r.Host = "localhost"
		r.Header.Set(partHeader, "1")
		for _, c := range cookies {
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		begun = time.Now()
		h.ServeHTTP(w, r)
		shown += time.Since(begun)
		if w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
	b.ReportMetric(float64(shown)/float64(judged), "page/judging")
	b.ReportMetric(float64(judged.Microseconds())/float64(b.N), "µs/judging")
}
