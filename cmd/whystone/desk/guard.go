package desk

import (
	"net"
	"net/http"
	"slices"
	"strings"

	"whystone/cmd/whystone/photograph"
)

// policy is what a page may load: what this desk serves, and nothing else. No script or style stands in a page.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; " +
	"base-uri 'none'; frame-ancestors 'none'"

// mostBody bounds what a form may send; more is taken of those that send files.
const mostBody = 1 << 20

// mostOf bounds what the forms send that send files, with what is around a file.
var mostOf = map[string]int64{"/replays": mostArchive + mostBody, "/cases/{number}/photographs": photograph.MostBytes +
	mostBody}

// bodyOf is how much a route takes.
func bodyOf(rt route) int64 { return max(mostOf[rt.Pattern], mostBody) }

// guarded is all that stands before the routes, outermost last.
func (d *Desk) guarded(pages http.Handler) http.Handler {
	return headed(d.byName(http.NewCrossOriginProtection().Handler(pages)))
}

// headed sets what goes with every answer, refusals too.
func headed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin") // without it a form would not say where it comes from
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// byName refuses who asks by another name than the desk's own: a page elsewhere may have its name lead here.
func (d *Desk) byName(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !d.known(r.Host) {
			http.Error(w, "This desk is not called that. Start it with --host to give it another name.",
				http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func (d *Desk) known(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.ToLower(strings.Trim(name, "[]"))
	return loopback(name) || slices.Contains(d.Hosts, name)
}

// place is where a request comes from.
func place(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}
