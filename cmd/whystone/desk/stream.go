package desk

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"

	"whystone/cmd/whystone/users"
)

// liveRoutes are what open pages follow.
var liveRoutes = []route{{"GET", "/changes", users.SignedIn, stream, ""}}

// How often a page hears that the desk is there, and how long a page may be in taking it.
const (
	heartbeat = 10 * time.Second
	takes     = 20 * time.Second
)

// stream tells a browser what changes, as server-sent events, for as long as the session lasts. A page that hears
// nothing for longer than the heartbeat knows that what it shows may be old.
func stream(a *asked) (*page, error) {
	out := http.NewResponseController(a.w)
	a.header.Set("Content-Type", "text/event-stream")
	a.header.Set("X-Accel-Buffering", "no") // what stands before the desk must not gather
	send := func(text string) bool {
		if out.SetWriteDeadline(time.Now().Add(takes)) != nil {
			return false
		}
		_, err := io.WriteString(a.w, text)
		return err == nil && out.Flush() == nil
	}
	changes, done := a.desk.hub.listen()
	defer done()
	tick := time.NewTicker(a.desk.heartbeat)
	defer tick.Stop()
	if !send("retry: 1000\nevent: beat\ndata: {}\n\n") {
		return nil, nil
	}
	for {
		select {
		case <-a.Context().Done():
			return nil, nil
		case x := <-changes:
			data, err := json.Marshal(x)
			if err != nil || !send(fmt.Sprintf("event: changed\ndata: %s\n\n", data)) {
				return nil, nil
			}
		case <-tick.C:
			if who, err := a.still(); err != nil || who == nil {
				send("event: signed-out\ndata: {}\n\n")
				return nil, nil
			}
			if !send("event: beat\ndata: {}\n\n") {
				return nil, nil
			}
		}
	}
}

// still is who is signed in, if they still are. That a page follows is no sign that somebody sits there.
func (a *asked) still() (*users.Somebody, error) {
	c, err := a.Cookie(cookie)
	if err != nil {
		return nil, nil //nolint:nilerr // nobody is
	}
	return a.desk.Users.Who(a.Context(), c.Value, false)
}
