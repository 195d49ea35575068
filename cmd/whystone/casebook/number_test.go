package casebook

import (
	"strings"
	"testing"
)

// TestCheckPublished checks the arithmetic of the letter against check characters that others published of ISO/IEC 7064
// MOD 11-2, which ORCID uses: 0000-0002-1825-009(7) and 0000-0002-1694-233(X) (briandunning.com/cf/1556,
// OrcidCheckDigit), 0000-0002-9079-593(X) (doi.fyicenter.com/1006619), 0000-0003-1415-926(9) (support.orcid.org's
// worksheet "ORCID Checksum digit"; its last row). All were read through a search of stored pages.
func TestCheckPublished(t *testing.T) {
	for digits, want := range map[string]int{"000000021825009": 7, "000000021694233": 10, "000000029079593": 10,
		"000000031415926": 9} {
		if got := check(digits); got != want {
			t.Errorf("%s: check value %d, published %d", digits, got, want)
		}
	}
}

// TestNumberCatchesSlips: every slip of one digit, and every swap of two unlike digits, makes the letter wrong.
func TestNumberCatchesSlips(t *testing.T) {
	for _, running := range []int{1, 9, 10, 42, 317, 1907, 20418, 999999} {
		n := Number(2031, running)
		digits, letter := strings.ReplaceAll(n[:len(n)-2], "-", ""), n[len(n)-1:]
		wrong := func(changed string) {
			if number, ok, err := ParseNumber(changed[:4] + "-" + changed[4:] + "-" + letter); ok && err == nil {
				t.Errorf("%s is taken for %s", number, n)
			}
		}
		for i := range digits {
			for d := byte('0'); d <= '9'; d++ {
				if d != digits[i] {
					wrong(digits[:i] + string(d) + digits[i+1:])
				}
			}
			for k := i + 1; k < len(digits); k++ {
				if digits[i] != digits[k] {
					b := []byte(digits)
					b[i], b[k] = b[k], b[i]
					wrong(string(b))
				}
			}
		}
	}
}

// TestNumberForms: what is said aloud and typed in is understood, and a number has one form.
func TestNumberForms(t *testing.T) {
	n := Number(2031, 42)
	for _, text := range []string{n, strings.ToLower(n), strings.ReplaceAll(n, "-", " "), "2031-42" + n[8:]} {
		if got, ok, err := ParseNumber(text); got != n || !ok || err != nil {
			t.Errorf("%q is read as %q, %v, %v", text, got, ok, err)
		}
	}
	for _, text := range []string{"", "2031", "2031-42", "HQ-0101", "2031-042-" + n[8:], "2031-0-A", "31-42-A",
		"2031-42-1", "2031--A"} {
		if got, ok, _ := ParseNumber(text); ok {
			t.Errorf("%q is read as the number %s", text, got)
		}
	}
	for i, l := range letters {
		if strings.ContainsRune("BGIOQSZ0123456789", l) || strings.ContainsRune(letters[i+1:], l) {
			t.Errorf("the letter %c can be mistaken", l)
		}
	}
}
