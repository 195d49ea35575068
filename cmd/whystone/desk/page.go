package desk

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"whystone/cmd/whystone/users"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
)

// page is what a handler answers with.
type page struct {
	Template string // of the folder pages, without its ending
	Title    string
	View     any // what the template is given
	// Data is what a command's --json gives of the same. It is the answer where that is asked for, and where there is
	// no template.
	Data   any
	Status int    // 200 where it is 0
	To     string // it is elsewhere
}

//go:embed pages static
var files embed.FS

// shown is what the layout is given.
type shown struct {
	*page
	House  string
	Who    *users.Somebody
	Menu   []entry
	Path   string
	Script string
	Style  string
	Stale  *refusedRules // nil while what is saved is what runs
	Live   bool
}

// refusedRules is what stands on every page while the saved ruleset can't be used.
type refusedRules struct {
	Since string
	Runs  string // the digest of the last good one, in short
	Wrong []refusal
}

// refusal is one thing that is wrong with the saved files.
type refusal struct{ At, Says string }

// stale says what is wrong with the saved ruleset; nil when nothing is.
func (d *Desk) stale() *refusedRules {
	st := d.live.Status()
	if !st.Stale {
		return nil
	}
	out := &refusedRules{Since: st.Since.In(d.now().Ruleset.Policy.Zone).Format("2006-01-02 15:04:05"),
		Runs: kb.ShortDigest(st.Digest)}
	for _, f := range st.Why {
		r := refusal{Says: found(diag.List{f})[0]}
		if !f.Span.IsZero() {
			r.At = f.Span.String()
		}
		out.Wrong = append(out.Wrong, r)
	}
	return out
}

// entry is a line of the menu.
type entry struct {
	Says, Path string
	Here       bool
}

// templates are those of the folder, each with the layout and the parts.
var templates = func() map[string]*template.Template {
	layout := template.Must(template.New("layout").Option("missingkey=zero").Funcs(functions).ParseFS(files,
		"pages/layout.html", "pages/parts.html"))
	out := map[string]*template.Template{}
	names, err := fs.Glob(files, "pages/*.html")
	if err != nil {
		panic(err) // the pattern is fixed
	}
	for _, name := range names {
		id := strings.TrimSuffix(path.Base(name), ".html")
		if id == "layout" || id == "parts" {
			continue
		}
		out[id] = template.Must(template.Must(layout.Clone()).ParseFS(files, name))
	}
	return out
}()

// show writes a page in the form that is asked for.
func (a *asked) show(p *page) {
	switch {
	case p.To != "":
		http.Redirect(a.w, a.Request, p.To, http.StatusSeeOther)
		return
	case p.Template == "" || p.Data != nil && a.wantsJSON():
		a.header.Set("Content-Type", "application/json")
		a.write(p, func(b *bytes.Buffer) error {
			enc := json.NewEncoder(b)
			enc.SetEscapeHTML(false)
			list, ok := p.Data.(lines)
			if !ok {
				return enc.Encode(p.Data)
			}
			for _, x := range list {
				if err := enc.Encode(x); err != nil {
					return err
				}
			}
			return nil
		})
		return
	}
	a.header.Set("Content-Type", "text/html; charset=utf-8")
	a.header.Set("Vary", "Accept, "+partHeader)
	v := &shown{page: p, House: a.desk.House, Who: a.who, Path: a.URL.Path, Script: assets["desk.js"].path,
		Style: assets["desk.css"].path}
	if a.who != nil && !a.who.Choose {
		v.Menu, v.Stale, v.Live = menu(a.who.Role, a.URL.Path), a.desk.stale(), true
	}
	a.write(p, func(b *bytes.Buffer) error { return templates[p.Template].ExecuteTemplate(b, "layout", v) })
}

// write sends what is made, once it is there whole.
func (a *asked) write(p *page, do func(*bytes.Buffer) error) {
	var b bytes.Buffer
	if err := do(&b); err != nil {
		a.desk.Log.Error("a page can't be written", "path", a.URL.Path, "error", err)
		http.Error(a.w, errFault.Says, http.StatusInternalServerError)
		return
	}
	if p.Status != 0 {
		a.w.WriteHeader(p.Status)
	}
	_, _ = a.w.Write(b.Bytes()) // who asked may be gone
}

// menu is that of a role.
func menu(role users.Role, at string) []entry {
	return english.Only(routes, func(r route) (entry, bool) {
		here := at == r.Pattern || strings.HasPrefix(at, r.Pattern+"/")
		return entry{r.Menu, r.Pattern, here}, r.Menu != "" && role.May(r.May)
	})
}

// asset is a file that pages load, under a name that changes with it.
type asset struct {
	path, media string
	text        []byte
}

var assets = func() map[string]asset {
	out := map[string]asset{}
	for name, media := range map[string]string{"desk.css": "text/css; charset=utf-8",
		"desk.js": "text/javascript; charset=utf-8"} {
		text, err := files.ReadFile("static/" + name)
		if err != nil {
			panic(err) // it is embedded
		}
		sum := sha256.Sum256(text)
		out[name] = asset{"/static/" + name + "?v=" + hex.EncodeToString(sum[:8]), media, text}
	}
	return out
}()

// static serves a file that pages load.
func static(w http.ResponseWriter, r *http.Request) {
	x, ok := assets[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", x.media)
	if strings.HasSuffix(x.path, "?"+r.URL.RawQuery) {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(x.text))
}
