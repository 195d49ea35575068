// Package photograph makes of a photograph that somebody sends one that can be kept: it is decoded and encoded anew, so
// that nothing is in it but what is to be seen, and no place, camera or owner.
package photograph

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
)

// What is taken.
const (
	MostBytes  = 16 << 20
	MostPixels = 40_000_000 // decoded, each takes four bytes
)

// quality is that of the JPEG that is kept: what a loupe shows is still there.
const quality = 92

// ErrKind says that something is no photograph that is taken.
var ErrKind = errors.New("a photograph is a JPEG or PNG file")

// Clean decodes a JPEG or PNG and encodes it anew, upright. Errors say what is wrong in words for who sent it.
func Clean(sent []byte) (media string, clean []byte, err error) {
	if len(sent) > MostBytes {
		return "", nil, fmt.Errorf("a photograph may have %d MiB", MostBytes>>20)
	}
	config, kind, err := image.DecodeConfig(bytes.NewReader(sent))
	switch {
	case err != nil || kind != "jpeg" && kind != "png":
		return "", nil, ErrKind
	case config.Width < 1 || config.Height < 1 || config.Width > MostPixels/config.Height:
		return "", nil, fmt.Errorf("a photograph may have %d million pixels; this one has %d by %d",
			MostPixels/1_000_000, config.Width, config.Height)
	}
	picture, _, err := image.Decode(bytes.NewReader(sent))
	if err != nil {
		return "", nil, fmt.Errorf("the file is damaged: %w", err)
	}
	var out bytes.Buffer
	if kind == "png" {
		err = png.Encode(&out, picture)
		return "image/png", out.Bytes(), err
	}
	err = jpeg.Encode(&out, upright(picture, orientation(sent)), &jpeg.Options{Quality: quality})
	return "image/jpeg", out.Bytes(), err
}

// upright turns a picture as its orientation says: 1 as it is; 3 by half a turn, 6 a quarter to the right, 8 to the
// left; 2, 4, 5 and 7 are mirrored as well.
func upright(p image.Image, orientation int) image.Image {
	if orientation <= 1 || orientation > 8 {
		return p
	}
	b := p.Bounds()
	w, h := b.Dx(), b.Dy()
	from := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(from, from.Bounds(), p, b.Min, draw.Src)
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	if orientation >= 5 {
		to = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range h {
		for x := range w {
			i, j := turned(x, y, w, h, orientation)
			copy(to.Pix[to.PixOffset(i, j):][:4], from.Pix[from.PixOffset(x, y):][:4])
		}
	}
	return to
}

// turned is where a point goes. What row 0 and column 0 of the file are in the picture that is seen is told by the tag
// Orientation (TIFF 6.0, Adobe 1992, section 8; from memory).
func turned(x, y, w, h, orientation int) (i, j int) {
	switch orientation {
	case 2: // top, right
		return w - 1 - x, y
	case 3: // bottom, right
		return w - 1 - x, h - 1 - y
	case 4: // bottom, left
		return x, h - 1 - y
	case 5: // left, top
		return y, x
	case 6: // right, top
		return h - 1 - y, x
	case 7: // right, bottom
		return h - 1 - y, w - 1 - x
	case 8: // left, bottom
		return y, w - 1 - x
	}
	return x, y
}
