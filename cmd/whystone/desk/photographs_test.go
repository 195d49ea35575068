package desk

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
)

// photographOf is a JPEG with a comment in it, as a camera may leave one.
func photographOf(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	p := image.NewGray(image.Rect(0, 0, 640, 480))
	for i := range p.Pix {
		p.Pix[i] = uint8(i % 640 / 3)
	}
	if err := jpeg.Encode(&b, p, nil); err != nil {
		t.Fatal(err)
	}
	comment := "taken at a secret place"
	return append(append([]byte{0xFF, 0xD8, 0xFF, 0xFE, 0, byte(len(comment) + 2)}, comment...), b.Bytes()[2:]...)
}

var ofThePhotograph = []string{"shows", "The girdle, \"frosted\" <from the side>"}

// TestPhotographs: one is kept without what a camera says of it, and shown with what it shows; nothing else is taken,
// and no export or report has it unless it is asked for.
func TestPhotographs(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	at := "/cases/" + number
	b := h.as(users.Staff)
	b.send(at+"/photographs", "photograph", "a.jpg", []byte("<svg onload='x'/>"), ofThePhotograph...).says(t, 422,
		"The photograph is not kept: a photograph is a JPEG or PNG file.")
	b.send(at+"/photographs", "photograph", "a.jpg", photographOf(t)).says(t, 422,
		"Say in a few words what the photograph shows.")
	b.send(at+"/photographs", "other", "a.jpg", photographOf(t), ofThePhotograph...).says(t, 422,
		"No photograph was chosen.")
	b.post(at+"/photographs", ofThePhotograph...).says(t, 422, "No photograph was chosen.")
	if got := h.state(number).Version; got != 2 {
		t.Fatalf("version %d", got)
	}
	if a := b.send(at+"/photographs", "photograph", "a.jpg", photographOf(t), ofThePhotograph...); a.to != at {
		t.Fatal(a.status, text(a.body))
	}
	a := b.get(at)
	if !strings.Contains(a.body, `alt="The girdle, &#34;frosted&#34; &lt;from the side&gt;"`) {
		t.Error("it is not said what it shows")
	}
	_, after, _ := strings.Cut(a.body, `<img src="`)
	src, _, _ := strings.Cut(after, `"`)
	got := b.get(src)
	if got.status != 200 || got.header.Get("Content-Type") != "image/jpeg" ||
		got.header.Get("Cache-Control") != "no-store" || strings.Contains(got.body, "secret") {
		t.Errorf("%d %v", got.status, got.header)
	}
	if p, err := jpeg.Decode(strings.NewReader(got.body)); err != nil || p.Bounds().Dx() != 640 {
		t.Error(err)
	}
	if a := h.browser().get(src); a.status != http.StatusSeeOther {
		t.Errorf("without sign-in it is given: %d", a.status)
	}
	other := h.diamond()
	b.get(strings.Replace(src, number, other, 1)).says(t, 404, "There is no such photograph")
	b.get(at+"/photographs/1/1").says(t, 404, "There is no such photograph") // that is a note
	for _, path := range []string{"/report", "/why"} {
		if strings.Contains(b.get(at+path).body, "girdle") {
			t.Errorf("%s has it", path)
		}
	}
	h.ok(h.Book.Read(ctx, func(v casebook.View) error {
		var out bytes.Buffer
		if err := casebook.ExportEvents(v, &out, false); err != nil {
			return err
		}
		if strings.Contains(out.String(), "girdle") || out.Len() > 200<<10 {
			t.Errorf("an export has it: %d bytes", out.Len())
		}
		return nil
	}))
	if strings.Contains(h.state(number).Form(nil), "girdle") {
		t.Error("the case form has it")
	}
	_, err := h.Book.Do(ctx, "elsewhere", &casebook.State{Number: number}, 0, nil,
		casebook.Show("image/svg+xml", []byte("<svg/>")))
	h.ok(err)
	all := h.state(number).Held
	b.get(at+"/photographs/"+all[len(all)-1].ID).says(t, 422, "which the desk does not show")
	b.get(at).says(t, 200, "A photograph of the stone, not described")
}

// TestPhotographIsAdded: it is added on the open page, and is there without another look.
func TestPhotographIsAdded(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	var b bytes.Buffer
	h.ok(png.Encode(&b, image.NewGray(image.Rect(0, 0, 1200, 300))))
	file := filepath.Join(t.TempDir(), "wide.png")
	h.ok(os.WriteFile(file, b.Bytes(), 0o600))
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number)
	w.click(`#photographs summary`)
	w.run(chromedp.SetUploadFiles(`input[name=photograph]`, []string{file}),
		chromedp.SendKeys(`input[name=shows]`, "the join, from the side"))
	w.click(`#photographs form button`)
	w.until(`(document.querySelector("#photographs img")||{}).naturalWidth === 1200`, "the photograph")
	w.sees("the join, from the side; staff")
	w.looks(func(name string) {
		if wide := w.value(`document.documentElement.scrollWidth - innerWidth`); wide != "0" &&
			!strings.HasPrefix(wide, "-") {
			t.Errorf("%s px wider than the window (%s)", wide, name)
		}
	})
}
