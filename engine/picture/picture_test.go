package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/kbtest"
	"whystone/kb/physics/raytrace"
)

// plane is an invented one.
func plane() *Plane {
	return &Plane{
		Title: "An invented stone",
		Areas: []Area{
			{"aldite", Span{1.54, 1.56}, Span{2.6, 2.7}, RuledOut},
			{"brensite", Span{2.41, 2.42}, Span{3.51, 3.53}, Named},
			{"corvite", Span{1.6, 2.5}, Span{3, 4}, Open},
			{"dunite <glass> & \"paste\"", Span{1.5, 1.5}, Span{2.3, 2.3}, RuledOut},
		},
		Index:   []Reading{{"RI above 1.81", Span{1.81, math.Inf(1)}}},
		Density: []Reading{{"specific gravity 3.52 ± 0.03", Span{3.46, 3.58}}},
	}
}

func TestPlane(t *testing.T) {
	p := plane().Draw()
	sound(t, p)
	kbtest.Golden(t, "testdata/plane.svg", string(p.SVG))
	var b bytes.Buffer
	if err := WritePage(&b, "Pictures", p); err != nil {
		t.Fatal(err)
	}
	kbtest.Golden(t, "testdata/page.html", b.String())
}

func TestBalance(t *testing.T) {
	b := &Balance{Title: "An invented balance", Weight: 0.8,
		Curves: []Curve{{"repeats to 0.002 ct", [][2]float64{{0.1, 1.2}, {1, 0.12}, {10, 0.013}}},
			{"repeats to 0.0002 ct", [][2]float64{{0.1, 0.12}, {1, 0.012}}}},
		Levels: []Level{{"aldite", 0.3, 0.4}, {"brensite", 0.29, 0.41}, {"corvite", 1e-4, 0}}}
	p := b.Draw()
	sound(t, p)
	kbtest.Golden(t, "testdata/balance.svg", string(p.SVG))
	sound(t, (&Balance{Title: "nothing"}).Draw())
}

func TestEvidence(t *testing.T) {
	p := (&Evidence{Title: "Invented evidence", Cases: []Case{
		{"brensite", Named, "", []Strand{{"density", 1.2}, {"refraction", 2.1}, {"thermal", -0.3}}},
		{"corvite of a very long name that goes on", Open, "", nil},
		{"aldite", RuledOut, "specific gravity", []Strand{{"density", -2}, {"refraction", 0.4}, {"thermal", -9}}},
	}}).Draw()
	sound(t, p)
	kbtest.Golden(t, "testdata/evidence.svg", string(p.SVG))
	sound(t, (&Evidence{}).Draw())
}

func TestRates(t *testing.T) {
	r := (&Reliability{Title: "Invented reliability", Steps: []Step{
		{0.1, 0.4, Rate{K: 3, N: 20, Value: 0.15, Low: 0.05, End: 0.36}},
		{0.9, 0.901, Rate{K: 19, N: 20, Value: 0.95, Low: 0.76, End: 0.99}}}}).Draw()
	m := (&Months{Title: "Invented months", Of: "wrong names", Rates: []Rate{{Says: "2031-01", K: 1, N: 40,
		Value: 0.025, Low: 0.004, End: 0.13}, {Says: "2031-02", End: 1}}}).Draw()
	sound(t, r)
	sound(t, m)
	kbtest.Golden(t, "testdata/reliability.svg", string(r.SVG))
	kbtest.Golden(t, "testdata/months.svg", string(m.SVG))
	sound(t, (&Reliability{}).Draw())
	sound(t, (&Months{}).Draw())
}

func TestRays(t *testing.T) {
	for name, index := range map[string]float64{"rays": 2.417, "rays-through": 2.16} {
		stone, err := raytrace.Brilliant(raytrace.Usual, index)
		if err != nil {
			t.Fatal(err)
		}
		c := OfRays(stone, 0, 6)
		p := c.Draw()
		sound(t, p)
		kbtest.Golden(t, "testdata/"+name+".svg", string(p.SVG))
		direct := 0
		for _, path := range c.Paths {
			if path.Ends == onPaper {
				direct++
			}
		}
		if len(c.Paths) != 6 || direct > 0 != (index < raytrace.LargestIndex(raytrace.Usual.Pavilion)) {
			t.Errorf("index %g: %d paths, %d to the paper", index, len(c.Paths), direct)
		}
	}
}

// sound holds a drawing to what all of them promise: it is XML, asks for nothing from elsewhere, runs nothing, says
// by no colour what it says, and tells its whole table to who can't see it.
func sound(t testing.TB, p *Picture) []xml.Token {
	t.Helper()
	var all []xml.Token
	text := ""
	d := xml.NewDecoder(strings.NewReader(string(p.SVG)))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", p.Title, err)
		}
		all = append(all, xml.CopyToken(token))
		switch x := token.(type) {
		case xml.CharData:
			text += string(x)
		case xml.StartElement:
			if !slices.Contains([]string{"svg", "title", "desc", "rect", "line", "path", "text"}, x.Name.Local) {
				t.Errorf("%s: an element %q", p.Title, x.Name.Local)
			}
			for _, a := range x.Attr {
				if n := a.Name.Local; n == "style" || n == "href" || strings.HasPrefix(n, "on") ||
					(n == "fill" || n == "stroke") && a.Value != "currentColor" && a.Value != "none" {
					t.Errorf("%s: an attribute %s=%q", p.Title, n, a.Value)
				}
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") ||
					strings.Contains(a.Value, "ZgotmplZ") {
					t.Errorf("%s: %s=%q", p.Title, a.Name.Local, a.Value)
				}
			}
		}
	}
	for _, row := range p.Table.Rows {
		if len(row) != len(p.Table.Head) {
			t.Errorf("%s: a row of %d cells below %d heads", p.Title, len(row), len(p.Table.Head))
		}
		for _, cell := range row {
			if !strings.Contains(text, cell) {
				t.Errorf("%s: %q is in the table only", p.Title, cell)
			}
		}
	}
	return all
}

// texts are what the drawing shows by class.
func texts(tokens []xml.Token, class string) []string {
	var out []string
	open := false
	for _, token := range tokens {
		switch x := token.(type) {
		case xml.StartElement:
			open = x.Name.Local == "text" && len(x.Attr) > 0 && x.Attr[0].Value == class
		case xml.CharData:
			if open {
				out = append(out, string(x))
			}
			open = false
		}
	}
	return out
}

// Whatever is drawn, it is sound and drawn alike again, and what is not ruled out is named.
func TestPlanesOfAllKinds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		span := func(name string, low, high float64) Span {
			a := rapid.Float64Range(low, high).Draw(rt, name)
			switch rapid.IntRange(0, 5).Draw(rt, name+" kind") {
			case 0:
				return Span{a, math.Inf(1)}
			case 1:
				return Span{a, a}
			}
			return Span{a, rapid.Float64Range(a, high).Draw(rt, name+" end")}
		}
		p := &Plane{Title: rapid.String().Draw(rt, "title")}
		p.Title = strings.ToValidUTF8(strings.Map(printable, p.Title), "")
		var named []string
		for range rapid.IntRange(0, 8).Draw(rt, "areas") {
			a := Area{Name: strings.Map(printable, rapid.StringN(1, 12, 40).Draw(rt, "name")),
				Standing: Standing(rapid.IntRange(0, 2).Draw(rt, "standing")), Index: span("index", 1, 3),
				Density: span("density", 1, 8)}
			p.Areas = append(p.Areas, a)
			if a.Standing != RuledOut {
				named = append(named, a.Name)
			}
		}
		for range rapid.IntRange(0, 2).Draw(rt, "readings") {
			p.Density = append(p.Density, Reading{"density", span("density read", 1, 8)})
			p.Index = append(p.Index, Reading{"index", span("index read", 1, 3)})
		}
		got := p.Draw()
		tokens := sound(t, got)
		if again := p.Draw(); again.SVG != got.SVG {
			t.Error("drawn again it differs")
		}
		if labels := texts(tokens, "label"); len(labels) != len(named) {
			t.Errorf("only %q of %q are named", labels, named)
		}
	})
}

func printable(r rune) rune {
	if r < ' ' || r == 0x7f || r == 0xfffd || r > 0xd7ff || r == '\u2028' || r == '\u2029' {
		return 'x'
	}
	return r
}

func TestLabelsNeverMeet(t *testing.T) {
	s, l := &scene{}, &labels{frame: box{0, 0, 300, 300}}
	for range 200 {
		l.place(s, "label", look{}, 12, "aldite", box{100, 100, 110, 110})
	}
	if len(l.taken) < 10 {
		t.Errorf("only %d labels found room", len(l.taken))
	}
	for i, a := range l.taken {
		for _, b := range l.taken[:i] {
			if a.meets(b) || !a.within(l.frame) {
				t.Fatalf("%v meets %v, or leaves the frame", a, b)
			}
		}
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		a    axis
		want string
	}{
		{axis{from: 0, to: 1}, "0 0.2 0.4 0.6 0.8 1"},
		{axis{from: 1.4, to: 2.93}, "1.4 1.6 1.8 2 2.2 2.4 2.6 2.8"},
		{axis{from: 0.05, to: 20, log: true}, "0.05 0.1 0.2 0.5 1 2 5 10 20"},
	} {
		var got []string
		for _, v := range c.a.ticks(8) {
			got = append(got, figure(v))
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%g to %g: %s, want %s", c.a.from, c.a.to, s, c.want)
		}
	}
}
