package desk

import (
	"context"
	"sync"
	"time"

	"whystone/cmd/whystone/casebook"
)

// change is something that open pages may have to follow.
type change struct {
	Kind string `json:"kind"`           // rules, case, or replay
	Case string `json:"case,omitempty"` // its number
}

// hub tells open pages what changes.
type hub struct {
	mu    sync.Mutex
	pages map[chan change]bool
}

// waiting is how many changes may wait for a page. One that does not take them is told to look at everything.
const waiting = 64

// listen gives a channel of what changes, until done is called.
func (h *hub) listen() (changes <-chan change, done func()) {
	c := make(chan change, waiting)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.pages == nil {
		h.pages = map[chan change]bool{}
	}
	h.pages[c] = true
	return c, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.pages, c)
	}
}

// tell tells all that listen. Nobody is waited for: whoever has not taken what came before looks at everything anyway.
func (h *hub) tell(x change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.pages {
		select {
		case c <- x:
		default:
			for range waiting / 2 { // what is left out, the last one stands for
				<-c
			}
			c <- change{Kind: "all"}
		}
	}
}

// lookEvery is how often the casebook is looked at for what other programs write.
const lookEvery = 300 * time.Millisecond

// watchBook follows the casebook's log, whoever writes to it, until the context ends.
func (d *Desk) watchBook(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	var at casebook.Head
	first := true
	for {
		touched, head, err := d.since(ctx, at, first)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			d.Log.Warn("the casebook can't be looked at", "error", err)
		default:
			at, first = head, false
		}
		for _, number := range touched {
			d.hub.tell(change{Kind: "case", Case: number})
		}
		select {
		case <-ctx.Done():
			return
		case <-d.wrote:
		case <-tick.C:
		}
	}
}

// since lists the cases that were written to after a moment of the log.
func (d *Desk) since(ctx context.Context, at casebook.Head, first bool) (touched []string, head casebook.Head,
	err error) {
	err = d.Book.Read(ctx, func(v casebook.View) error {
		if head, err = v.Head(); err != nil || first || head == at {
			return err
		}
		if head.Seq <= at.Seq { // another book was put in its place
			touched = []string{""}
			return nil
		}
		seen := map[string]bool{}
		for r, err := range v.Events(at.Seq + 1) {
			if err != nil {
				return err
			}
			if !seen[r.Case] {
				seen[r.Case] = true
				touched = append(touched, r.Case)
			}
		}
		return nil
	})
	return touched, head, err
}

// stir has the casebook looked at now.
func (d *Desk) stir() {
	select {
	case d.wrote <- struct{}{}:
	default: // it is about to be
	}
}
