package photograph

import (
	"bytes"
	"encoding/binary"
)

// orientation is how a JPEG says that it is to be turned, from 1 to 8; 1 where it says nothing that can be read.
// Cameras write it beside the time and the place, in the segment of Exif, which is a TIFF file of its own.
func orientation(file []byte) int {
	exif := exifOf(file)
	order, ok := byteOrder(exif)
	if !ok || len(exif) < 8 {
		return 1
	}
	at := int64(order.Uint32(exif[4:]))
	if at+2 > int64(len(exif)) {
		return 1
	}
	entries := exif[at+2:]
	for range order.Uint16(exif[at:]) {
		const size, tag, short = 12, 0x0112, 3
		if len(entries) < size {
			return 1
		}
		if order.Uint16(entries) == tag && order.Uint16(entries[2:]) == short {
			return int(order.Uint16(entries[8:]))
		}
		entries = entries[size:]
	}
	return 1
}

func byteOrder(tiff []byte) (binary.ByteOrder, bool) {
	switch {
	case bytes.HasPrefix(tiff, []byte("II*\x00")):
		return binary.LittleEndian, true
	case bytes.HasPrefix(tiff, []byte("MM\x00*")):
		return binary.BigEndian, true
	}
	return nil, false
}

// exifOf is the TIFF file within a JPEG, or nil.
func exifOf(file []byte) []byte {
	const (
		begins = 2 // the mark of the file
		app1   = 0xE1
		scan   = 0xDA // from here on there is the picture
	)
	for at := begins; at+4 <= len(file) && file[at] == 0xFF && file[at+1] != scan; {
		size := int(binary.BigEndian.Uint16(file[at+2:])) // itself included
		if size < 2 || at+2+size > len(file) {
			return nil
		}
		if body, ok := bytes.CutPrefix(file[at+4:at+2+size], []byte("Exif\x00\x00")); ok && file[at+1] == app1 {
			return body
		}
		at += 2 + size
	}
	return nil
}
