package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"whystone/cmd/whystone/users"
	"whystone/kb/kbtest"
)

// readmePictures are the pictures of README.md, and the pages that they show.
var readmePictures = []struct{ name, path string }{{"case", ""}, {"enter", "?test=refractometer"}, {"why", "/why"}}

// TestReadmePictures: the pictures that README.md shows are of pages as they are, style included. WHYSTONE_UPDATE=1
// takes them anew; look at them then.
func TestReadmePictures(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Staff)
	number := strings.TrimPrefix(b.post("/cases", "claim", "diamond", "stone.carat", "0.88", "stone.mounted", "false",
		"stone.cut", "round brilliant", "stake", "2600").to, "/cases/")
	b.enter(number, "thermal-probe", "thermal_probe", "choice", "diamond range")
	b.enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	folder := filepath.Join(kbtest.Root(t), "testdata", "desk")
	list := filepath.Join(folder, "pictures.txt")
	var now strings.Builder
	for _, p := range readmePictures {
		sum := sha256.Sum256([]byte(b.get("/cases/" + number + p.path).body)) // it names its style by a hash
		fmt.Fprintf(&now, "%s.png %s\n", p.name, hex.EncodeToString(sum[:]))
	}
	if os.Getenv("WHYSTONE_UPDATE") != "1" {
		kept, err := os.ReadFile(list)
		if err != nil || string(kept) != now.String() {
			t.Errorf("pages changed since the pictures of README.md were taken: take them anew with "+
				"WHYSTONE_UPDATE=1 go test ./cmd/whystone/desk -run ReadmePictures, and look at them (%v)", err)
		}
		return
	}
	w := h.open().signIn(users.Staff)
	h.ok(os.MkdirAll(folder, 0o750))
	w.run(chromedp.EmulateViewport(1100, 760))
	for _, p := range readmePictures {
		w.goTo("/cases/" + number + p.path)
		w.run(chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
		png, err := chromedp.Run(w.ctx, chromedp.CaptureScreenshot())
		h.ok(err)
		h.ok(os.WriteFile(filepath.Join(folder, p.name+".png"), png, 0o600))
	}
	h.ok(os.WriteFile(list, []byte(now.String()), 0o600))
}
