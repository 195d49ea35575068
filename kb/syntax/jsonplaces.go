package syntax

import "unicode/utf16"

var jsonEscapes = map[byte]string{'b': "\b", 'f': "\f", 'n': "\n", 'r': "\r", 't': "\t", '"': "\"", '\\': "\\",
	'/': "/"}

// jsonString matches a JSON string, and leaves at on the closing quote.
func (m *mapper) jsonString() bool {
	m.at++
	for m.at < len(m.src) && m.src[m.at] != '"' {
		text, size := string(m.src[m.at:m.at+1]), 1
		if text == `\` {
			var ok bool
			if text, size, ok = jsonEscape(m.src, m.at); !ok {
				return false
			}
		}
		if !m.take(text, size) {
			return false
		}
	}
	return true
}

// jsonEscape decodes the escape at i and returns its length in the source; a surrogate pair is one escape. It is not ok
// for what is no escape, half a surrogate pair included.
func jsonEscape(src []byte, i int) (text string, size int, ok bool) {
	if i+1 >= len(src) {
		return "", 1, false
	}
	if src[i+1] != 'u' {
		text, ok = jsonEscapes[src[i+1]]
		return text, 2, ok
	}
	r, ok := hexAt(src, i+2, 4)
	if !ok || !utf16.IsSurrogate(r) {
		return string(r), 6, ok
	}
	if i+7 < len(src) && src[i+6] == '\\' && src[i+7] == 'u' {
		low, ok := hexAt(src, i+8, 4)
		if pair := utf16.DecodeRune(r, low); ok && pair != '\uFFFD' {
			return string(pair), 12, true
		}
	}
	return "", 6, false
}
