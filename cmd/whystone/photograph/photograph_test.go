package photograph

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"
)

// quarters is a picture of 64 by 32 with another colour in each quarter: red, green, blue and white from the top left
// by rows.
func quarters() *image.RGBA {
	p := image.NewRGBA(image.Rect(0, 0, 64, 32))
	for y := range 32 {
		for x := range 64 {
			copy(p.Pix[p.PixOffset(x, y):], []string{"\xFF\x00\x00\xFF", "\x00\xFF\x00\xFF", "\x00\x00\xFF\xFF",
				"\xFF\xFF\xFF\xFF"}[x/32+2*(y/16)])
		}
	}
	return p
}

// corners are the colours of the quarters, as they are seen.
func corners(p image.Image) string {
	w, h := p.Bounds().Dx(), p.Bounds().Dy()
	out := ""
	for _, at := range [][2]int{{w / 4, h / 4}, {3 * w / 4, h / 4}, {w / 4, 3 * h / 4}, {3 * w / 4, 3 * h / 4}} {
		r, g, b, _ := p.At(at[0], at[1]).RGBA()
		switch {
		case r > 0x8000 && g > 0x8000 && b > 0x8000:
			out += "w"
		case r > 0x8000:
			out += "r"
		case g > 0x8000:
			out += "g"
		default:
			out += "b"
		}
	}
	return out
}

// withExif puts a segment of Exif with an orientation and a secret into a JPEG.
func withExif(file []byte, order binary.AppendByteOrder, orientation uint16) []byte {
	exif := []byte("Exif\x00\x00")
	if order.String() == "LittleEndian" {
		exif = append(exif, "II*\x00"...)
	} else {
		exif = append(exif, "MM\x00*"...)
	}
	exif = order.AppendUint32(exif, 8)
	exif = order.AppendUint16(exif, 2) // entries
	exif = order.AppendUint16(exif, 0x010F)
	exif = order.AppendUint16(exif, 2)
	exif = order.AppendUint32(exif, 4)
	exif = append(exif, "who\x00"...)
	exif = order.AppendUint16(exif, 0x0112)
	exif = order.AppendUint16(exif, 3)
	exif = order.AppendUint32(exif, 1)
	exif = order.AppendUint16(exif, orientation)
	exif = append(exif, 0, 0, 0, 0, 0, 0)
	exif = append(exif, "secret place"...)
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE1}, binary.BigEndian.AppendUint16(nil, uint16(len(exif)+2))...)
	return append(append(out, exif...), file[2:]...)
}

func encoded(t *testing.T, p image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, p, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestUpright: a photograph is seen as its camera says, and says nothing more itself. What each orientation means is
// TIFF 6.0's (from memory): where row 0 and column 0 of the file are when it is looked at.
func TestUpright(t *testing.T) {
	file := encoded(t, quarters())
	for orientation, want := range []string{"rgbw", "rgbw", "grwb", "wbgr", "bwrg", "rbgw", "brwg", "wgbr", "gwrb",
		"rgbw"} {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			media, clean, err := Clean(withExif(file, order, uint16(orientation)))
			if err != nil || media != "image/jpeg" {
				t.Fatal(media, err)
			}
			if bytes.Contains(clean, []byte("secret")) || bytes.Contains(clean, []byte("Exif")) {
				t.Error("it still says where it was taken")
			}
			p, err := jpeg.Decode(bytes.NewReader(clean))
			if err != nil {
				t.Fatal(err)
			}
			if got := corners(p); got != want {
				t.Errorf("orientation %d: %s, not %s", orientation, got, want)
			}
			if tall := p.Bounds().Dy() > p.Bounds().Dx(); tall != (orientation >= 5 && orientation <= 8) {
				t.Errorf("orientation %d: %v", orientation, p.Bounds())
			}
		}
	}
}

func TestPNG(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, quarters()); err != nil {
		t.Fatal(err)
	}
	at := 8 + 25 // behind the first chunk
	text := []byte("tEXtplace\x00secret")
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(text)-4))
	chunk = append(append(chunk, text...), 0, 0, 0, 0) // its check sum is not looked at in all readers
	media, clean, err := Clean(b.Bytes())
	if err != nil || media != "image/png" {
		t.Fatal(media, err)
	}
	p, err := png.Decode(bytes.NewReader(clean))
	if err != nil || corners(p) != "rgbw" {
		t.Fatal(err)
	}
	dirty := append(append(bytes.Clone(b.Bytes()[:at]), chunk...), b.Bytes()[at:]...)
	if _, clean, err := Clean(dirty); err == nil && bytes.Contains(clean, []byte("secret")) {
		t.Error("it still says where it was taken")
	}
}

func TestRefused(t *testing.T) {
	var wide bytes.Buffer
	if err := png.Encode(&wide, image.NewGray(image.Rect(0, 0, 8000, 5001))); err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string]struct {
		sent []byte
		says string
	}{
		"text":    {[]byte("<svg onload='x'/>"), "JPEG or PNG"},
		"nothing": {nil, "JPEG or PNG"},
		"gif":     {[]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), "JPEG or PNG"},
		"broken":  {encoded(t, quarters())[:400], ""},
		"large":   {make([]byte, MostBytes+1), "16 MiB"},
		"wide":    {wide.Bytes(), "8000 by 5001"},
	} {
		if _, _, err := Clean(x.sent); err == nil || !strings.Contains(err.Error(), x.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzClean: nothing that is sent brings it down, what is kept can be read again, and has nothing beside the picture.
func FuzzClean(f *testing.F) {
	f.Add([]byte{0xFF, 0xD8, 0xFF, 0xE1, 0, 2})
	var b bytes.Buffer
	_ = jpeg.Encode(&b, quarters(), nil)
	f.Add(withExif(b.Bytes(), binary.LittleEndian, 6))
	f.Add(withExif(b.Bytes(), binary.BigEndian, 3))
	f.Fuzz(func(t *testing.T, sent []byte) {
		if c, _, err := image.DecodeConfig(bytes.NewReader(sent)); err == nil && c.Width*c.Height > 1<<20 {
			t.Skip() // it takes long
		}
		if n := orientation(sent); n < 0 || n > 0xFFFF {
			t.Error(n)
		}
		_, clean, err := Clean(sent)
		if err != nil {
			return
		}
		if _, _, err := image.Decode(bytes.NewReader(clean)); err != nil ||
			bytes.Contains(clean, []byte("Exif\x00\x00")) {
			t.Errorf("what is kept: %v", err)
		}
	})
}
