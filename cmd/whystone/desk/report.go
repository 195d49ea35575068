package desk

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"

	paper "whystone/cmd/whystone/page"
	"whystone/cmd/whystone/users"
	"whystone/engine/answers"
	"whystone/kb/english"
)

// reportRoutes give what is printed.
var reportRoutes = []route{{"GET", "/cases/{number}/report", users.Look, of((*asked).explained, showReport), ""}}

// showReport writes the page that whystone why --page writes. Its style stands in the page, and is allowed by its hash.
func showReport(a *asked, k *kept) (*page, error) {
	one := ask(k, func(x *answers.Asker) paper.Case {
		return paper.Of(x, k.Told, k.Head.String(), english.List(k.By, "and"))
	})
	one.House = a.desk.House
	var b bytes.Buffer
	if err := paper.Write(&b, []paper.Case{one}); err != nil {
		return nil, err
	}
	a.header.Set("Content-Security-Policy", "default-src 'none'; style-src '"+styleHash(b.Bytes())+
		"'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
	a.header.Set("Content-Type", "text/html; charset=utf-8")
	_, _ = a.w.Write(b.Bytes()) // who asked may be gone
	return nil, nil
}

// styleHash is the hash of the style of a page, as a policy names it.
func styleHash(html []byte) string {
	_, after, _ := bytes.Cut(html, []byte("<style>"))
	style, _, _ := bytes.Cut(after, []byte("</style>"))
	sum := sha256.Sum256(style)
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
